"""What a unit's page costs in a build of the whole site, at 100 and at 1,000 units; no logs, so that pages weigh."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Sequence
from pathlib import Path

from site_builder.build import derive_all
from site_builder.frames import frames_of
from site_builder.pages import render_pages
from site_builder.publish.data import render_data_files
from tests.benchmarks.measure import LINES, SET_AT_MS, Row, loader_s, program_cpu_s, timed

ROOT = Path(__file__).parents[2]
FEW, MANY = 100, 1_000
BUDGET_MS = 15.0
BUDGET_GROWTH = 1.1

# Every section of a page has something to show; the charts that need no log are drawn too.
UNIT = """\
unit: {{id: unit-{n:04}, maker: Quern, model: Q{n}}}
bench: boathouse-2026
samples: {{a: {{obtained: bought, date: 2026-05-04, from: a chandlery, keeps: tester, ties: none, firmware: "1.{n}"}}}}
label:
  chemistry: LiFePO4
  nominal_v: {volts}
  capacity_ah: {rated}
  continuous_discharge_a: 100
  discharge: {{min_c: -20, max_c: 60, end_v: 10.0}}
  charge: {{max_a: 50, voltage_v: 14.4, min_c: 0}}
  surge: [{{current_a: 200, duration_s: 3}}]
  heater: {{on_below_c: 2, off_above_c: 8, min_charge_a: 7}}
  cycles: {{count: 4000, depth: 0.8, to: 0.8}}
  mass_kg: 10.4
  size_mm: {{length: 307, width: 169, height: 215}}
  ingress: IP65
  app: true
videos: {{first: {{url: "https://example.org/v/{n}", title: The Q{n} on the bench, date: 2026-05-30}}}}
view: Quiet and light, and the heater does its work. I would want a larger one for the saw.
tests:
  five-hours:
    kind: capacity
    date: 2026-05-06
    ambient_c: 21
    current_a: 20
    counted_ah: {ah:.1f}
    counted_wh: {wh:.0f}
    started: "9:00"
    ended: "14:05"
    ended_by: bms
    before: {{charged_to_v: 14.4, tail_a: 4, rest_h: 2}}
    video: {{in: first, from: "3:05", to: "5:40"}}
  ice-bath:
    kind: cold_charge
    date: 2026-05-08
    ambient_c: about -10
    charger: {{set_v: 14.4, set_a: 20}}
    readings:
      - {{at: "13:40", battery_c: -14, where: case, charge: refused, read_on: probe}}
      - {{at: "13:55", current_a: 5.7, heater: true, read_on: clamp}}
      - {{at: "14:38", battery_c: 6.3, where: case, charge: accepted, heater: false, read_on: probe}}
  galley:
    kind: load_run
    load: [induction-hob, kettle]
    inverter: galley
    date: 2026-05-15
    outcome: ran
    soc: {{start: "89 %", end: "60 %"}}
    read_on: app
    duration_s: about 20 min
    power_w: about 900
  saw: {{kind: load_run, load: table-saw, inverter: galley, date: 2026-05-15, outcome: tripped, by: bms, current_a: 127,
    read_on: clamp, duration_s: 3 to 5, came_back: {{how: by itself, after_s: about 30}}}}
  steps:
    kind: overload
    date: 2026-05-18
    ambient_c: 20
    read_on: clamp
    soc: over 0.7
    points:
      - {{current_a: 110, duration_s: over 30 min, held: true, rest_before_s: 15 min}}
      - {{current_a: 124, duration_s: 4.0, held: false, rest_before_s: 15 min}}
      - {{current_a: 210, duration_s: 0.3, held: false, rest_before_s: 15 min}}
  pulses:
    kind: resistance
    date: 2026-05-19
    read_on: shunt
    soc: "80 %"
    battery_c: 22
    readings:
      - {{current_a: 18.01, voltage_v: 13.247, after_s: 10}}
      - {{current_a: 90.16, voltage_v: 12.982, after_s: 1}}
  shelf: {{kind: standby, started: 2026-05-20, ended: 2026-06-20, soc: {{start: "100 %", end: "97 %"}}, read_on: app}}
  unboxing: {{kind: build, date: 2026-05-04, documents: [charge limits], app_works: true, mass_kg: 10.38}}
