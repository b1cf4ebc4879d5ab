"""The nouns of the catalogue: benches with their instruments, loads, classes, currency rates, prices. No logic."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Literal

from pydantic import Field

from site_builder.fields import (
    AmpereHours,
    Amps,
    Count,
    Date,
    Fraction,
    LongText,
    Multiple,
    Name,
    PositiveCount,
    PositiveFraction,
    PositiveMultiple,
    PositiveSeconds,
    PositiveWatts,
    Record,
    Seconds,
    Text,
    Volts,
    WattHours,
    Watts,
    YesNo,
    said,
)
from site_builder.grading_records import Grading
from site_builder.values import In, Stated


class Calibration(Record):
    """A check of an instrument against a better one."""

    date: Date = said("When.", ...)
    instrument: Name = said("Which instrument.", ...)
    against: Text = said("Against what.", ...)
    found: Text | None = said("What was found.")


class Instrument(Record):
    """One instrument (or one range of it) and its limits; each period between calibrations is a bench of its own.

    Limits are half-widths that the error never exceeds. Those in proportion to the reading are one error for all tests
    of the bench; the others are an offset, new in each test unless the bench is never zeroed.
    """

    title: Text | None = said("What it is, in words.")
    measures: Literal[
        "current", "voltage", "temperature", "charge", "energy", "power", "soc", "mass", "length", "time"
    ] = said("What it measures; its limits are in A, V, °C, Ah, Wh, W, fraction, kg, mm or s.", ...)
    of_reading: Fraction | None = said('Limit in proportion to the reading, such as "0.5 %".')
    offset: Multiple | None = said("Limit of the zero offset, in the instrument's unit.")
    of_range: Fraction | None = said("Limit in proportion to the range.")
    range: Multiple | None = said("The range, in the instrument's unit.")
    digits: Multiple | None = said("Limit in steps of the last digit.")
    step: Multiple | None = said("Step of the display or of the log, in the instrument's unit.")
    per_k: Fraction | None = said("Change of the reading per kelvin away from 23 °C.")
    same_gain_as: Name | None = said("Another instrument whose sensor it shares, so that both err alike in proportion.")
    refresh_s: Seconds | None = said("How often the display is renewed. [s]")
    capacity_ah: AmpereHours | None = said("For a state-of-charge counter: the capacity it is set to. [Ah]")
    dead_band_a: Amps | None = said("For a counter: smaller currents are not counted. [A]")


class Column(Record):
    """One column of the bench's log files."""

    column: Text = said("Heading in the file.", ...)
    on: Name | None = said("Instrument of this bench that fills it.")
    unit: Text | None = said("Unit in the file, where it is not A, V, °C or s.")


# What instruments measure that fill a log's columns.
MEASURED_IN = {"current": "current", "voltage": "voltage", "battery_c": "temperature", "ambient_c": "temperature"}


class TimeColumn(Record):
    """The log's time stamps."""

    column: Text = said("Heading in the file.", ...)
    format: Literal["seconds", "minutes", "hours", "days", "milliseconds", "iso", "h:m:s"] = said(
        "Elapsed time in that unit; iso: ISO 8601 date and time; h:m:s: elapsed time or time of day, such as 1:02:03.",
        "seconds",
    )
    pattern: Text | None = said(
        'Stamps written otherwise, in the letters of POSIX strptime: "%d.%m.%Y %H:%M:%S", or "%m/%d/%Y %I:%M:%S %p" '
        "with AM and PM; format is left out then."
    )
    date_column: Text | None = said("Heading of the column with the date, where time and date stand apart.")


class LogFormat(Record):
    """How this bench's log files are written."""

    time: TimeColumn = said("Time stamps.", ...)
    current: Column | None = said("Current at the terminals.")
    voltage: Column | None = said("Voltage.")
    battery_c: Column | None = said("Battery temperature.")
    ambient_c: Column | None = said("Air temperature.")
    cell_current: Column | None = said("Current into the cells as the battery reports it.")
    positive: Literal["discharge", "charge"] = said("Which direction of current is positive.", "discharge")
    separator: Literal[",", ";", "tab"] = said("Between columns.", ",")
    decimal: Literal[".", ","] = said("Decimal sign.", ".")
    thousands: Literal[",", ".", " ", "'"] | None = said("What stands between thousands, where something does.")
    encoding: Literal["utf-8", "utf-16", "windows-1252"] = said(
        "How letters are stored; a file that starts with a byte order mark says so itself.", "utf-8"
    )
    heading_line: PositiveCount = said("Line of the file with the headings.", 1)
    rows_from_line: PositiveCount | None = said("Line of the first row, where it is not the one after the headings.")
    interval_s: PositiveSeconds = said("Time between rows. [s]", ...)
    hold: Literal["linear", "previous"] = said(
        "previous: a row is written on change and holds until the next.", "linear"
    )
    heartbeat_s: Seconds | None = said("With hold previous: longest time without a row. [s]")


class ChainPoint(Record):
    """Power into an inverter for a power out of it."""

    ac_w: PositiveWatts = said("Out, at the load. [W]", ...)
    dc_w: PositiveWatts = said("In, at the battery. [W]", ...)


