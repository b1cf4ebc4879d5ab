"""A project of two pages of YAML, for tests that change one thing in it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

BENCHES = """\
quay:
  title: Quay bench
  tester: Ines Hallam
  since: 2026-01-01
  zone: "+01:00"
  instruments:
    shunt: {measures: current, of_reading: "0.5 %", offset: 0.05, step: 0.01}
    meter: {measures: voltage, of_reading: "0.1 %", step: 0.001}
    counter: {measures: charge, of_reading: "0.5 %", offset: 0.2, step: 0.1, same_gain_as: shunt}
    probe: {measures: temperature, offset: 0.5, step: 0.1}
  log:
    time: {column: s}
    current: {column: A, on: shunt}
    voltage: {column: V, on: meter}
    interval_s: 10
  inverters:
    galley: {idle_w: 10, points: [{ac_w: 100, dc_w: 120}]}
"""
LOADS = """\
bilge-pump: {title: Bilge pump, running_w: 40, mains: false}
kettle: {title: Kettle, running_w: 900}
"""
CLASSES = """\
12v-100ah:
  title: 12 V, 100 Ah class
  nominal_v: {from: 12, below: 14}
  capacity_ah: {from: 80, below: 130}
  chemistry: [LiFePO4]
"""
RATES = """\
currency: EUR
rates: [{date: 2026-01-01, currency: USD, worth: 0.9}]
"""
PRICES = """\
date,unit,amount,currency,kind,seller
2026-05-01,tarn-t90,500,EUR,paid,a chandlery
"""
UNIT = """\
unit: {id: tarn-t90, maker: Tarn, model: T90}
bench: quay
samples:
  a: {obtained: bought, date: 2026-05-01}
label: {chemistry: LiFePO4, nominal_v: 12.8, capacity_ah: 90}
tests:
  run:
    kind: capacity
    date: 2026-05-06
    battery_c: 22
    log: run.csv
    ended_by: bms
"""


def log_text(current_a: float = 18.0, hours: float = 5.0, every_s: int = 10) -> str:
    """A log in the bench's columns: a steady current at a slowly falling voltage."""
    rows = int(hours * 3600 / every_s) + 1
    lines = (f"{i * every_s},{current_a},{13.2 - 0.4 * i / rows:.4f}" for i in range(rows))
    return "\n".join(["s,A,V", *lines, ""])


@dataclass(frozen=True)
class Project:
    """Where its folders are."""

    root: Path

    @property
    def results(self) -> Path:
        """The results files."""
        return self.root / "results"

    @property
    def catalogue(self) -> Path:
        """What holds for every unit."""
        return self.root / "catalogue"

    def unit(self, text: str = UNIT, name: str = "tarn-t90.yml") -> Path:
        """Write a results file."""
        path = self.results / name
        path.write_text(text, encoding="utf-8")
        return path

    def change(self, old: str, new: str, name: str = "tarn-t90.yml") -> None:
        """Replace what stands in a results file once."""
        path = self.results / name
        text = path.read_text(encoding="utf-8")
        assert text.count(old) == 1, (old, text)
        path.write_text(text.replace(old, new), encoding="utf-8")

    def log(self, text: str, name: str = "run.csv", unit: str = "tarn-t90") -> Path:
        """Write a log."""
        path = self.results / "logs" / unit / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        return path


def small_project(root: Path) -> Project:
    """The whole project, without a fault."""
    project = Project(root)
    project.results.mkdir(parents=True)
    project.catalogue.mkdir()
    files = {"instruments.yml": BENCHES, "loads.yml": LOADS, "classes.yml": CLASSES, "rates.yml": RATES}
    for name, text in files.items():
        (project.catalogue / name).write_text(text, encoding="utf-8")
    (project.results / "prices.csv").write_text(PRICES, encoding="utf-8")
    project.unit()
    project.log(log_text())
    return project
