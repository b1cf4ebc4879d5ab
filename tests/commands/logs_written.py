"""One discharge, written the many ways in which loggers write: what it holds stays the same."""

# ruff: noqa: E501  # a style is a line

from __future__ import annotations

import datetime as dt
import gzip
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

ROWS = 240
EVERY_S = 10
START = dt.datetime(2026, 5, 6, 23, 40, 0)  # noqa: DTZ001  # a logger's clock has no zone; it passes midnight
CURRENT_A = 18.25 + np.round(np.sin(np.arange(ROWS) / 7), 2)
VOLTAGE_V = np.round(13.3 - np.arange(ROWS) * 0.001, 3)
WARMTH_C = np.round(20 + np.arange(ROWS) * 0.005, 1)
TIME_S = np.arange(ROWS) * EVERY_S
# The trapezoidal rule, as numpy has it.
CHARGE_AH = float(np.trapezoid(CURRENT_A, TIME_S)) / 3600
ENERGY_WH = float(np.trapezoid(CURRENT_A * VOLTAGE_V, TIME_S)) / 3600

Stamp = Callable[[int], str]


def clock(pattern: str) -> Stamp:
    """Stamps by a strftime pattern."""
    return lambda i: (START + dt.timedelta(seconds=int(TIME_S[i]))).strftime(pattern)


def plain_12_hours(pattern: tuple[str, str]) -> Stamp:
    """Month, day and hour without leading zeros, as a 12-hour clock shows them."""

    def stamp(i: int) -> str:
        at = START + dt.timedelta(seconds=int(TIME_S[i]))
        return f"{at.month}/{at.day}/{at.year} {at.hour % 12 or 12}:{at:%M:%S} {pattern[at.hour >= 12]}"

    return stamp


@dataclass(frozen=True, kw_only=True)
class Style:
    """How a logger writes: headings, stamps, numbers, letters."""

    headings: tuple[str, str, str, str] = ("Time (s)", "Current (A)", "Voltage (V)", "Temperature (°C)")
    stamp: Stamp = lambda i: str(TIME_S[i])
    separator: str = ","
    decimal: str = "."
    thousands: str = ""
    per_amp: float = 1.0
    per_volt: float = 1.0
    sign: int = 1
    above: tuple[str, ...] = ()
    units: str = ""
    below: tuple[str, ...] = ()
    line_end: str = "\n"
    encoding: str = "utf-8"
    packed: bool = False
    more: tuple[str, ...] = field(default=())
    quoted: bool = False

    def number(self, value: float, places: int) -> str:
        """A number in this style."""
        text = f"{value:,.{places}f}" if self.thousands else f"{value:.{places}f}"
        return text.replace(",", "\0").replace(".", self.decimal).replace("\0", self.thousands)

    def cell(self, text: str) -> str:
        """A cell, quoted where it has to be."""
        return f'"{text}"' if self.quoted or self.separator in text else text

    def text(self) -> str:
        """The whole file."""
        lines = [*self.above, self.separator.join(map(self.cell, (*self.headings, *self.more)))]
        lines += [self.units] if self.units else []
        for i in range(ROWS):
            cells = [
                self.stamp(i),
                self.number(self.sign * self.per_amp * CURRENT_A[i], 2),
                self.number(self.per_volt * VOLTAGE_V[i], 3),
                self.number(WARMTH_C[i], 1),
                *("" for _ in self.more),
            ]
            lines.append(self.separator.join(map(self.cell, cells)))
        return self.line_end.join([*lines, *self.below, ""])

    def file(self) -> bytes:
        """Its bytes."""
        raw = self.text().encode(self.encoding)
        return gzip.compress(raw, mtime=0) if self.packed else raw


def with_(**more: object) -> Style:
    """The plain style but for these."""
    return replace(Style(), **more)  # type: ignore[arg-type]


