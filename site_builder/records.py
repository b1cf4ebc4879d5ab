"""The nouns of a results file: typed, frozen, without logic. The JSON Schema for editors is exported from here.

A field's suffix is its unit; a number may be written in any form of the value grammar. Every description is one that
an editor shows while somebody types.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from site_builder.bench_tests import OneTest, Size
from site_builder.fields import (
    MAX_NAMES,
    AmpereHours,
    Amps,
    Celsius,
    Count,
    Cycles,
    Date,
    Fraction,
    Kilograms,
    Link,
    LongText,
    Name,
    PositiveAmps,
    PositiveCycles,
    PositiveFraction,
    PositiveHours,
    PositiveVolts,
    Record,
    Seconds,
    Text,
    Volts,
    WattHours,
    Watts,
    Years,
    YesNo,
    said,
)

Status = Literal["planned", "testing", "embargoed", "published", "withdrawn"]


class Unit(Record):
    """Who the tested battery is."""

    id: Name = said("File name and address, for good: lower case, digits, hyphens.", ...)
    maker: Text = said("Maker or brand, as on the case.", ...)
    model: Text = said("Model, as on the case.", ...)
    former_ids: tuple[Name, ...] = said("Ids this unit had before; old links lead here.", (), max_length=50)
    status: Status = said("planned, testing, embargoed, published or withdrawn.", "published")
    reason: Text | None = said("Why it was withdrawn; shown on its page.")


class Sample(Record):
    """One physical battery and how the tester came by it."""

    obtained: Literal["bought", "borrowed", "given", "sent by the maker", "sent by a shop"] = said(
        "How it was obtained.", ...
    )
    date: Date | None = said("When it was obtained.")
    from_: Text | None = said("From whom, in words.", None, alias="from")
    asked_for: Text | None = said("What the giver asked for in return; 'nothing' where nothing was asked.")
    keeps: Text | None = said("Who keeps it afterwards.")
    ties: Text | None = said("Ties between tester and maker or shop; 'none' where there are none.")
    made: Text | None = said("Date of manufacture, as on the case.")
    cycles_before: Cycles | None = said("Cycles it had seen before the tests.")
    firmware: Text | None = said("BMS firmware as delivered.")
    serial: Text | None = said("Serial number, if it may be published.")


class LabelDischarge(Record):
    """Claimed limits of discharging."""

    min_c: Celsius | None = said("Lowest temperature for discharging. [°C]")
    max_c: Celsius | None = said("Highest temperature for discharging. [°C]")
    end_v: PositiveVolts | None = said("End of discharge voltage. [V]")


class LabelCharge(Record):
    """Claimed limits of charging."""

    max_a: PositiveAmps | None = said("Largest charging current. [A]")
    voltage_v: Volts | None = said("Charging voltage. [V]")
    min_c: Celsius | None = said("Lowest temperature for charging. [°C]")
    max_c: Celsius | None = said("Highest temperature for charging. [°C]")


class Surge(Record):
    """A claimed current for a claimed time."""

    current_a: PositiveAmps = said("Current. [A]", ...)
    duration_s: Seconds = said("For how long. [s]", ...)


class Heater(Record):
    """Claimed behaviour of a built-in heater."""

    on_below_c: Celsius | None = said("Heats below this temperature. [°C]")
    off_above_c: Celsius | None = said("Stops heating above this temperature. [°C]")
    min_charge_a: Amps | None = said("Smallest charger that runs it. [A]")
    power_w: Watts | None = said("Heater power. [W]")


class CycleClaim(Record):
    """A claimed cycle life."""

    count: PositiveCycles = said("Number of cycles.", ...)
    depth: PositiveFraction | None = said("Depth of discharge of each cycle.")
    to: Fraction | None = said("Share of the capacity left at the end.")


class Label(Record):
    """What case and data sheet claim."""

    chemistry: Literal["LiFePO4", "lead-acid AGM", "lead-acid gel", "lead-acid flooded", "NMC", "LTO", "sodium-ion"] = (
        said("Cell chemistry.", ...)
    )
    nominal_v: PositiveVolts = said("Nominal voltage. [V]", ...)
    capacity_ah: AmpereHours = said("Rated capacity. [Ah]", ...)
    energy_wh: WattHours | None = said("Rated energy, if stated; else nominal voltage times capacity. [Wh]")
    rated_over_h: PositiveHours | None = said(
        "Discharge time the capacity is rated for: 5 unless stated; 20 for most lead-acid. [h]"
    )
    continuous_discharge_a: PositiveAmps | None = said("Continuous discharge current. [A]")
    discharge: LabelDischarge | None = said("Limits of discharging.")
    charge: LabelCharge | None = said("Limits of charging.")
    surge: tuple[Surge, ...] = said("Claimed surge currents.", (), max_length=50)
    heater: Heater | None = said("Built-in heater; leave out where there is none.")
    own_current_a: Amps | None = said("What BMS, display and radio take for themselves, by the data sheet. [A]")
    cycles: CycleClaim | None = said("Claimed cycle life.")
    mass_kg: Kilograms | None = said("Claimed mass. [kg]")
    size_mm: Size | None = said("Claimed size. [mm]")
    ingress: Annotated[str, Field(pattern=r"^IP[0-6X][0-9X]$")] | None = said("Ingress protection code, such as IP65.")
    certificates: tuple[Text, ...] = said("Certificates claimed.", (), max_length=50)
    in_series: Count | None = said("Units the maker allows in series.")
    in_parallel: Count | None = said("Units the maker allows in parallel.")
    app: YesNo | None = said("Whether a phone app is claimed.")
    warranty_years: Years | None = said("Warranty. [years]")


class Video(Record):
    """A video that shows tests."""

    url: Link = said("Its address.", ...)
    start_parameter: Annotated[str, Field(pattern=r"^[a-z_]{1,20}$")] | None = said(
        "Name under which its host takes the second to start at, such as t; left out for an address of a video file."
    )
    title: Text = said("Its title.", ...)
    date: Date = said("When it was published.", ...)


class Offer(Record):
    """A link somebody earns from; its disclosure stands beside it in words."""

    url: Link = said("Where it leads.", ...)
    code: Text | None = said("Discount code.")
    until: Date | None = said("Last day it holds; gone from the page afterwards.")
    pays: Literal["tester", "club", "nobody"] = said("Who earns from it.", ...)


class History(Record):
    """Something that happened to this unit or its page."""

    date: Date = said("When.", ...)
    what: Literal[
        "added", "corrected", "retested", "firmware", "replaced", "died", "discontinued", "maker_says", "disputed"
    ] = said("What kind of entry it is.", ...)
    tests: tuple[Name, ...] = said("Tests it concerns.", (), max_length=MAX_NAMES)
    sample: Name | None = said("Sample it concerns.")
    note: LongText = said("What, in a sentence or two.", ...)
    found_by: Text | None = said("Who found it.")
    kept_because: LongText | None = said("Why the published result stands, where somebody disputes it.")


class Acknowledged(Record):
    """A plausibility warning answered with a reason, which is published."""

    code: Text = said("The warning's code.", ...)
    tests: tuple[Name, ...] = said("Tests it concerns.", (), max_length=MAX_NAMES)
    reason: LongText = said("Why it is right all the same.", ...)


class ResultsFile(Record):
    """One tested battery: who it is, what its label claims, and the evidence."""

    unit: Unit = said("Who it is.", ...)
    bench: Name | None = said("Bench of all tests that name none.")
    samples: dict[Name, Sample] = said("Samples, by a letter or name.", {}, max_length=50)
    label: Label = said("The claims of case and data sheet.", ...)
    videos: dict[Name, Video] = said("Videos, by a name of their own.", {}, max_length=100)
    offers: tuple[Offer, ...] = said("Links somebody earns from.", (), max_length=50)
    view: LongText | None = said("The tester's own view, at most two sentences; shown as such.")
    viewed: Date | None = said("When that view was written.")
    tests: dict[Name, OneTest] = said("Tests, by a name of their own.", {}, max_length=MAX_NAMES)
    history: tuple[History, ...] = said("What happened since.", (), max_length=1000)
    acknowledged: tuple[Acknowledged, ...] = said("Warnings answered with a reason.", (), max_length=MAX_NAMES)
