"""Evidence that does not fit together: each a problem with a way out, or words in its own place on the page.

Never a blank, a NaN or a traceback. The words are this project's own; what makes each input bad is common practice, no
source.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from site_builder.build import Checked, derive_all
from site_builder.frames import frames_of
from site_builder.pages import render_pages
from tests.pages.test_pages import text_of
from tests.small_project import Project, small_project

INSTRUMENTS = """\
    plug: {measures: power, of_reading: "2 %"}
    energy: {measures: energy, of_reading: "0.5 %"}
    app: {measures: soc, offset: 0.02, step: 0.01}
"""
CAPACITY = (
    "full: {kind: capacity, date: 2026-05-06, counted_ah: 92, counted_wh: 1177, duration_s: 306 min, ended_by: bms}"
)


@pytest.fixture
def project(tmp_path: Path) -> Project:
    made = small_project(tmp_path)
    benches = made.catalogue / "instruments.yml"
    text = benches.read_text(encoding="utf-8")
    benches.write_text(text.replace("  log:\n", f"{INSTRUMENTS}  log:\n", 1), encoding="utf-8")
    made.change("label: {chemistry", "label: {continuous_discharge_a: 90, heater: {on_below_c: 2}, chemistry")
    return made


def checked(project: Project, *tests: str) -> Checked:
    """The unit with these tests besides its logged discharge."""
    text = (project.results / "tarn-t90.yml").read_text(encoding="utf-8")
    project.unit(text + "".join(f"  {test}\n" for test in tests))
    return derive_all(project.results, project.catalogue)


def page(found: Checked) -> str:
    """The unit's page as text."""
    return text_of(render_pages(found.derived, frames_of(found.derived))["units/tarn-t90.md"])


HELD, TRIPPED = (
    f"{{current_a: {amps}, duration_s: {time}, held: {held}}}"
    for amps, time, held in ((150, 40, "true"), (110, 5, "false"))
)
BAD = {
    "pulses without a step": (
        ["pulses: {kind: resistance, readings: [{current_a: 20, voltage_v: 13.1}, {current_a: 20, voltage_v: 13.1}]}"],
        "Resistance cannot be computed because the current never steps; it would take voltages under two currents.",
        "",
    ),
    "a log of pulses without a step": (
        ["pulses: {kind: resistance, log: run.csv}"],
        "Resistance cannot be computed because the current never steps; it would take voltages under two currents.",
        "",
    ),
    "voltage that rises with the current": (
        ["pulses: {kind: resistance, readings: [{current_a: 20, voltage_v: 13.1}, {current_a: 90, voltage_v: 13.2}]}"],
        "Resistance cannot be computed because the voltage does not fall under more current; it would take",
        "",
    ),
    "a heater's phase that is not in the log": (
        ["cold: {kind: cold_charge, ambient_c: -10, charger: {set_a: 20}, log: cold.csv}"],
        "The heater's phase is not in the log; it would take a start below its switch-on temperature.",
        "",
    ),
    "trips that contradict": (
        [f"steps: {{kind: overload, points: [{HELD}, {TRIPPED}]}}"],
        "; another time it carried 150",
        "trips-contradict",
    ),
    "more out than in": (
        [CAPACITY, "refill: {kind: charge, after: full, counted_ah: 85, counted_wh: 1190}"],
        "Efficiency cannot be computed because more came out than this refill put in; it would take",
        "efficiency-above-one",
    ),
    "a state of charge that rises in a discharge": (
        ['galley: {kind: load_run, load: kettle, inverter: galley, outcome: ran, soc: {start: "60 %", end: "80 %"}}'],
        "energy from the state of charge cannot be computed because it did not fall; it would take a log or a counter.",
        "",
    ),
    "a state of charge that rises on the shelf": (
        ['shelf: {kind: standby, started: 2026-05-20, ended: 2026-06-20, soc: {start: "90 %", end: "97 %"}}'],
        "Loss a month cannot be computed because the state of charge rose; it would take one instrument.",
        "",
    ),
    "a run longer than the energy allows": (
        ["long: {kind: load_run, load: kettle, inverter: galley, outcome: ran, power_w: 900, duration_s: 5 h}"],
        "long: the run took",
        "run-longer-than-energy",
    ),
    "a cold reading that is words alone": (
        ["cold: {kind: cold_charge, readings: [{at: '10:30', note: frost on the case}]}"],
        "frost on the case",
        "",
    ),
    "tests in which nothing was written down": (
        [
            "steps: {kind: overload}",
            "cold: {kind: cold_charge}",
            "cells: {kind: balance, at: full}",
            "pulses: {kind: resistance}",
            "fill: {kind: charge}",
            "run-2: {kind: capacity, ended_by: bms}",
        ],
        "what it carries is not known; it would take the current and the seconds of each step",
        "",
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_told_in_its_own_place(name: str, project: Project) -> None:
    tests, words, code = BAD[name]
    rows = "\n".join(f"{t},-19.9,14.1" for t in range(0, 4000, 10))
    project.log(f"s,A,V\n{rows}\n", "cold.csv")
    found = checked(project, *tests)
    assert [one.code for one in found.problems if one.code == code] == ([code] if code else [])
    assert all(one.hint for one in found.problems)
    text = page(found)
    assert words in text, text
    assert not re.search(r"\b(nan|inf|None)\b", text)