SEMICOLONS = {"separator": ";", "decimal": ","}
STYLES: dict[str, Style] = {
    "plain": Style(),
    "gzip": with_(packed=True),
    "byte order mark": with_(encoding="utf-8-sig"),
    "UTF-16": with_(encoding="utf-16"),
    "UTF-16 without a mark": with_(encoding="utf-16-le"),
    "Windows-1252": with_(encoding="windows-1252"),
    "carriage returns and line feeds": with_(line_end="\r\n"),
    "carriage returns alone": with_(line_end="\r"),
    "semicolons": with_(separator=";"),
    "tabs": with_(separator="\t"),
    "semicolons and decimal commas": with_(**SEMICOLONS),
    "decimal commas in quotes": with_(decimal=",", quoted=True),
    "all in quotes": with_(quoted=True),
    "thousands with commas": with_(thousands=",", per_amp=1000, headings=("t (s)", "I (mA)", "U (V)", "T (°C)")),
    "thousands with points": with_(**SEMICOLONS, thousands=".", per_amp=1000, headings=("t [s]", "I [mA]", "U [V]", "T [°C]")),
    "thousands with spaces": with_(**SEMICOLONS, thousands=" ", per_amp=1000, headings=("t [s]", "I [mA]", "U [V]", "T [°C]")),
    "thousands with spaces that do not break": with_(
        **SEMICOLONS, thousands="\u202f", per_amp=1000, headings=("t [s]", "I [mA]", "U [V]", "T [°C]")
    ),
    "thousands with apostrophes": with_(thousands="'", per_amp=1000, headings=("t [s]", "I [mA]", "U [V]", "T [°C]")),
    "millivolts and milliamperes": with_(per_amp=1000, per_volt=1000, headings=("time_s", "current_mA", "voltage_mV", "temp")),
    "millivolts that nobody named": with_(per_volt=1000, headings=("Time", "Current", "Voltage", "Temperature")),
    "minutes": with_(stamp=lambda i: f"{TIME_S[i] / 60:.4f}", headings=("Minutes", "Amps", "Volts", "Temp C")),
    "hours": with_(stamp=lambda i: f"{TIME_S[i] / 3600:.6f}", headings=("Time [h]", "I/A", "U/V", "T/°C")),
    "milliseconds": with_(stamp=lambda i: str(TIME_S[i] * 1000), headings=("ms", "A", "V", "°C")),
    "seconds since 1970": with_(stamp=lambda i: str(1_778_000_000 + TIME_S[i]), headings=("Timestamp", "Current", "Voltage", "Temperature")),
    "milliseconds since 1970": with_(
        stamp=lambda i: str(1000 * (1_778_000_000 + TIME_S[i])), headings=("timestamp", "current", "voltage", "temperature")
    ),
    "days of a spreadsheet": with_(stamp=lambda i: f"{46148.9 + TIME_S[i] / 86400:.8f}", headings=("Time", "Current", "Voltage", "Temperature")),
    "ISO": with_(stamp=clock("%Y-%m-%d %H:%M:%S"), headings=("Time", "Current", "Voltage", "Temperature")),
    "ISO with T and a zone": with_(stamp=clock("%Y-%m-%dT%H:%M:%S+02:00"), headings=("time", "current", "voltage", "temperature")),
    "ISO with milliseconds": with_(stamp=clock("%Y-%m-%d %H:%M:%S.250"), headings=("time", "current", "voltage", "temperature")),
    "day, month, year": with_(**SEMICOLONS, stamp=clock("%d.%m.%Y %H:%M:%S"), headings=("Zeit", "Strom [A]", "Spannung [V]", "Temperatur [°C]")),
    "day, month, year with slashes": with_(stamp=clock("%d/%m/%Y %H:%M:%S"), headings=("Heure", "Courant (A)", "Tension (V)", "Température (°C)")),
    "month, day, year, 12 hours": with_(stamp=clock("%m/%d/%Y %I:%M:%S %p"), headings=("Date Time", "Amps", "Volts", "Temp")),
    "12 hours without leading zeros": with_(stamp=plain_12_hours(("AM", "PM")), headings=("Date Time", "Amps", "Volts", "Temp")),
    "12 hours, a.m. and p.m.": with_(stamp=plain_12_hours(("a.m.", "p.m.")), headings=("Fecha y hora", "Corriente", "Voltaje", "Temperatura")),
    "two digits of the year": with_(stamp=clock("%d.%m.%y %H:%M:%S"), headings=("Tid", "Ström (A)", "Spänning (V)", "Temperatur (°C)")),
    "a month's name": with_(stamp=clock("%d-%b-%Y %H:%M:%S"), headings=("Time", "Current", "Voltage", "Temperature")),
    "fractions of seconds": with_(stamp=clock("%d.%m.%Y %H:%M:%S.500"), headings=("Czas", "Prąd [A]", "Napięcie [V]", "Temperatura [°C]")),
    "a clock without a day, past midnight": with_(stamp=clock("%H:%M:%S"), headings=("Ora", "Corrente", "Tensione", "Temperatura")),
    "a 12-hour clock without a day, past midnight": with_(stamp=clock("%I:%M:%S %p"), headings=("Time", "Current", "Voltage", "Temperature")),
    "elapsed hours, minutes, seconds": with_(
        stamp=lambda i: f"{TIME_S[i] // 3600}:{TIME_S[i] // 60 % 60:02d}:{TIME_S[i] % 60:02d}",
        headings=("Elapsed", "Stroom (A)", "Spanning (V)", "Temperatuur (°C)"),
    ),
    "a charge is positive": with_(sign=-1),
    "lines above the headings": with_(above=("Serial no.,7", "Exported by Ines Hallam", "", "Interval:,10,s")),
    "units below the headings": with_(units="s,A,V,°C", headings=("Time", "Current", "Voltage", "Temperature")),
    "units in brackets below": with_(units="[s],[mA],[V],[°C]", per_amp=1000, headings=("t", "I", "U", "T")),
    "junk above, units below, semicolons": with_(
        **SEMICOLONS, above=("Messung;3", "Boot"), units="s;A;V;°C", headings=("Zeit", "Strom", "Spannung", "Temperatur")
    ),
    "a line below the rows": with_(below=("End of file",)),
    "empty columns": with_(more=("Note", "Alarm")),
    "headings without a word": with_(headings=("t", "ch2", "ch1", "°C")),
    "Fahrenheit": with_(headings=("Time (s)", "Current (A)", "Voltage (V)", "Temperature (°F)")),
    "Danish": with_(headings=("Tid (s)", "Strøm (A)", "Spænding (V)", "Temperatur (°C)")),
    "Portuguese": with_(headings=("Tempo (s)", "Corrente (A)", "Tensão (V)", "Temperatura (°C)")),
    "compounds": with_(headings=("Zeit (s)", "Entladestrom", "Batteriespannung", "Batterietemperatur")),
}  # fmt: skip
