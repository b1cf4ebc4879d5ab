"""What the switch between °C and °F, kg and lb, mm and in needs of a page: the number behind the words.

Such a quantity stands in `<data value=6.132±0.471°C>`: its number, its ± and its unit, finer than a page shows them, so
that the browser rounds once and not twice (measures.js). Everything else keeps its unit. No page is chosen here.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

from markupsafe import Markup
from markupsafe import escape as html_escape

# "K" is a difference of temperatures, which has no zero to move. Litres, and what is per litre, are used with both.
SWITCHED = frozenset({"°C", "K", "kg", "mm", "Wh/kg"})
# As pages and derivations write them: "at 22 °C", "15 to 30 °C".
WRITTEN = re.compile(r"(?<![\w.])([-−]?\d+(?:\.\d+)?)((?: to | and )(?:[-−]?\d+(?:\.\d+)?))?([ \u202f])(°C|kg|mm)\b")


def held(values: Iterable[float], unit: str, expanded: float | None = None) -> str:
    """The attribute's value for numbers in the order in which the words name them; nothing where no switch asks.

    >>> held([6.1324], "°C", 0.4713), held([-14, 8], "°C"), held([90], "Ah")
    ('6.132±0.471°C', '-14~8°C', '')
    """
    if unit not in SWITCHED:
        return ""
    if not expanded:
        return "~".join(f"{value:.5g}" for value in values) + unit
    # Two digits beyond those shown: after the conversion hardly one in a hundred rounds another way.
    fine = max(2 - math.floor(math.log10(expanded)), 0)
    return "~".join(f"{round(value, fine):.12g}" for value in values) + f"±{expanded:.3g}{unit}"


def in_data(value: str, html: str) -> Markup:
    """The words with what is held of them around."""
    return Markup(f"<data value={value}>{html}</data>") if value else Markup(html)  # noqa: S704  # made from digits


def with_measures(words: str) -> Markup:
    """Plain words of this program as HTML, the temperatures, masses and lengths in them held for the switch.

    >>> str(with_measures("at 22 °C, 1 A"))
    'at <data value=22°C>22 °C</data>, 1 A'
    """
    pieces, end = [], 0
    for found in WRITTEN.finditer(words):
        numbers = re.split(r" to | and ", found[1] + (found[2] or ""))
        value = held([float(number.replace("−", "-")) for number in numbers], found[4])
        pieces += [html_escape(words[end : found.start()]), in_data(value, found[0])]
        end = found.end()
    return Markup("").join([*pieces, html_escape(words[end:])])


def heading(name: str, unit: str) -> Markup:
    """A column's heading with its unit: "Mass, kg"."""
    return Markup("{}, {}").format(name, in_data(unit if unit in SWITCHED else "", unit))