history: [{{date: 2026-05-30, what: added, note: First results.}}]
"""
CLASSES = ((12.8, 100), (12.8, 200), (25.6, 100))


def write_project(folder: Path, units: int) -> Path:
    """This repository's catalogue and pages with invented units in three classes."""
    shutil.copytree(ROOT / "catalogue", folder / "catalogue")
    shutil.copy(ROOT / "mkdocs.yml", folder)
    (folder / "catalogue" / "changes.yml").unlink(missing_ok=True)  # speaks of the demo's units
    (folder / "results").mkdir()
    for n in range(units):
        volts, rated = CLASSES[n % len(CLASSES)]
        ah = rated * (0.9 + n % 23 / 200)
        text = UNIT.format(n=n, volts=volts, rated=rated, ah=ah, wh=ah * volts * 1.01)
        (folder / "results" / f"unit-{n:04}.yml").write_text(text, encoding="utf-8")
    return folder


def build_cpu_s(folder: Path, units: int, rounds: int) -> float:
    """CPU time of a build of so many units, the least of some: nothing but the machine makes it longer. [s]"""
    project = write_project(folder / f"{units}", units)
    command: Sequence[str] = [sys.executable, "-m", "site_builder", "build", "--site", str(folder / f"site-{units}")]
    return min(program_cpu_s(command, project, {"PYTHONPATH": str(ROOT)}) for _ in range(rounds))


def stages_s(project: Path) -> dict[str, float]:
    """CPU time of the builder's own stages, mkdocs left out. [s]"""
    results, catalogue = project / "results", project / "catalogue"
    evidence_s, checked = timed(lambda: derive_all(results, catalogue))
    tables_s, frames = timed(lambda: frames_of(checked.derived))
    pages_s, _ = timed(lambda: render_pages(checked.derived, frames))
    data_s, _ = timed(lambda: render_data_files(checked.derived, frames))
    return {"evidence": evidence_s, "pages as text": pages_s, "tables and data": tables_s + data_s}


def stages_ms(folder: Path) -> dict[str, float]:
    """What one more unit adds to each stage, between 100 and 300 units. [ms]"""
    few, more = write_project(folder / "few", FEW), write_project(folder / "more", 3 * FEW)
    stages_s(few)  # imports and caches
    before, after = stages_s(few), stages_s(more)
    return {name: (after[name] - before[name]) / (2 * FEW) * 1e3 for name in after}


def rows(folder: Path) -> list[Row]:
    """Cost of a page at both sizes, above a build of one unit, and how much it grows."""
    stages = ", ".join(f"{name} {ms:.1f} ms" for name, ms in stages_ms(folder).items())
    floors, seconds = [], []
    for units, rounds in ((1, 4), (FEW, 4), (MANY, 2)):
        floors.append(loader_s())
        seconds.append(build_cpu_s(folder, units, rounds))
    one, few, many = seconds
    at_few, at_many, floor = (few - one) / (FEW - 1), (many - one) / (MANY - 1), min(*floors, loader_s())
    budget = BUDGET_MS / SET_AT_MS
    what = f"a unit's page over yaml.load of {LINES} lines, in a site of"
    took = f"{one:.1f} s of CPU with 1 unit, {few:.1f} s with {FEW}, {many:.1f} s with {MANY:,}"
    return [
        Row(
            what=f"{what} {FEW}",
            value=at_few / floor,
            unit="×",
            budget=budget,
            note=f"{at_few * 1e3:.1f} ms against {floor * 1e3:.2f} ms: {stages}; mkdocs the rest",
        ),
        Row(what=f"{what} {MANY:,}", value=at_many / floor, unit="×", budget=budget, note=f"{at_many * 1e3:.1f} ms"),
        Row(
            what="the second over the first",
            value=at_many / at_few,
            unit="×",
            budget=BUDGET_GROWTH,
            note=f"the whole build takes {took}",
        ),
    ]
