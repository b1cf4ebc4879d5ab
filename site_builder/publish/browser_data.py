"""Data for the site's own scripts, as classic scripts that assign it: a page from file:// may not fetch. No metrics."""

from __future__ import annotations

import json
import keyword
from typing import Any

# Inside a script these end it, or end a line of it, wherever they stand; in a string they read the same escaped.
_ESCAPES = {"</": "<\\/", "<!--": "\\u003c!--", "\u2028": "\\u2028", "\u2029": "\\u2029"}


def data_script(name: str, data: Any) -> str:
    r"""The text of a script that assigns `data` to the global `name`; the same data always gives the same text.

    Args:
        name: The global, such as "runtimeData".
        data: Whatever JSON can hold: no NaN, no infinity.

    Raises:
        ValueError: The name is none, or the data holds what JSON cannot.

    >>> data_script("loads", {"kettle": 610, "a": "</script>"})
    'window.loads={"a":"<\\/script>","kettle":610};\n'
    """
    if not name.isascii() or not name.isidentifier() or keyword.iskeyword(name):
        raise ValueError(f"{name!r} is no name of a global")
    text = json.dumps(data, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False)
    for raw, escaped in _ESCAPES.items():
        text = text.replace(raw, escaped)
    return f"window.{name}={text};\n"
