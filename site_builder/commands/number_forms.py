"""How a sample of a log writes its numbers: decimal sign and what stands between thousands. Reads no file."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

import numpy as np
import pyarrow as pa

from site_builder.catalogue_records import LogFormat
from site_builder.commands.log_sample import Sample
from site_builder.log_cells import as_floats
from site_builder.series import Array

# Decimal sign and what stands between thousands, the commonest first.
NUMBER_FORMS: tuple[tuple[str, str | None], ...] = (
    (".", None), (",", None), (".", ","), (",", "."), (",", " "), (".", " "), (".", "'"), (",", "'"),
)  # fmt: skip
LOOKED_AT_ROWS = 500
# A comma that can only stand before decimals: not followed by three digits, or after a single zero.
_DECIMAL_COMMA = re.compile(r"(?<![0-9.,])(?:[0-9]+,(?:[0-9]{1,2}|[0-9]{4,})|0,[0-9]+)(?![0-9.,])")


def number_form(sample: Sample) -> tuple[str, str | None]:
    """Decimal sign and thousands: what reads most cells; of several, one with a comma where one is shown elsewhere."""
    cells = [cell for cell in _cells(sample) if ":" not in cell and any(map(str.isdigit, cell))]
    is_comma = sample.separator != "," and _shows_decimal_comma(sample)

    def fits(one: tuple[str, str | None]) -> tuple[int, bool]:
        return int(np.isfinite(floats_of(cells, *one)).sum()), is_comma and one[0] == ","

    return max(NUMBER_FORMS, key=fits)  # the first of several equals


def unsure_signs(sample: Sample, decimal: str, thousands: str | None) -> Iterator[str]:
    """A note where every decimal sign could as well stand between thousands: 13.200 alone does not tell."""
    signed = [cell for cell in _cells(sample) if decimal in cell and ":" not in cell]
    either = rf"[-+−]?[1-9][0-9]{{0,2}}(?:{re.escape(decimal)}[0-9]{{3}})+"
    could_be_others = decimal == "," or sample.separator != ","
    if thousands is None and signed and could_be_others and all(re.fullmatch(either, cell) for cell in signed):
        other = "." if decimal == "," else ","
        plain = signed[0].replace(decimal, "")
        yield (
            f"{signed[0]!r} and the like are read with decimals; where {plain} is meant, write "
            f'decimal: "{other}" and thousands: "{decimal}": check it'
        )


def floats_of(cells: Sequence[str], decimal: str, thousands: str | None) -> Array:
    """Cells as the numbers that they are in this form; NaN where they are none."""
    form = LogFormat.model_validate(
        {"time": {"column": "t"}, "interval_s": 1, "decimal": decimal, "thousands": thousands}
    )
    return as_floats(pa.chunked_array([list(cells)], type=pa.string()), form)


def _cells(sample: Sample) -> Iterator[str]:
    return (cell for row in sample.rows[:LOOKED_AT_ROWS] for cell in row if cell)


def _shows_decimal_comma(sample: Sample) -> bool:
    """Whether a clock's cell or a line above the headings has a comma that can only stand before decimals."""
    return any(map(_DECIMAL_COMMA.search, (*_cells(sample), *sample.before)))