class Inverter(Record):
    """What stands between the battery and loads at mains voltage."""

    title: Text | None = said("What it is, in words.")
    idle_w: Watts = said("Power it draws without a load. [W]", ...)
    points: tuple[ChainPoint, ...] = said("Measured points.", ())
    cut_off_v: Volts | None = said("Battery voltage at which it stops. [V]")
    continuous_w: Watts | None = said("Power it can give for long. [W]")
    standby_w: Watts | None = said("Power it draws in a standby mode, where it has one. [W]")
    nominal_v: Volts | None = said("Battery voltage it is made for. [V]")


class Repeatability(Record):
    """Standard deviation of three or more repeats on this bench, as a share of the value."""

    charge: Fraction | None = said("Of Ah and Wh.")
    resistance: Fraction | None = said("Of resistances.")
    trip_time: Fraction | None = said("Of times to a trip.")
    repeats: Count | None = said("How many repeats it comes from.")


class Bench(Record):
    """A place with instruments, from a date on. Never edited: a new calibration is a new bench."""

    title: Text = said("Name shown to readers.", ...)
    tester: Text = said("Who tests there.", ...)
    since: Date = said("From when it stands like this.", ...)
    zone: Annotated[str, Field(pattern=r"^([+-](0[0-9]|1[0-4]):[0-5][0-9]|UTC)$")] = said(
        "Offset of its clock, such as +01:00.", "UTC"
    )
    zeroed: Literal["each test", "never"] = said(
        "Whether the current instrument is zeroed before each test.", "each test"
    )
    instruments: dict[Name, Instrument] = said("Instruments by name.", ...)
    calibrations: tuple[Calibration, ...] = said("Checks against better instruments.", ())
    log: LogFormat | None = said("How its log files are written.")
    inverters: dict[Name, Inverter] = said("Inverters by name.", {})
    repeatability: Repeatability | None = said("Measured repeatability.")


class Start(Record):
    """A load's inrush."""

    peak_w: Watts = said("Peak power. [W]", ...)
    duration_s: Seconds = said("For how long. [s]", ...)


class Load(Record):
    """An appliance or tool."""

    title: Text = said("Name shown to readers, such as Cold box.", ...)
    running_w: PositiveWatts = said("Power while it is on. [W]", ...)
    start: Start | None = said("Inrush.")
    duty: PositiveFraction | None = said("Share of the time it is on.")
    energy_per_use_wh: WattHours | None = said("Energy of one use. [Wh]")
    use: Text | None = said("What one use is.")
    mains: YesNo = said("Whether it needs an inverter.", True)
    nominal_v: tuple[Volts, ...] = said(
        "Battery voltages a load without an inverter runs on; 12 V if left out. [V]", ()
    )
    caution: LongText | None = said("Caution, where it is wired into a building or can hurt somebody.")


class Span(Record):
    """A half-open band: from this, up to but not including that."""

    from_: Multiple = said("From, included.", ..., alias="from")
    below: Multiple = said("Up to, not included.", ...)


class ComparisonClass(Record):
    """Units that are compared with each other."""

    title: Text = said("Name shown to readers.", ...)
    nominal_v: Span = said("Band of nominal voltage. [V]", ...)
    capacity_ah: Span = said("Band of rated capacity. [Ah]", ...)
    chemistry: tuple[Text, ...] = said("Chemistries.", ...)


class Rate(Record):
    """What one unit of a currency was worth on a day."""

    date: Date = said("When.", ...)
    currency: Annotated[str, Field(pattern=r"^[A-Z]{3}$")] = said("ISO 4217 code.", ...)
    worth: PositiveMultiple = said("Worth of one, in the catalogue's currency.", ...)


class Rates(Record):
    """The catalogue's currency and what others were worth."""

    currency: Annotated[str, Field(pattern=r"^[A-Z]{3}$")] = said("The catalogue's currency, ISO 4217.", ...)
    source: Text | None = said("Where the rates come from.")
    rates: tuple[Rate, ...] = said("Dated rates.", ())


class Change(Record):
    """A correction that touches many units."""

    date: Date = said("When.", ...)
    what: Literal["bench", "grading", "method", "load", "code"] = said("What was corrected.", ...)
    units: tuple[Name, ...] = said("Units it touches; all where left out.", ())
    bench: Name | None = said("Bench it touches.")
    note: LongText = said("What, in a sentence or two.", ...)


class Price(Record):
    """One row of prices.csv."""

    date: Date = said("When.", ...)
    unit: Name = said("Unit.", ...)
    amount: Annotated[Stated, In("", 0.01, 10_000_000, "check the amount")] = said("How much.", ...)
    currency: Annotated[str, Field(pattern=r"^[A-Z]{3}$")] = said("ISO 4217 code.", ...)
    kind: Literal["paid", "listed", "sale"] = said("paid, listed or sale.", ...)
    seller: Text = said("Kind of seller, such as a chandlery.", ...)


@dataclass(frozen=True, kw_only=True, slots=True)
class Catalogue:
    """What holds for every unit."""

    benches: Mapping[str, Bench] = field(default_factory=dict)
    loads: Mapping[str, Load] = field(default_factory=dict)
    classes: Mapping[str, ComparisonClass] = field(default_factory=dict)
    rates: Rates = field(default_factory=lambda: Rates(currency="EUR"))
    changes: tuple[Change, ...] = ()
    prices: tuple[Price, ...] = ()
    grading: Grading | None = None
