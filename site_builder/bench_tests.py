"""The nouns of a bench test: one record for each kind of test, and what every kind may say. Typed, frozen, no logic."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field

from site_builder.fields import (
    AmpereHours,
    Amps,
    Celsius,
    Date,
    FilePath,
    Fraction,
    Hours,
    Kilograms,
    LongText,
    Millimetres,
    Milliohms,
    Name,
    Names,
    PositiveAmps,
    PositiveCount,
    PositiveVolts,
    PositiveWatts,
    Record,
    Seconds,
    SignedAmps,
    StoppedBy,
    Text,
    VideoSecond,
    Volts,
    WattHours,
    Watts,
    When,
    YesNo,
    said,
)


class Size(Record):
    """Overall size, terminals included."""

    length: Millimetres = said("Length. [mm]", ...)
    width: Millimetres = said("Width. [mm]", ...)
    height: Millimetres = said("Height over terminals. [mm]", ...)


class SocSpan(Record):
    """State of charge at both ends."""

    start: Fraction = said("At the start.", ...)
    end: Fraction = said("At the end.", ...)


class Before(Record):
    """What happened to the battery before the test."""

    charged_to_v: Volts | None = said("Charging voltage it was filled with. [V]")
    tail_a: Amps | None = said("Current at which charging ended. [A]")
    rest_h: Hours | None = said("Rest between charge and test. [h]")
    soak_h: Hours | None = said("Time at the test's temperature. [h]")
    soc: Fraction | None = said("State of charge at the start, where it was not full.")
    note: Text | None = said("Anything else about it.")


class Sense(Record):
    """Where the voltage was sensed, when that was not at the terminals."""

    at: Literal["terminals", "shunt", "inverter", "lead end"] = said("Point of measurement.", ...)
    resistance_milliohm: Milliohms | None = said("Resistance between there and the terminals, both ways. [mΩ]")


class ZeroReadings(Record):
    """What the current instrument showed at no current."""

    before_a: SignedAmps = said("Before the test. [A]", ...)
    after_a: SignedAmps | None = said("After the test. [A]")


class Arrangement(Record):
    """Several batteries tested together."""

    series: PositiveCount = said("In series.", 1)
    parallel: PositiveCount = said("In parallel.", 1)


class InVideo(Record):
    """The seconds of a video that show the test."""

    in_: Name = said("Name of the video in this file.", ..., alias="in")
    from_: VideoSecond | None = said("From, as m:ss.", None, alias="from")
    to: VideoSecond | None = said("To, as m:ss.")
    uncut: YesNo | None = said("Whether the scene is uncut.")


class CameBack(Record):
    """How the battery delivered again after it had cut off."""

    how: Literal["by itself", "after unloading", "after a button", "after charging", "not"] = said("How.", ...)
    after_s: Seconds | None = said("After how long. [s]")


class Guess(Record):
    """Somebody's estimate on the day: shown as such, never ranked."""

    duration_s: Seconds = said("Estimated running time. [s]", ...)
    at_soc: Fraction | None = said("State of charge it was made at.")
    by: Literal["person", "app", "inverter"] = said("Who estimated.", ...)


class Charger(Record):
    """The charger's settings."""

    set_v: PositiveVolts | None = said("Voltage setting. [V]")
    set_a: Amps | None = said("Current setting. [A]")


