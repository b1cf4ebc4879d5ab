"""Whole pages: what stands on them for each status and kind of evidence, and that no recorded text becomes markup."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import html5lib
import markdown
import pytest
import yaml

from site_builder.build import derive_all
from site_builder.charts import Kind
from site_builder.derived import Derived
from site_builder.frames import frames_of
from site_builder.nomenclature import METRICS
from site_builder.pages import render_pages
from site_builder.pages.working import KINDS
from site_builder.standing import standings
from tests.small_project import UNIT, Project, small_project

ROOT = Path(__file__).parents[2]
EXTENSIONS: list[str] = [
    next(iter(one)) if isinstance(one, dict) else one
    for one in yaml.safe_load((ROOT / "mkdocs.yml").read_text("utf-8"))["markdown_extensions"]
]


def pages_of(results: Path, catalogue: Path) -> dict[str, str]:
    derived = derive_all(results, catalogue).derived
    return render_pages(derived, frames_of(derived))


@pytest.fixture(scope="module")
def demo() -> Derived:
    return derive_all(ROOT / "results", ROOT / "catalogue").derived


@pytest.fixture(scope="module")
def demo_pages(demo: Derived) -> dict[str, str]:
    return render_pages(demo, frames_of(demo))


def html_of(page: str) -> str:
    return markdown.markdown(page.split("---\n", 2)[2], extensions=EXTENSIONS)


def text_of(page: str) -> str:
    """What a reader reads: no tags, no scripts, every kind of space a plain one."""
    tree = html5lib.parseFragment(html_of(page), treebuilder="etree", namespaceHTMLElements=False)
    for script in tree.iter("script"):
        script.text = ""
    return " ".join("".join(tree.itertext()).split())


def test_there_is_a_page_for_every_unit_and_for_every_class_that_has_one(
    demo: Derived, demo_pages: dict[str, str]
) -> None:
    assert {f"units/{unit.id}.md" for unit in demo.units} <= demo_pages.keys()
    classes = {unit.result.class_id for unit in demo.units if unit.record.unit.status == "published"}
    assert {f"classes/{class_id}.md" for class_id in classes if class_id} | {"index.md"} <= demo_pages.keys()


def test_every_page_is_valid_html_within_its_budget(demo_pages: dict[str, str]) -> None:
    for uri, page in demo_pages.items():
        html5lib.HTMLParser(strict=True).parseFragment(html_of(page))
        assert len(page.encode()) < 57_000, uri  # slimmed by the plugin; what is served is weighed in tests/browser


def test_every_figure_has_a_caption_a_description_and_its_numbers_as_a_table(demo_pages: dict[str, str]) -> None:
    kinds: set[str] = set()
    for page in demo_pages.values():
        tree = html5lib.parseFragment(html_of(page), treebuilder="etree", namespaceHTMLElements=False)
        for figure in tree.iter("figure"):
            assert "".join(figure.find("figcaption").itertext()).strip()
            says = figure.find("div").get("aria-label")
            assert says
            tables = tree if "in the tables below" in says else figure.find("details")
            assert len(list(next(tables.iter("table")).iter("tr"))) > 1
            kinds.add(re.search(r'"kind":"(\w+)"', figure.find("script").text)[1])  # type: ignore[index]
    assert kinds == set(Kind.__args__)  # type: ignore[attr-defined]


def test_headings_and_anchors_are_those_that_other_pages_link_to(demo_pages: dict[str, str]) -> None:
    page = html_of(demo_pages["units/ferngate-f90.md"])
    assert re.findall(r'<h2 [^>]*id="(\w+)"', page) == [
        "runs", "label", "carries", "cold", "idle", "build", "cost", "grade", "evidence", "cite",
    ]  # fmt: skip
    targets = set(re.findall(r'href="#([\w-]+)"', page))
    assert targets <= set(re.findall(r'id="([\w-]+)"', page))


@pytest.mark.parametrize(
    ("unit", "says"),
    [
        ("ferngate-f90", "cut off at 127 A after 3 to 5 s and came back by itself after about 30 s."),
        ("ferngate-f90", "Ran the bilge pumps for between 2.75 and 4.25 h (nobody saw it stop)."),
        ("ferngate-f90", "Bought from a chandlery, nothing asked for."),
        # What does it run, for how many hours; will it start this motor; what does it carry, for how long, and does it
        # come back; what does it do frozen, and how long until it charges; how much does it sag; what does it lose.
        ("ferngate-f90", "the cold box for 47.08 ± 0.01 h"),
        ("ferngate-f90", "borderline: the paint compressor"),
        ("ferngate-f90", "for 30 min; cut off at 124 ± 2 A after 4 s; after cutting off it came back by itself after"),
        ("ferngate-f90", "Its heater ran for 56.38 ± 0.04 min before it took charge."),
        ("ferngate-f90", "it would charge again after 46 ± 9 min, projected by the standard warm-up"),
        ("ferngate-f90", "Its voltage falls by 0.331 ± 0.019 V under the 90 A that its label allows."),
        ("ferngate-f90", "Standing idle it loses 3 ± 3 % of its charge in a month."),
        ("ferngate-f90", "a discharge from full to the end, filled at 14.4 V until 4 A, rested 2 h"),
        ("ferngate-f90", "Discharging: −20 °C to 60 °C, down to 10 V."),
        ("ferngate-f90", "Charging: from 0 °C on, at 14.4 V, up to 45 A."),
        ("ferngate-f90", "Together: up to 4 in series, up to 4 in parallel."),
        ("kelderby-k280", "in air of 20 °C, firmware 2.3"),
        ("quern-12-100", "Ran the travel kettle for 8.0 ± 0.5 min (not to the end); tripped with the paint compressor"),
        (
            "quern-12-100",
            "on one charge it would run them is not known: its energy was not measured.",
        ),
        ("quern-12-100", "It started the paint compressor; by what it carried it would start the cold box"),
        ("quern-12-100", "Cut off at about 143 A after 6 to 10 s"),
        ("quern-12-100", "whether it came back by itself nobody wrote down."),
        ("quern-12-100", "It would take a cold night, a charger and a thermometer on the case."),
        ("quern-12-100", "two currents and a voltmeter for its sag, and a month on the shelf for what it loses."),
        ("saltby-100", "(the inverter stopped first)"),
        ("quern-12-100", "Delivered about 98 Ah (read on an unnamed instrument)"),
        ("quern-12-100", "239 €, 11 April 2024, older than 12 months"),
        ("nettle-95", "Safety. Took charge into its cells at −11.4"),
        ("thrushby-t100", "Died, 9 June 2026. Sample a died"),
        ("thrushby-t100", "Two samples; others may differ."),
        ("wendlecote-w100", "The result stands because:"),
        ("larkstile-l200", "Planned; not tested yet."),
        ("gannetholm-g24", "Withdrawn. The sample turned out to be a repaired return"),
        ("otterfold-of200", "Where it is sold (The tester earns from purchases through this link)."),
    ],
)
def test_unit_page_says(demo_pages: dict[str, str], unit: str, says: str) -> None:
    assert says in text_of(demo_pages[f"units/{unit}.md"])


def test_a_planned_unit_has_no_results_and_a_withdrawn_one_no_figures(demo_pages: dict[str, str]) -> None:
    for unit in ("larkstile-l200", "gannetholm-g24"):
        page = demo_pages[f"units/{unit}.md"]
        assert 'class="facts"' not in page
        assert "<figure" not in page
        assert f'data-words="{unit}' not in demo_pages["index.md"]


def test_an_offer_is_gone_after_its_last_day(demo_pages: dict[str, str]) -> None:
    assert "sponsored" not in html_of(demo_pages["units/ferngate-f90.md"])
    assert "LAKE5" not in text_of(demo_pages["units/ferngate-f90.md"])
    assert 'rel="sponsored nofollow noopener"' in html_of(demo_pages["units/otterfold-of200.md"])


HOSTILE = (
    "<img src=x onerror=alert(1)> **b** [l](javascript:alert(2)) {: onclick=alert(3) } `c` | </div></script>"
    " \"' & {{ 7*7 }}"
)


def hostile_unit() -> str:
    """The small project's unit with the hostile text in every free text field that it has."""
    record: dict[str, Any] = yaml.safe_load(UNIT)
    record["unit"] |= {"maker": HOSTILE[:80], "model": HOSTILE}
    record["samples"]["a"] |= {
        "from": HOSTILE,
        "asked_for": HOSTILE,
        "keeps": HOSTILE,
        "ties": HOSTILE,
        "firmware": HOSTILE,
    }
    record["label"] |= {"certificates": [HOSTILE], "ingress": "IP65", "mass_kg": 10}
    record["view"] = HOSTILE
    record["videos"] = {"v": {"url": "https://example.org/v?a=1&b=%22", "title": HOSTILE, "date": "2026-05-30"}}
    record["offers"] = [{"url": "https://example.org/s", "code": HOSTILE, "pays": "tester"}]
    record["tests"]["run"] |= {"note": HOSTILE, "video": {"in": "v", "from": "1:00"}, "before": {"note": HOSTILE}}
    record["tests"]["steps"] = {
        "kind": "overload", "read_on": "shunt", "date": "2026-05-08",
        "points": [
            {"current_a": 100, "duration_s": 1800, "held": True, "note": HOSTILE},
            {"current_a": 130, "duration_s": 5, "held": False, "note": HOSTILE},
        ],
    }  # fmt: skip
    record["tests"]["box"] = {
        "kind": "build", "date": "2026-05-02", "documents": [HOSTILE], "accessories": [HOSTILE],
        "certificates_seen": [HOSTILE], "terminals": HOSTILE, "mass_kg": 10.1,
    }  # fmt: skip
    record["history"] = [
        {"date": "2026-06-01", "what": what, "note": HOSTILE, "found_by": HOSTILE}
        for what in ("corrected", "disputed", "died")
    ]
    record["acknowledged"] = [{"code": "log-cell", "tests": ["run"], "reason": HOSTILE}]
    return yaml.safe_dump(record, allow_unicode=True, sort_keys=False)


