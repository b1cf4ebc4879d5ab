"""What somebody meant by text that the value grammar refuses: spellings of units, commas, times of a clock. Pure.

The form of a bench sheet says the same while somebody types; `pages/sheet_fields.py` hands it the units and spellings.
"""

from __future__ import annotations

import re

_LB = 0.45359237
# For each unit of a record those that people write, by their factor into it. The grammar reads more of them.
_WRITTEN = {
    "A": {1.0: "A amp ampere amperes", 1e-3: "mA", 1e3: "kA"},
    "V": {1.0: "V volt volts", 1e-3: "mV", 1e3: "kV"},
    "W": {1.0: "W watt watts", 1e3: "kW"},
    "Ah": {1.0: "Ah", 1e-3: "mAh", 1e3: "kAh"},
    "Wh": {1.0: "Wh", 1e-3: "mWh", 1e3: "kWh", 1 / 3.6: "kJ", 1e3 / 3.6: "MJ"},
    "s": {
        1.0: "s sec secs second seconds",
        1e-3: "ms",
        60.0: "min mins minute minutes",
        3600.0: "h hr hrs hour hours",
        86_400.0: "d day days",
    },
    "h": {1.0: "h hr hrs hour hours", 1 / 3600: "s sec secs seconds", 1 / 60: "min mins minutes", 24.0: "d day days"},
    "kg": {1.0: "kg", 1e-3: "g", _LB: "lb lbs pounds", _LB / 16: "oz"},
    "mm": {1.0: "mm", 10.0: "cm", 1000.0: "m", 25.4: "in inch inches", 304.8: "ft feet"},
    "1": {0.01: "%"},
}
_CELSIUS, _KELVIN, _FAHRENHEIT = (1.0, 0.0), (1.0, -273.15), (5 / 9, -160 / 9)
# Unit of a record → unit as written → factor and offset.
USUAL_UNITS: dict[str, dict[str, tuple[float, float]]] = {
    unit: {one: (factor, 0.0) for factor, names in written.items() for one in names.split()}
    for unit, written in _WRITTEN.items()
}
USUAL_UNITS["°C"] = dict.fromkeys(("°C", "degC", "celsius"), _CELSIUS) | {"K": _KELVIN}
USUAL_UNITS["°C"] |= dict.fromkeys(("°F", "degF", "fahrenheit"), _FAHRENHEIT)
# Spellings, in lower case, that are no unit or another one: F is the farad, C the coulomb.
MEANT = {"f": "°F", "c": "°C", "°": "°C", "amps": "A", "kgs": "kg", '"': "in", "percent": "%", "m": "min"}

# For each unit a number, two around it and other units, as a field in it may have them.
_EXAMPLES = {
    "A": ("20", "18", "22", '"800 mA"'),
    "V": ("13.2", "13", "13.4", '"3449 mV"'),
    "W": ("620", "600", "640", '"1.2 kW"'),
    "Ah": ("98", "96", "100", '"52000 mAh"'),
    "Wh": ("1280", "1250", "1300", '"1.2 kWh"'),
    "°C": ("20", "18", "22", '"12.5 °F"'),
    "s": ("600", "580", "620", '"20 min", "2.8 h"'),
    "h": ("5", "4", "6", '"20 min"'),
    "kg": ("11", "10", "12", '"22.9 lb"'),
    "mm": ("330", "328", "332", '"12.1 in"'),
    "mΩ": ("4", "3", "5", '"0.004 Ω"'),
    "year": ("5", "4", "6", '"18 months"'),
}
_ZEROS = re.compile(r"(?<![0-9.])0+(?=[0-9])", re.ASCII)
_SEPARATED = re.compile(r"[0-9]+(?:[ ,.'_\u00a0\u202f][0-9]+)+", re.ASCII)
_CLOCK = re.compile(r"([0-9]{1,3}):([0-5][0-9])(?::([0-5][0-9]))?\s*(h|min)?", re.ASCII)


def meant_unit(unit: str, into: str) -> str | None:
    """The unit for a field in `into` that somebody meant by `unit`, where there is a usual one.

    >>> meant_unit("amps", "A"), meant_unit("F", "°C"), meant_unit("KWH", "Wh"), meant_unit("l", "kg")
    ('A', '°F', 'kWh', None)
    """
    wanted = MEANT.get(unit.lower(), unit).lower()
    return next((one for one in USUAL_UNITS.get(into, ()) if one.lower() == wanted), None)


def forms_of(unit: str) -> str:
    """The forms of a number in this unit, each one that the field would take.

    >>> forms_of("Ah")
    '98 (in Ah), about 98, 96 to 100, over 96 or under 100, or another unit in quotes ("52000 mAh")'
    """
    number, low, high, others = _EXAMPLES[unit]
    said = {"year": "years"}.get(unit, unit)
    ways = f"{number} (in {said}), about {number}, {low} to {high}, over {low} or under {high}"
    return f"{ways}, or another unit in quotes ({others})"


def without_zeros(text: str) -> str:
    """The text without zeros in front of its numbers.

    >>> without_zeros("about 0123"), without_zeros("0.5"), without_zeros("1.05")
    ('about 123', '0.5', '1.05')
    """
    return _ZEROS.sub("", text)


def without_separators(text: str) -> tuple[str, ...]:
    """The text with a point before decimals and nothing between thousands: two ways where its commas may be either.

    >>> without_separators("1,259"), without_separators("98,4"), without_separators("about 1 301 Wh")
    (('1259', '1.259'), ('98.4',), ('about 1301 Wh',))
    """
    meanings = [_meanings(number) for number in _SEPARATED.findall(text)]
    if not meanings or not all(meanings):
        return ()
    around = _SEPARATED.split(text)
    ways = [
        "".join(part for pair in zip(around, [*(one[which] for one in meanings), ""], strict=True) for part in pair)
        for which in (0, -1)
    ]
    return tuple(dict.fromkeys(ways))


def _meanings(number: str) -> list[str]:
    """What digits with something between them can mean: thousands first, then decimals."""
    head, *groups = re.split(r"[^0-9]", number)
    signs = re.sub(r"[0-9]", "", number)
    if signs == ".":
        return [number]
    found = []
    if len(set(signs)) == 1 and _are_thousands(head, groups):
        found.append(head + "".join(groups))
    before, last = signs[:-1], signs[-1]
    if last in ",." and last not in before and len(set(before)) <= 1 and _are_thousands(head, groups[:-1]):
        found.append(f"{head}{''.join(groups[:-1])}.{groups[-1]}")
    return found


def _are_thousands(head: str, groups: list[str]) -> bool:
    return not groups or (len(head) <= 3 and head[0] != "0" and all(len(group) == 3 for group in groups))


def clock_durations(text: str) -> tuple[str, ...]:
    """A duration written like a clock's time, in one unit; both ways where it may be hours or minutes.

    >>> clock_durations("1:30 h"), clock_durations("1:30")
    (('90 min',), ('90 min', '90 s'))
    """
    match = _CLOCK.fullmatch(text)
    if not match:
        return ()
    first, second, third, unit = match.groups()
    if third:
        return (f"{int(first) * 3600 + int(second) * 60 + int(third)} s",)
    count = int(first) * 60 + int(second)
    both = (f"{count} min", f"{count} s")
    return {"h": both[:1], "min": both[1:]}.get(unit, both)