class AnyTest(Record):
    """What every test may say, whatever its kind."""

    date: Date | None = said(
        "Day it was made, the first where it took several; where it is left out, that of its start, else the video's."
    )
    sample: Name | None = said("Which sample, where there are several.")
    bench: Name | None = said("Bench, where it is not the file's own.")
    read_on: Name | None = said("Instrument of the bench that hand-read figures come from.")
    firmware: Text | None = said("BMS firmware during the test.")
    ambient_c: Celsius | None = said("Air temperature. [°C]")
    battery_c: Celsius | None = said("Battery temperature at the start. [°C]")
    before: Before | None = said("How it was charged, rested and soaked.")
    sense: Sense | None = said("Where the voltage was sensed, when not at the terminals.")
    zero: ZeroReadings | None = said("Zero readings of the current instrument.")
    arrangement: Arrangement | None = said("Where several batteries were tested together.")
    video: InVideo | None = said("Where a video shows it.")
    log: FilePath | None = said("Log file, relative to results/logs/<id>/.")
    note: LongText | None = said("Anything a reader should know.")
    evidence: Literal["kept", "reported"] = said(
        "reported: somebody wrote the figures down, and neither log, instrument nor video of them was kept; they are "
        "shown as such, without ±, and never graded or ranked.",
        "kept",
    )
    started: When | None = said('Start: "19:25", a date, or both.')
    ended: When | None = said('End: "22:10", or "22:10 to 23:40" where nobody saw it.')
    duration_s: Seconds | None = said('Duration; 20 min is written "20 min". [s]')
    counted_ah: AmpereHours | None = said("Charge that a counter showed. [Ah]")
    counted_wh: WattHours | None = said("Energy that a counter showed. [Wh]")
    came_back: CameBack | None = said("How it came back after cutting off.")

    @property
    def day(self) -> dt.date | None:
        """The day it was made, or began: `date`, else that of `started`."""
        return self.date or (self.started.date if self.started else None)


class CapacityTest(AnyTest):
    """A discharge from full to the end."""

    kind: Literal["capacity"] = said("A discharge from full to the end.", ...)
    load: Names | None = said("Load from loads.yml that discharged it, where there was one.")
    inverter: Name | None = said("Inverter of the bench, where one was used.")
    current_a: PositiveAmps | None = said("Discharge current. [A]")
    voltage_v: PositiveVolts | None = said("Mean voltage while discharging. [V]")
    power_w: PositiveWatts | None = said("Power drawn. [W]")
    ended_by: Literal["bms", "end_voltage", "inverter", "tester", "died", "unknown"] = said("What ended it.", ...)
    end_v: Volts | None = said("Voltage just before the end. [V]")

    @property
    def started_full(self) -> bool:
        """Whether nobody wrote down a lower state of charge at the start."""
        return self.before is None or self.before.soc is None or self.before.soc.best >= 1.0


class LoadRun(AnyTest):
    """One or several loads together on the battery."""

    kind: Literal["load_run"] = said("One or several loads together on the battery.", ...)
    load: Names = said("Load or loads from loads.yml.", ...)
    inverter: Name | None = said("Inverter of the bench, where one was used.")
    outcome: Literal["ran", "tripped", "did_not_start"] = said("What happened.", ...)
    by: StoppedBy | None = said("What stopped it.")
    current_a: Amps | None = said("Battery current while running, or at the trip. [A]")
    power_w: Watts | None = said("Steady power. [W]")
    peak_w: Watts | None = said("Peak power at the start. [W]")
    peak_a: Amps | None = said("Peak battery current at the start. [A]")
    duty: Fraction | None = said("Share of the time it was on.")
    soc: SocSpan | None = said("State of charge at both ends.")
    guess: Guess | None = said("An estimate on the day.")


class OverloadPoint(Record):
    """One current, and how long the battery carried it."""

    current_a: PositiveAmps = said("Battery current. [A]", ...)
    duration_s: Seconds = said("For how long, until it was cut off or ended. [s]", ...)
    held: YesNo = said("true: carried that long without cutting off; false: cut off then.", ...)
    by: StoppedBy | None = said("What stopped it; the battery's own BMS where it is left out and it was cut off.")
    rest_before_s: Seconds | None = said("Rest before it. [s]")
    soc: Fraction | None = said("State of charge.")
    battery_c: Celsius | None = said("Battery temperature. [°C]")
    note: Text | None = said("Anything else.")


class OverloadTest(AnyTest):
    """Currents above the label, in steps."""

    kind: Literal["overload"] = said("Currents above the label, in steps.", ...)
    points: Annotated[tuple[OverloadPoint, ...], Field(max_length=200)] = said("The steps.", ())
    soc: Fraction | None = said("State of charge at the start.")