LOADS = {"loads/index.md", "loads/bilge-pump.md", "loads/kettle.md"}  # of the small project
ALWAYS = {
    "changes.md",
    "compare.md",
    "data/index.md",
    "priorities/index.md",
    "runtime/index.md",
    "sheets/blank.md",
    "videos.md",
}


@pytest.fixture
def project(tmp_path: Path) -> Project:
    return small_project(tmp_path / "project")


def test_no_recorded_text_becomes_markup(project: Project) -> None:
    project.unit(hostile_unit())
    for catalogue_file, key in (
        ("loads.yml", "Bilge pump"),
        ("instruments.yml", "Quay bench"),
        ("classes.yml", "12 V, 100 Ah class"),
    ):
        path = project.catalogue / catalogue_file
        path.write_text(
            path.read_text("utf-8").replace(key, yaml.safe_dump(HOSTILE).strip().replace("\n", " ")), "utf-8"
        )
    pages = pages_of(project.results, project.catalogue)
    assert set(pages) == {"index.md", "classes/12v-100ah.md", "units/tarn-t90.md", *LOADS, *ALWAYS}
    for uri, page in pages.items():
        tree = html5lib.parseFragment(html_of(page), treebuilder="etree", namespaceHTMLElements=False)
        assert not list(tree.iter("img")), uri
        assert not [name for part in tree.iter() for name in part.attrib if name.startswith("on")], uri
        hrefs = [link.get("href", "#") for link in tree.iter("a")]
        pages_of_ours = "(units|classes|compare|runtime|priorities)/"
        ours = rf"(https:|\.\./|#|{pages_of_ours}|[a-z.]+\.(csv|json)$|SHA256SUMS$|qr\.(svg|png)$)"
        assert not [href for href in hrefs if not re.match(ours, href)], uri
        assert uri in ALWAYS or HOSTILE[:20] in text_of(page), uri
        front = yaml.safe_load(page.split("---\n", 2)[1])
        assert "<" not in f"{front['title']}{front['description']}", uri


