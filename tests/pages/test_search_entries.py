"""What the search can find, and what stays out of its list."""

from __future__ import annotations

from pathlib import Path

import pytest

from site_builder.build import derive_all
from site_builder.derived import Derived
from site_builder.pages.search_entries import Entry, search_entries

ROOT = Path(__file__).parents[2]
PAGES = {
    "index.md": "# All batteries\n",
    "methods/index.md": '# Method\n\n<p class="lead">It is <b>done</b>; see [it](x.md)</p>\n\n## What `holds` {#all}\n',
    "methods/cold.md": "---\nhide: [toc]\n---\n# In the cold\n\n## Heaters\n",
    "loads/table-saw.md": "# Table saw\n",
    "bare.md": "no title\n",
}


@pytest.fixture(scope="module")
def demo() -> Derived:
    return derive_all(ROOT / "results", ROOT / "catalogue").derived


@pytest.fixture(scope="module")
def entries(demo: Derived) -> dict[str, Entry]:
    return {entry[0]: entry for entry in search_entries(demo, PAGES)}


def test_every_battery_is_found_by_name_with_its_answer(demo: Derived, entries: dict[str, Entry]) -> None:
    for unit in demo.units:
        _, title, answer, _ = entries[f"units/{unit.id}/"]
        assert title == f"{unit.record.unit.maker} {unit.record.unit.model}"
        assert answer
        pieces = [answer] if isinstance(answer, str) else answer
        assert "<" not in "".join(piece if isinstance(piece, str) else "".join(piece) for piece in pieces)


@pytest.mark.parametrize(
    ("unit", "feature"),
    [
        ("ferngate-f90", "heats itself, self-heating, has a heater"),
        ("ferngate-f90", "has a phone app"),
        ("ferngate-f90", "12.8 V, 90 Ah, LiFePO4, LFP, lithium iron phosphate"),
        ("ferngate-f90", "tripped or did not start: table saw"),
        ("ludgill-agm100", "12 V, 100 Ah, lead-acid AGM"),
        ("gannetholm-g24", "withdrawn"),
        ("thrushby-t100", "died"),
        ("nettle-95", "safety finding"),
    ],
)
def test_features_are_phrases(entries: dict[str, Entry], unit: str, feature: str) -> None:
    assert feature in [" ".join(one.split()) for one in entries[f"units/{unit}/"][3].split("; ")]


def test_what_a_battery_lacks_is_not_among_its_features(demo: Derived, entries: dict[str, Entry]) -> None:
    for unit in demo.units:
        features = entries[f"units/{unit.id}/"][3]
        assert ("heats itself" in features) == (unit.record.label.heater is not None)
        assert ("phone app" in features) == bool(unit.record.label.app)


def test_a_load_it_ran_and_one_it_starts_are_told_apart(demo: Derived, entries: dict[str, Entry]) -> None:
    for unit in demo.units:
        phrases = entries[f"units/{unit.id}/"][3].split("; ")
        starts = next((one for one in phrases if one.startswith("starts, seen or projected: ")), "")
        assert ("table saw" in starts) == (
            "table-saw" in unit.result.loads and unit.result.loads["table-saw"].start == "starts"
        )


def test_other_pages_are_found_by_title_first_sentence_and_headings(entries: dict[str, Entry]) -> None:
    assert entries["methods/"] == ("methods/", "Method", "It is done; see it", "What holds")
    assert entries["methods/cold/"] == ("methods/cold/", "In the cold", "", "Heaters")
    assert entries[""][1] == "All batteries"
    assert "bare/" not in entries


def test_a_page_is_found_once_and_batteries_come_first(demo: Derived) -> None:
    addresses = [entry[0] for entry in search_entries(demo, PAGES)]
    assert len(addresses) == len(set(addresses))
    assert all(address.startswith("units/") for address in addresses[: len(demo.units)])


def test_what_the_switch_of_units_changes_stands_apart_with_its_numbers(entries: dict[str, Entry]) -> None:
    answer = entries["units/ferngate-f90/"][2]
    assert not isinstance(answer, str)
    assert [piece for piece in answer if not isinstance(piece, str)] == [
        ("6.1±0.479°C", "6.1 ± 0.5 °C"),
        ("2.6±0.479°C", "2.6 ± 0.5 °C"),
    ]
    assert "".join(piece if isinstance(piece, str) else piece[1] for piece in answer).endswith(
        "Refused charge up to 6.1 ± 0.5 °C; once it accepted, it still did at 2.6 ± 0.5 °C."
    )


def test_a_hand_written_pages_lead_keeps_what_the_switch_changes(demo: Derived) -> None:
    text = '# Frost\n\n<p class="lead">Below <data value="0°C">0 °C</data> &lt;b&gt; <b>freezes</b>.</p>\n'
    assert ("frost/", "Frost", ["Below ", ("0°C", "0 °C"), " <b> freezes."], "") in search_entries(
        demo, {"frost.md": text}
    )
