"""Pages of former addresses; that they lead on in a browser is tested in tests/browser."""

from pathlib import Path

import html5lib

from site_builder.build import Site, derive_all, render_site
from tests.small_project import UNIT, log_text, small_project

HTML = "{http://www.w3.org/1999/xhtml}"


def test_a_former_id_has_a_page_that_leads_on(site: Site) -> None:
    text = site.files["units/thrushby-100/index.html"]
    assert isinstance(text, str)
    page = html5lib.parse(text, treebuilder="etree")
    link = page.find(f".//{HTML}link[@rel='canonical']")
    assert link is not None
    assert link.get("href") == "https://bench.hollinwater.example/units/thrushby-t100/"
    assert 'content="0; url=../thrushby-t100/"' in text
    assert page.findtext(f".//{HTML}title") == "Thrushby T100 has moved"


def test_nothing_leads_to_what_is_embargoed(tmp_path: Path) -> None:
    text = UNIT.replace("model: T90", "model: T90, former_ids: [tarn-90], status: embargoed")
    project = small_project(tmp_path)
    project.unit(text)
    project.log(log_text())
    site = render_site(project.results, project.catalogue)
    assert not [uri for uri in site.files if "tarn" in uri]


def test_an_address_that_another_unit_has_is_refused(tmp_path: Path) -> None:
    project = small_project(tmp_path)
    project.unit(UNIT.replace("model: T90", "model: T90, former_ids: [tarn-t100]"))
    project.unit(UNIT.replace("tarn-t90", "tarn-t100"), "tarn-t100.yml")
    for unit in ("tarn-t90", "tarn-t100"):
        project.log(log_text(), unit=unit)
    codes = {problem.code for problem in derive_all(project.results, project.catalogue).problems}
    assert "id-twice" in codes