def test_an_embargoed_unit_leaves_no_trace(project: Project) -> None:
    other = (
        UNIT.replace("tarn-t90", "mere-m90")
        .replace("maker: Tarn", "maker: Mere")
        .replace("model: T90}", "model: M90, status: embargoed}")
    )
    project.unit(other, "mere-m90.yml")
    project.log((project.results / "logs" / "tarn-t90" / "run.csv").read_text("utf-8"), unit="mere-m90")
    pages = pages_of(project.results, project.catalogue)
    assert "units/tarn-t90.md" in pages
    for page in pages.values():
        assert "mere" not in page.lower()


def test_a_catalogue_without_units_still_has_its_home_page(project: Project) -> None:
    (project.results / "tarn-t90.yml").unlink()
    (project.results / "prices.csv").unlink()
    pages = pages_of(project.results, project.catalogue)
    assert set(pages) == {"index.md", *LOADS, *ALWAYS}
    assert "No batteries" in text_of(pages["index.md"])


def test_pages_do_not_depend_on_the_order_of_the_units(demo: Derived, demo_pages: dict[str, str]) -> None:
    units = tuple(reversed(demo.units))
    turned = replace(demo, units=units, standings=standings(units, demo.catalogue.grading))
    again = render_pages(turned, frames_of(turned))
    assert again["index.md"] == demo_pages["index.md"]
    assert again["classes/12v-100ah.md"] == demo_pages["classes/12v-100ah.md"]