class ColdReading(Record):
    """What was seen at one moment of a cold-charging test; time and instrument may be missing."""

    at: When | None = said("Time of day.")
    battery_c: Celsius | None = said("Battery temperature. [°C]")
    where: Literal["cell", "case", "terminal", "bms", "air"] | None = said("Where the temperature was taken.")
    ambient_c: Celsius | None = said("Air temperature. [°C]")
    current_a: SignedAmps | None = said("Current into the battery's terminals. [A]")
    cell_current_a: SignedAmps | None = said("Current into the cells, as the battery itself reports it. [A]")
    charge: Literal["accepted", "refused"] | None = said("Whether charge went in.")
    heater: YesNo | None = said("Whether the heater was on.")
    read_on: Name | None = said("Instrument of the bench.")
    note: Text | None = said("Anything else.")


class ColdChargeTest(AnyTest):
    """Charging a frozen battery."""

    kind: Literal["cold_charge"] = said("Charging a frozen battery.", ...)
    charger: Charger | None = said("The charger's settings.")
    readings: Annotated[tuple[ColdReading, ...], Field(max_length=2000)] = said("What was seen.", ())
    heater_w: Watts | None = said("Heater power, where somebody metered it. [W]")
    soc: Fraction | None = said("State of charge at the start.")


class PulseReading(Record):
    """Voltage under one current."""

    current_a: Amps = said("Discharge current. [A]", ...)
    voltage_v: PositiveVolts = said("Voltage. [V]", ...)
    after_s: Seconds | None = said("How long the current had flowed. [s]")


class ResistanceTest(AnyTest):
    """Voltages under two or more currents."""

    kind: Literal["resistance"] = said("Voltages under two or more currents.", ...)
    readings: Annotated[tuple[PulseReading, ...], Field(max_length=200)] = said("Pairs of current and voltage.", ())
    meter_milliohm: Milliohms | None = said("What a 1 kHz meter showed. [mΩ]")
    soc: Fraction | None = said("State of charge.")


class ChargeTest(AnyTest):
    """Filling it up."""

    kind: Literal["charge"] = said("Filling it up.", ...)
    charger: Charger | None = said("The charger's settings.")
    max_current_a: Amps | None = said("Largest current it took. [A]")
    tail_a: Amps | None = said("Current at the end. [A]")
    after: Name | None = said("The discharge test of this file that this refill follows.")


class StandbyTest(AnyTest):
    """Standing idle."""

    kind: Literal["standby"] = said("Standing idle.", ...)
    soc: SocSpan | None = said("State of charge at both ends.")
    current_a: Amps | None = said("Own consumption. [A]")
    voltage_start_v: Volts | None = said("Voltage at the start. [V]")
    voltage_end_v: Volts | None = said("Voltage at the end. [V]")


class BalanceTest(AnyTest):
    """Voltages of the single cells."""

    kind: Literal["balance"] = said("Voltages of the single cells.", ...)
    at: Literal["full", "empty"] = said("At which end.", ...)
    cell_v: Annotated[tuple[Volts, ...], Field(max_length=400)] = said("Voltage of each cell. [V]", ())


class BuildTest(AnyTest):
    """What came out of the box."""

    kind: Literal["build"] = said("What came out of the box.", ...)
    documents: tuple[Text, ...] = said("Documents that came with it.", (), max_length=100)
    certificates_seen: tuple[Text, ...] = said("Certificates whose document was seen.", (), max_length=100)
    accessories: tuple[Text, ...] = said("What else was in the box.", (), max_length=100)
    app_works: YesNo | None = said("Whether the app connected and showed plausible figures.")
    mass_kg: Kilograms | None = said("Weighed mass. [kg]")
    size_mm: Size | None = said("Measured size. [mm]")
    terminals: Text | None = said("Terminals, such as M8.")


OneTest = Annotated[
    CapacityTest
    | LoadRun
    | OverloadTest
    | ColdChargeTest
    | ResistanceTest
    | ChargeTest
    | StandbyTest
    | BalanceTest
    | BuildTest,
    Field(discriminator="kind"),
]
