"""The section "How does it sag, charge and stand idle?": one sentence for each, pictures of sag and of standing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from markupsafe import Markup

from site_builder import charts, pulse_charts
from site_builder.bench_tests import ResistanceTest, StandbyTest
from site_builder.catalogue_records import Bench
from site_builder.derive.results import OneResult, PulsePicture
from site_builder.derived import DerivedUnit
from site_builder.measured import Measured
from site_builder.pages import unit_questions
from site_builder.pages.metric_rows import metric_rows, worked_in
from site_builder.pages.recorded import anchor, tests_of, untested
from site_builder.pages.safe_text import sentence
from site_builder.pages.samples import of_metrics
from site_builder.pages.text import THIN, counted, listed, number, quantity, significant, stated
from site_builder.pages.views import Cell, Figure, Section, Table, Words, columns
from site_builder.pages.working import working

KINDS = ("resistance", "charge", "standby", "balance")
FIGURES = (
    "dc_resistance_milliohm", "open_circuit_v", "sag_v",
    "max_current_a", "tail_a", "charged_ah", "charged_wh", "charge_efficiency", "energy_efficiency",
    "loss_per_month", "own_current_a", "cell_spread_full_mv", "cell_spread_empty_mv",
)  # fmt: skip
ASSUMED = (
    "Resistance is the fall of voltage between two currents divided by their difference, and sag that times the "
    "label's current. Efficiency compares a discharge with the refill after it."
)
DAYS_A_MONTH = 365.25 / 12


def idle_section(unit: DerivedUnit, benches: Mapping[str, Bench]) -> Section:
    """Voltage under load, charging, standing idle, cells."""
    results = [result for result in unit.result.tests.values() if result.kind in KINDS]
    rows = tuple(row for result in results for row in metric_rows(unit, result.test, FIGURES))
    figures = [one for one in (_sag_figure(unit), _pulse_figure(unit), _standing_figure(unit)) if one]
    headings = columns("Quantity", "Measured", "Of note", text={"Of note"})
    return Section(
        anchor=unit_questions.IDLE.anchor,
        heading=unit_questions.IDLE.heading,
        short=unit_questions.IDLE.short,
        says=tuple(_says(unit, results)),
        figure=figures[0] if figures else None,
        more_figures=tuple(figures[1:]),
        tables=(Table(columns=headings, rows=rows),) if rows else (),
        folds=working(
            unit,
            benches,
            worked_in(unit, [result.test for result in results], FIGURES),
            methods=("resistance", "charging"),
            assumed=ASSUMED,
        ),
    )


def _says(unit: DerivedUnit, results: Sequence[OneResult]) -> Iterator[Words]:
    """Sag, charging and standing, a sentence each; what nobody tested says what it would take."""
    known = unit.result.metrics
    kinds = Counter(result.kind for result in results)
    missing = []
    if kinds["resistance"]:
        yield from _sags(unit, known)
    else:
        missing.append("its sag; it would take two currents and a voltmeter")
    if efficiency := known.get("charge_efficiency"):
        of = of_metrics(unit, "charge_efficiency")
        yield sentence("It gave back {} of the charge that the refill after it took{}.", quantity(efficiency), of)
    elif most := known.get("max_current_a"):
        yield sentence("It took up to {} from the charger{}.", quantity(most), of_metrics(unit, "max_current_a"))
    if declared := unit.record.label.own_current_a:
        yield sentence("Its label says that it takes {} for itself.", stated(declared, "A"))
    if loss := known.get("loss_per_month"):
        of = of_metrics(unit, "loss_per_month")
        yield sentence("Standing idle it loses {} of its charge in a month{}.", quantity(loss), of)
    elif not kinds["standby"]:
        missing.append("what it loses standing still; it would take a month on the shelf")
    for result in results:
        of = sentence("{}: ", anchor(result.test)) if kinds[result.kind] > 1 else Markup("")
        yield from (sentence("{}{}{}.", of, why[:1] if of else why[:1].upper(), why[1:]) for why in result.cannot)
    if len(missing) == 2:
        yield untested("two currents and a voltmeter for its sag, and a month on the shelf for what it loses")
    elif missing:
        yield sentence("Not tested: {}.", missing[0])


def _sags(unit: DerivedUnit, known: Mapping[str, Measured]) -> Iterator[Markup]:
    claim = unit.record.label.continuous_discharge_a
    if sag := known.get("sag_v"):
        at = sentence(" under the {} that its label allows", stated(claim, "A")) if claim else ""
        yield sentence("Its voltage falls by {}{}{}.", quantity(sag), at, of_metrics(unit, "sag_v"))
    elif resistance := known.get("dc_resistance_milliohm"):
        of = of_metrics(unit, "dc_resistance_milliohm")
        yield sentence("Its voltage falls by its resistance, {}, times the current{}.", quantity(resistance), of)
    if power := known.get("end_voltage_power_w"):
        capped = ("carries_10_s_a",) if power.bound != "exact" else ()
        of = of_metrics(unit, "open_circuit_v", *capped)
        yield sentence("Down to its end voltage it can give {}{}.", quantity(power), of)


def _sag_figure(unit: DerivedUnit) -> Figure | None:
    """Voltage against current: what was read, and the line through it from no current on."""
    for name, test in tests_of(unit, ResistanceTest).items():
        metrics = unit.result.tests[name].metrics
        if "open_circuit_v" not in metrics or "dc_resistance_milliohm" not in metrics or not test.readings:
            continue
        open_v, slope = metrics["open_circuit_v"].value, metrics["dc_resistance_milliohm"].value / 1000
        read = [(one.current_a.best, one.voltage_v.best) for one in test.readings]
        claim = unit.record.label.continuous_discharge_a
        end = max([amps for amps, _ in read] + ([claim.best] if claim else []))
        spread = metrics["open_circuit_v"].expanded or 0.0
        chart = charts.falling(
            [(0.0, open_v), (end, open_v - slope * end)],
            [(0.0, open_v, open_v - spread, open_v + spread), *((amps, volts, volts, volts) for amps, volts in read)],
            ("A", "V"),
        )
        rows = [(0.0, open_v), *read]
        return _figure(
            "sag", "Voltage under each current, and at none by the line through them", chart, rows, ("A", "V")
        )
    return None


def _pulse_figure(unit: DerivedUnit) -> Figure | None:
    """The first log in which pulses were found: its rows, and between which of them each pulse was read."""
    for result in unit.result.tests.values():
        if result.pulses is not None:
            count = counted(len(result.pulses.found), "pulse").capitalize()
            where = "shaded, from the last row before the step to the row that was read"
            return Figure(
                id="pulses",
                says=sentence("{} found in the log: {}", count, where),
                description="Voltage and current against time; the numbers of each pulse are in the table below.",
                chart=pulse_charts.pulses(result.pulses),
                table=_pulse_table(result.pulses, result.test),
            )
    return None


def _pulse_table(picture: PulsePicture, test: str) -> Table:
    """Each pulse before and under its step."""
    rows = []
    for before, under in picture.found:
        amps = [f"{significant(float(picture.current_a[row]))}{THIN}A" for row in (before, under)]
        volts = [f"{number(round(float(picture.voltage_v[row]), 3))}{THIN}V" for row in (before, under)]
        at = f"{significant(float(picture.time_s[before]))}{THIN}s"
        rows.append(tuple(Cell(words=words) for words in (at, *amps, *volts)))
    limits = ((picture.limits_a, "current", "A"), (picture.limits_v, "voltage", "V"))
    known = [f"each {what} ± {significant(one, 1)}{THIN}{of}" for one, what, of in limits if one]
    headings = columns("After", "Before", "Under it", "Voltage before", "Voltage under it")
    caption = sentence("{}{}{}", anchor(test), "; " if known else "", listed(known))
    return Table(columns=headings, rows=tuple(rows), caption=caption)


def _standing_figure(unit: DerivedUnit) -> Figure | None:
    """State of charge before and after the shelf, with what a month's loss may be off."""
    for name, test in tests_of(unit, StandbyTest).items():
        loss, time = (unit.result.tests[name].metrics.get(key) for key in ("loss_per_month", "duration_s"))
        if loss is None or time is None or test.soc is None:
            continue
        days, start, end = time.value / 86_400, test.soc.start.best * 100, test.soc.end.best * 100
        spread = (loss.expanded or 0.0) * 100 * days / DAYS_A_MONTH
        chart = charts.falling(
            [(0.0, start), (days, end)],
            [(0.0, start, start, start), (days, end, end - spread, end + spread)],
            ("days", "%"),
        )
        return _figure("standing", "Charge left, standing idle", chart, [(0.0, start), (days, end)], ("days", "%"))
    return None


def _figure(
    name: str, says: str, chart: charts.Chart, rows: Sequence[tuple[float, float]], units: tuple[str, str]
) -> Figure:
    cells = tuple(
        (Cell(words=f"{significant(x)}{THIN}{units[0]}"), Cell(words=f"{number(round(y, 3))}{THIN}{units[1]}"))
        for x, y in rows
    )
    headings = {"A": columns("Current", "Voltage"), "days": columns("After", "Charge left")}[units[0]]
    return Figure(
        id=name, says=says, description=f"{says}; the numbers are below.", chart=chart,
        table=Table(columns=headings, rows=cells),
    )  # fmt: skip
