"""Headings of log columns in several languages → what a column holds, and in which unit. Words only; reads nothing."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping

# What a column holds → words of headings, without accents: English, German, French, Spanish, Italian, Dutch,
# Portuguese, Danish, Norwegian, Swedish, Finnish, Polish, Czech. Long ones count inside compounds too.
# From dictionaries, from memory.
WORDS: Mapping[str, frozenset[str]] = {
    role: frozenset(words.split())
    for role, words in {
        "current": "current amps amp amperage ampere amperes i ibat ibatt strom courant intensite corriente intensidad "
        "corrente stroom stroomsterkte prad virta proud",
        "voltage": "voltage volts volt u ubat vbat ubatt vbatt spannung tension voltaje tensione spanning spaending "
        "spenning tensao napiecie jannite napeti",
        "power": "power watts watt p leistung puissance potencia potenza vermogen effekt effekten moc teho vykon",
        "temperature": "temperature temp temperatur temperatura temperatuur lampotila teplota",
        "charge": "capacity charge ladung kapazitat capacite capacidad capacita capaciteit kapacitet pojemnosc ah mah",
        "energy": "energy energie energia energi wh kwh",
        "soc": "soc ladezustand",
        "time": "time elapsed timestamp seconds sec secs zeit zeitstempel uhrzeit temps heure duree tiempo hora tempo "
        "ora tijd tijdstip tid tidspunkt czas aika cas",
        "date": "date datum fecha data dato paiva dia jour",
    }.items()
}  # fmt: skip
AMBIENT = frozenset(
    {
        "ambient",
        "air",
        "room",
        "outside",
        "umgebung",
        "luft",
        "raum",
        "aussen",
        "ambiante",
        "piece",
        "ambiente",
        "aria",
        "aire",
        "stanza",
        "omgeving",
        "lucht",
        "kamer",
        "omgivning",
        "omgivelse",
        "rum",
        "otoczenia",
        "powietrze",
    }
)
ONE_CELL = frozenset({"cell", "zelle", "cellule", "celda", "cella", "cel", "celle", "cela", "kenno"})
DISCHARGING = ("discharg", "entlad", "decharg", "descarga", "scarica", "ontlad", "urladd", "aflad")
CHARGING = ("charging", "laden", "lade", "charge", "carga", "carica", "laad")

# How a unit stands in a heading, in small letters → what it measures, and how a bench writes it ("" for the usual one).
UNITS: Mapping[str, tuple[str, str]] = {
    **dict.fromkeys(("a", "amp", "amps", "ampere"), ("current", "")),
    "ma": ("current", "mA"),
    **dict.fromkeys(("v", "volt", "volts"), ("voltage", "")),
    "mv": ("voltage", "mV"),
    **dict.fromkeys(("w", "watt", "kw", "mw", "va"), ("power", "")),
    **dict.fromkeys(("°c", "degc", "c", "celsius", "grad c", "deg c"), ("temperature", "")),
    **dict.fromkeys(("°f", "degf", "f", "fahrenheit", "deg f"), ("temperature", "°F")),
    **dict.fromkeys(("k", "kelvin"), ("temperature", "K")),
    **dict.fromkeys(("ah", "mah"), ("charge", "")),
    **dict.fromkeys(("wh", "kwh"), ("energy", "")),
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds", "sek", "seg"), ("time", "seconds")),
    **dict.fromkeys(("min", "mins", "minute", "minutes", "minuten", "minutos", "minuti"), ("time", "minutes")),
    **dict.fromkeys(("h", "hr", "hrs", "hour", "hours", "std", "stunden", "heures", "horas", "ore"), ("time", "hours")),
    **dict.fromkeys(("ms", "msec", "millis", "milliseconds"), ("time", "milliseconds")),
    **dict.fromkeys(("d", "day", "days", "tage", "jours"), ("time", "days")),
    "%": ("soc", ""),
}  # fmt: skip
_IN_BRACKETS = re.compile(r"[\[({]\s*([^\])}]{1,12}?)\s*[\])}]")
_AFTER_A_MARK = re.compile(r"(?:/|_|,|\s|\bin\b)\s*([A-Za-z°º%]{1,8})\s*$")
LONG = 5


def words_of(heading: str) -> list[str]:
    """The heading's words in small letters without accents, "BatteryVoltage" as two.

    >>> words_of("Tensión_Batería (mV)")
    ['tension', 'bateria', 'mv']
    """
    apart = re.sub(r"(?<=[a-z])(?=[A-Z][a-z])", " ", heading)
    plain = "".join(c for c in unicodedata.normalize("NFKD", apart) if not unicodedata.combining(c)).casefold()
    return re.findall(r"[a-z]+", plain.replace("ł", "l").replace("ø", "o").replace("æ", "ae"))


def unit_of(heading: str) -> tuple[str, str] | None:
    """What the unit in a heading measures, and how a bench writes it; None where there is none.

    >>> unit_of("Strom [mA]"), unit_of("Voltage")
    (('current', 'mA'), None)
    """
    found = [*_IN_BRACKETS.findall(heading), *_AFTER_A_MARK.findall(heading), heading.strip()]
    return next((UNITS[key] for one in found if (key := one.casefold().replace("º", "°")) in UNITS), None)


def role_of(heading: str) -> str | None:
    """What a column with this heading holds, by its unit or else by its words.

    >>> role_of("Entladestrom"), role_of("Charge current [A]"), role_of("Lufttemperatur"), role_of("note")
    ('current', 'current', 'ambient_c', None)
    """
    words, unit = words_of(heading), unit_of(heading)
    role = unit[0] if unit else _by_words(words)
    if role == "temperature":
        return "ambient_c" if _any_of(words, AMBIENT) else "battery_c"
    if role == "current" and _any_of(words, ONE_CELL):
        return "cell_current"
    return role or None


def _by_words(words: list[str]) -> str | None:
    return next((role for role, known in WORDS.items() if _any_of(words, known)), None)


def _any_of(words: list[str], known: frozenset[str]) -> bool:
    long = [one for one in known if len(one) >= LONG or one in {"luft", "raum"}]
    return any(word in known or any(one in word for one in long) for word in words)


def direction_of(heading: str) -> str | None:
    """Which way a current column counts, where its heading says so."""
    text = "".join(words_of(heading))
    if any(word in text for word in DISCHARGING):
        return "discharge"
    return "charge" if any(word in text for word in CHARGING) else None


def is_of_one_cell(heading: str) -> bool:
    """Whether it is one cell's and not the battery's."""
    return _any_of(words_of(heading), ONE_CELL)
