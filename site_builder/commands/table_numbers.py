"""Numbers in the cells of a hand-kept table: decimal signs, and what stands between thousands. Guesses nothing."""

from __future__ import annotations

import re

_DIGITS = re.compile(r"[0-9.,]*[0-9]")
_THOUSANDS = r"[1-9][0-9]{0,2}(?:\.[0-9]{3})+"
_WITH_COMMA = re.compile(rf"{_THOUSANDS}(?:,[0-9]+)?")


def with_points(cell: str, decimal: str) -> str:
    """A cell with a point before decimals; where the table has a comma there, nothing between thousands either.

    >>> with_points("about 1.280,5", ","), with_points("1.280", ","), with_points("1.280", ".")
    ('about 1280.5', '1280', '1.280')
    """
    if decimal == ".":
        return cell
    return _DIGITS.sub(lambda found: _plain(found[0]), cell)


def _plain(digits: str) -> str:
    text = digits.replace(".", "") if _WITH_COMMA.fullmatch(digits) else digits
    return text if "." in text else text.replace(",", ".")


def sign_fault(cell: str, decimal: str, *, whole: bool) -> tuple[str, str] | None:
    """What is wrong with a point that cannot be what the table's decimal sign makes of it, and a way out.

    Args:
        cell: The cell.
        decimal: The table's decimal sign.
        whole: Whether the place takes whole numbers alone: 4.000 there is hardly a four.

    >>> sign_fault("12.8", ",", whole=False)
    ("'12.8' has a point, where decimals have a comma", 'write 12,8, or leave it out between thousands')
    """
    for digits in _DIGITS.findall(cell):
        if decimal == "," and "." in digits and not _WITH_COMMA.fullmatch(digits):
            commas = digits.replace(",", "").replace(".", ",")
            way_out = (
                f"write {commas}, or leave it out between thousands" if commas.count(",") == 1 else "write one comma"
            )
            return f"{cell[:60]!r} has a point, where decimals have a comma", way_out
        if decimal == "." and whole and re.fullmatch(_THOUSANDS, digits):
            return f"{cell[:60]!r} is a whole number with a point", f"write {digits.replace('.', '')} without it"
    return None