def working_of(page: str, section: str) -> str:
    """What "Show the working" of one section unfolds."""
    part = html_of(page).partition(f'id="{section}"')[2].partition("<h2")[0]
    return " ".join(re.sub(r"<[^>]+>", " ", part.partition("<summary>Show the working</summary>")[2]).split())


@pytest.mark.parametrize(
    ("unit", "section", "unfolds"),
    [
        ("ferngate-f90", "runs", "table saw : read by hand on clamp: 127 A, 3 to 5 s; 14:48 to 14:54 of the video ."),
        (
            "ferngate-f90",
            "label",
            "capacity : capacity.csv.gz, lines 2 to 3 654; 3:05 to 5:40 of the video .",
        ),
        ("ferngate-f90", "label", "Delivered charge: repeat 0.27, shunt gain 0.21, rest 0.018 Ah"),
        ("ferngate-f90", "label", "Instruments: shunt, meter, probe, counter and energy ( their limits )."),
        ("ferngate-f90", "runs", "from 19:25 to between 22:10 and 23:40"),
        ("ferngate-f90", "cold", "The model is one lump of 1000 J a kilogram and kelvin"),
        ("ferngate-f90", "carries", "4 s: clamp gain 1.43, clamp zero 0.29"),
        ("ferngate-f90", "idle", "pulses : read by hand on shunt: 13.247 V at 18.01 A, 12.982 V at 90.16 A."),
        ("quern-12-100", "label", "run down : read by hand: counted about 98 Ah; 2:05 of the video ."),
        ("quern-12-100", "label", "Delivered charge: no ±: no instrument with known limits"),
    ],
)
def test_show_the_working_unfolds_to(demo_pages: dict[str, str], unit: str, section: str, unfolds: str) -> None:
    assert unfolds in working_of(demo_pages[f"units/{unit}.md"], section)


def test_a_title_with_an_article_of_its_own_gets_no_second_one(project: Project) -> None:
    bench = project.catalogue / "instruments.yml"
    bench.write_text(bench.read_text("utf-8").replace("title: Quay bench", "title: The quay's own bench"), "utf-8")
    loads = project.catalogue / "loads.yml"
    loads.write_text(loads.read_text("utf-8").replace("title: Kettle", "title: The kettle"), "utf-8")
    project.change(
        "ended_by: bms", "ended_by: bms\n  tea: {kind: load_run, load: kettle, outcome: ran, duration_s: 300}"
    )
    pages = pages_of(project.results, project.catalogue)
    said = text_of(pages["units/tarn-t90.md"])
    assert "on the quay's own bench" in said.replace("’", "'")
    assert not [uri for uri, page in pages.items() if "the the" in text_of(page)]


