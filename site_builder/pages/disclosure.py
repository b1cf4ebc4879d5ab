"""Where a battery came from, and who earns from a link to it: said wherever the result is."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping

from markupsafe import Markup

from site_builder.catalogue_records import Bench
from site_builder.derive.headline import date_of
from site_builder.derive.reported import is_reported
from site_builder.derived import DerivedUnit
from site_builder.pages.safe_text import link, sentence
from site_builder.pages.text import counted, day, listed, month
from site_builder.records import Offer, ResultsFile, Sample

PAYS = {
    "tester": "The tester earns from purchases through this link",
    "club": "The club earns from purchases through this link",
    "nobody": "Nobody here earns from this link",
}


def provenance(unit: DerivedUnit, benches: Mapping[str, Bench]) -> Markup:
    """How it was obtained, when and where it was tested, and that another sample may differ."""
    record = unit.record
    samples = list(record.samples.values())
    said = [
        sentence("{}.", obtained(sample, name if len(samples) > 1 else "")) for name, sample in record.samples.items()
    ]
    kept = [test for test in record.tests.values() if not is_reported(test)]
    dates = sorted(date for test in kept if (date := date_of(test, record)))
    names = list(dict.fromkeys(test.bench or record.bench or "" for test in kept))
    titles = [benches[name].title for name in names if name in benches]
    if dates:
        first, last = (month(d.year, d.month) for d in (dates[0], dates[-1]))
        when = first if first == last else f"{first} to {last}"
        where = sentence(" on the {}", listed([after_the(title) for title in titles])) if titles else ""
        # A video's date only says that the test was made before.
        tested = "Tested {}{}." if any(test.day for test in kept) else "Tested by {}, when its video was shown{}."
        said.append(sentence(tested, when, where))
    if not samples:
        said.append(Markup("How it was obtained was not recorded."))
    if record.tests:
        said.append(_sample_count(max(len(samples), 1)))
    return Markup(" ").join(said)


def _sample_count(count: int) -> Markup:
    """How many samples, and that another may differ."""
    if count == 1:
        return Markup("One sample; another may differ.")
    return sentence("{}; others may differ.", counted(count, "sample").capitalize())


def lower(title: str) -> str:
    """A title inside a sentence."""
    return title[:1].lower() + title[1:]


def after_the(title: str) -> str:
    """A title behind a "the", without one of its own.

    >>> after_the("The hut's bench"), after_the("Shed bench")
    ("hut's bench", 'shed bench')
    """
    return lower(title).removeprefix("the ")


def obtained(sample: Sample, name: str) -> Markup:
    """How one sample was obtained; `name` where there are several."""
    which = sentence("Sample {}: ", name) if name else ""
    has_giver = sample.obtained in {"bought", "borrowed", "given"}
    from_ = sentence(" from {}" if has_giver else " ({})", sample.from_) if sample.from_ else ""
    asked = sentence(", {} asked for", sample.asked_for) if sample.asked_for else ""
    how = sample.obtained if name else sample.obtained.capitalize()
    return sentence("{}{}{}{}", which, how, from_, asked)


def in_force(record: ResultsFile, as_of: dt.date) -> list[Offer]:
    """The offers that hold on the catalogue's date."""
    return [offer for offer in record.offers if offer.until is None or offer.until >= as_of]


def offers_words(record: ResultsFile, as_of: dt.date) -> Iterator[Markup]:
    """A link that somebody earns from, with who does in words right beside it; gone after its last day."""
    for offer in in_force(record, as_of):
        yield sentence("{} ({}{}).", _offer_link(offer), PAYS[offer.pays], _offer_code(offer))


def _offer_link(offer: Offer) -> Markup:
    return link(offer.url, "Where it is sold", rel="sponsored nofollow noopener")


def _offer_code(offer: Offer) -> Markup:
    until = sentence(" until {}", day(offer.until)) if offer.until else Markup("")
    return sentence("; code {}{}", offer.code, until) if offer.code else until
