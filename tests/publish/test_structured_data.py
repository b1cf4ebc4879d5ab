"""What a search engine reads, expanded by a JSON-LD processor, against the terms of schema.org."""

import json
import re
from typing import Any

import pytest
import rdflib

from site_builder.build import Site
from tests.conftest import ADDRESS

pytestmark = pytest.mark.filterwarnings("ignore:ConjunctiveGraph is deprecated")  # rdflib's own parser makes one

SDO = rdflib.Namespace("https://schema.org/")
# Terms with what they may belong to: schema.org, the pages of each type, read for version 29; from memory.
TERMS = {
    "Product": {"name", "brand", "model", "description", "url", "image", "additionalProperty", "review"},
    "Brand": {"name"},
    "PropertyValue": {"name", "unitText", "value", "minValue", "maxValue"},
    "Review": {"author", "datePublished", "reviewBody", "reviewRating"},
    "Rating": {"ratingValue", "bestRating", "worstRating", "ratingExplanation"},
    "Person": {"name"},
    "Organization": {"name"},
    "Dataset": {
        "name", "description", "url", "license", "isAccessibleForFree", "creator", "about", "variableMeasured",
        "distribution",
    },
    "DataDownload": {"encodingFormat", "contentUrl"},
}  # fmt: skip


def data_of(site: Site, unit: str) -> dict[str, Any]:
    found = re.search(r'<script type="application/ld\+json">(.*?)</script>', site.heads[f"units/{unit}.md"])
    assert found is not None
    document: dict[str, Any] = json.loads(found[1])
    return document


def graph_of(site: Site, unit: str) -> rdflib.Graph:
    """The statements, with the context's terms standing in the vocabulary of schema.org (no request is made)."""
    document = data_of(site, unit) | {"@context": {"@vocab": str(SDO)}}
    return rdflib.Graph().parse(data=json.dumps(document), format="json-ld")


def test_one_product_with_one_review_whose_rating_is_the_score_that_the_page_shows(site: Site) -> None:
    graph = graph_of(site, "ferngate-f90")
    product = rdflib.URIRef(f"{ADDRESS}units/ferngate-f90/#battery")
    assert (product, rdflib.RDF.type, SDO.Product) in graph
    (review,) = graph.objects(product, SDO.review)
    (rating,) = graph.objects(review, SDO.reviewRating)
    found = [str(graph.value(rating, term)) for term in (SDO.ratingValue, SDO.bestRating, SDO.worstRating)]
    assert found == ["92", "100", "0"]
    assert "<dd>92" in site.pages["units/ferngate-f90.md"]
    (author,) = graph.objects(review, SDO.author)
    assert graph.value(author, SDO.name) == rdflib.Literal("Ines Hallam")


def test_nobody_claims_more_than_one_opinion(site: Site) -> None:
    assert all("ggregateRating" not in head for head in site.heads.values())


def test_a_unit_without_a_score_has_no_review(site: Site) -> None:
    assert not list(graph_of(site, "quern-12-100").subjects(rdflib.RDF.type, SDO.Review))


def test_data_set_says_what_was_measured_under_which_licence_and_where_it_is(site: Site) -> None:
    graph = graph_of(site, "ferngate-f90")
    data = rdflib.URIRef(f"{ADDRESS}units/ferngate-f90/#data")
    measured = {str(one) for one in graph.objects(data, SDO.variableMeasured)}
    assert {"Delivered energy", "Standard warm-up", "Resistance"} <= measured
    assert str(graph.value(data, SDO.license)) == "https://creativecommons.org/licenses/by/4.0/"
    files = {str(graph.value(one, SDO.contentUrl)) for one in graph.objects(data, SDO.distribution)}
    assert {address.removeprefix(ADDRESS) for address in files} <= set(site.files)


@pytest.mark.parametrize("unit", ["ferngate-f90", "quern-12-100", "ludgill-agm100", "wendlecote-w100"])
def test_every_term_belongs_where_it_stands(site: Site, unit: str) -> None:
    def check(node: Any) -> None:
        if isinstance(node, list):
            for one in node:
                check(one)
        elif isinstance(node, dict) and "@type" in node:
            assert {name for name in node if not name.startswith("@")} <= TERMS[node["@type"]]
            check(list(node.values()))

    check(data_of(site, unit)["@graph"])


def test_planned_and_withdrawn_units_have_none(site: Site) -> None:
    for unit in ("larkstile-l200", "gannetholm-g24"):
        assert "ld+json" not in site.heads[f"units/{unit}.md"]