@pytest.mark.parametrize(
    ("of", "recorded", "says"),
    [
        ("test", "before: {soak_h: 14, soc: about 0.5}", ", 14 h at the test's temperature, charge about 50 %"),
        ("test", "before: {tail_a: 4, note: moved by van}", ", filled until 4 A, moved by van"),
        ("test", "voltage_start_v: 13.35, voltage_end_v: 13.32", ", 13.35 V at the start, 13.32 V at the end"),
        ("test", "voltage_end_v: over 13", ", at least 13 V at the end"),
        ("test", 'started: "2026-05-20 8:00"', "20 May 2026"),
        ("capacity", "arrangement: {parallel: 2}, ambient_c: 20", ", in air of 20 °C, 2 in parallel"),
        ("capacity", "sense: {at: shunt, resistance_milliohm: 4}", ", voltage read at the shunt, behind 4 mΩ"),
        ("capacity", "zero: {before_a: 0.02, after_a: 0.01}", ", zero read as 0.02 A and 0.01 A"),
        ("capacity", "end_v: 10.4, came_back: {how: after charging}", ", 10.4 V just before the end, came back after"),
        ("capacity", 'before: {soc: "50 %"}', "a discharge of what charge there was, charge 50 %"),
        ("capacity", "ended_by: died", "Died. It died before the end of more."),
        ("load_run, load: kettle, outcome: ran", 'duty: "30 %", peak_a: 90', ", peak 90 A, on for 30 % of the time"),
        ("charge", "charger: {set_v: 14.4, set_a: 20}", ", charger set to 14.4 V and 20 A"),
        (
            "overload",
            "points: [{current_a: 99, duration_s: 5, held: true, rest_before_s: 15 min, soc: 80 %, battery_c: 22}]",
            "; after 15 min of rest; charge 80 %; battery at 22 °C",
        ),
        ("label", "heater: {on_below_c: 5, power_w: 60}", "a heater: on below 5 °C and of 60 W"),
        ("label", "cycles: {count: over 4000}", "at least 4 000 cycles; not tested."),
        ("label", "discharge: {min_c: -20}", "Discharging: from −20 °C on."),
        ("label", "charge: {max_c: 45, max_a: 50}", "Charging: up to 45 °C, up to 50 A."),
        ("label", "in_series: 1, in_parallel: 2", "Together: none in series, up to 2 in parallel."),
    ],
)
def test_what_was_recorded_beside_the_results_is_said(project: Project, of: str, recorded: str, says: str) -> None:
    if of == "label":
        project.change("capacity_ah: 90}", f"capacity_ah: 90, {recorded}}}")
    else:
        kind = "standby" if of == "test" else of
        ended = ", ended_by: bms" if kind == "capacity" and "ended_by" not in recorded else ""
        project.change("ended_by: bms", f"ended_by: bms\n  more: {{kind: {kind}, {recorded}{ended}}}")
    said = text_of(pages_of(project.results, project.catalogue)["units/tarn-t90.md"])
    assert says in said.replace("’", "'")


def test_the_cold_tables_numbers_were_read_at_their_time(project: Project) -> None:
    """A current that was read once stands once: none beside what was seen before and after."""
    readings = (
        '[{at: "13:40", battery_c: -14, charge: refused}, {at: "13:55", current_a: 6.1, heater: true}, '
        '{at: "15:30", battery_c: 8, charge: accepted}]'
    )
    project.change("ended_by: bms", f"ended_by: bms\n  ice: {{kind: cold_charge, readings: {readings}}}")
    page = html_of(pages_of(project.results, project.catalogue)["units/tarn-t90.md"])
    table = page.partition("<th>After")[2].partition("</table>")[0]
    rows = [re.sub(r"<[^>]+>", "|", row).replace("\u202f", " ").strip("|") for row in table.split("<tr>")[1:]]
    assert [[cell for cell in row.split("|") if cell] for row in rows] == [
        ["0 min", "−14 °C", "refused"],
        ["15 min", "6.1 A"],
        ["110 min", "8 °C", "accepted"],
    ]


def test_where_rates_come_from_stands_with_the_data(project: Project) -> None:
    rates = project.catalogue / "rates.yml"
    rates.write_text(f"{rates.read_text('utf-8')}source: the harbour office\n", "utf-8")
    said = text_of(pages_of(project.results, project.catalogue)["data/index.md"])
    assert "brought to EUR by dated rates (the harbour office)." in said


def test_every_number_of_a_section_is_in_its_working(demo: Derived, demo_pages: dict[str, str]) -> None:
    """Whatever a test of these kinds derived and a section shows has its line there."""
    shown = {"capacity": "label", "cold_charge": "cold", "resistance": "idle", "charge": "idle", "standby": "idle"}
    ferngate = next(unit for unit in demo.units if unit.id == "ferngate-f90")
    missing = [
        (result.test, name)
        for result in ferngate.result.tests.values()
        if result.kind in shown and (result.kind != "capacity" or result.test == ferngate.result.headline)
        for name in result.metrics
        if METRICS[name].title in text_of(demo_pages["units/ferngate-f90.md"])
        and f"{METRICS[name].title}:" not in working_of(demo_pages["units/ferngate-f90.md"], shown[result.kind])
    ]
    # How long a test lasted and at what rate are circumstances and no results; no instrument is in the charger's label.
    circumstances = {"duration_s", "mean_current_a", "rate_it", "comparable_ah", "comparable_wh", "heater_charger_a"}
    assert [name for name in missing if name[1] not in circumstances] == []


@pytest.mark.parametrize(
    ("load", "says"),
    [
        ("table-saw", "Ran on one battery: Tolgate 100L (2.0 ± 0.5 min). Stopped on three batteries: Ferngate F90"),
        (
            "table-saw",
            "Of the others, three would start it; one would cut off while it is on; for four it is not known.",
        ),
        # 3 200 Wh through the inverter at 6 Wh a plank
        ("table-saw", "2.21 ± 0.09 h530 ± 20, ripping a two-metre plank each"),
        ("anchor-winch", "Nobody has run it on a battery here yet. Of the batteries, six would start it"),
        ("hut-circulation-pump", "Caution. This pump is wired into the building."),
        (
            "hut-lights",
            "a listed transfer switch or interlock, installed to local code by a licensed electrician.",
        ),
        ("cold-box", "Ran on one battery: Ferngate F90 (47.08 ± 0.01 h)."),
    ],
)
def test_page_of_a_load_says(demo_pages: dict[str, str], load: str, says: str) -> None:
    assert says in text_of(demo_pages[f"loads/{load}.md"])


def test_matrix_says_in_words_and_by_shape_what_was_seen_and_what_is_projected(demo_pages: dict[str, str]) -> None:
    tree = html5lib.parseFragment(
        html_of(demo_pages["loads/index.md"]), treebuilder="etree", namespaceHTMLElements=False
    )
    table = next(tree.iter("table"))
    heads = ["".join(cell.itertext()) for cell in table.find("thead").find("tr")]
    rows = {"".join(row[0].itertext()): row for row in table.find("tbody")}

    def cell(load: str, unit: str) -> tuple[str, str]:
        found = rows[load][heads.index(unit)]
        return " ".join(" ".join(found.itertext()).split()), found.get("class")

    assert cell("Cold box", "Ferngate F90") == ("ran 47.08 ± 0.01 h", "seen")
    assert cell("Table saw", "Ferngate F90") == ("tripped after 3 to 5 s", "seen")
    assert cell("Larder fridge", "Ferngate F90")[1] == "projected"
    assert cell("Larder fridge", "Ferngate F90")[0].startswith("starts 20.4")
    assert cell("Paint compressor", "Ferngate F90") == ("borderline", "projected")
    assert cell("Laptop", "Quern 12-100") == ("not known", "missing")
    link = rows["Cold box"][heads.index("Ferngate F90")].find("a")
    assert link.get("href") == "../units/ferngate-f90/#test-cold-box-days"


def test_every_load_of_a_unit_page_leads_to_its_own_page(demo: Derived, demo_pages: dict[str, str]) -> None:
    found = set(re.findall(r'href="../../loads/([\w-]+)/"', demo_pages["units/ferngate-f90.md"]))
    assert found == set(demo.catalogue.loads)


def test_every_kind_of_error_that_a_derivation_names_has_words(demo: Derived) -> None:
    unit_numbers = (one for unit in demo.units for test in unit.result.tests.values() for one in test.metrics.values())
    projected = (answer.hours for unit in demo.units for answer in unit.result.loads.values() if answer.hours)
    names = {name.partition(":")[0] for one in (*unit_numbers, *projected) for name in one.components}
    assert names <= set(KINDS)
