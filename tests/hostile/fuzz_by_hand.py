"""Coverage-guided fuzzing, started by hand: bytes that reach new lines of the builder are kept and bent further.

    pip install atheris
    python -m tests.hostile.fuzz_by_hand results -max_total_time=600    # or: values, logs, packed, words

It stops at the first exception, and writes the bytes that made it to `crash-…` in the folder that it runs in; give
that file as a further argument to see it again. Everything after the door's name is libFuzzer's.
"""

from __future__ import annotations

import importlib
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

SEEDS = Path(__file__).parents[2] / "results"
Door = Callable[[bytes], None]


def results(raw: bytes) -> None:
    """A results file as far as a record, or what is sound of it."""
    from site_builder.records import ResultsFile  # noqa: PLC0415  # imported while atheris watches
    from site_builder.sound_part import sound_part  # noqa: PLC0415
    from site_builder.validate import record  # noqa: PLC0415
    from site_builder.yaml_text import parsed  # noqa: PLC0415

    document = parsed(raw, "x.yml")
    made, problems = record(ResultsFile, document)
    if (made is None) != bool(problems):
        raise AssertionError(problems)
    if made is None:
        sound_part(document, "x")


def values(raw: bytes) -> None:
    """One scalar through every grammar."""
    from site_builder.fields import _https, _names  # noqa: PLC0415
    from site_builder.moments import parsed_date, parsed_moment, parsed_video_second  # noqa: PLC0415
    from site_builder.values import GrammarError, In, stated  # noqa: PLC0415

    text = raw.decode("utf-8", "replace")
    fields = (In("A", -3000, 3000), In("1", 0, 1), In("", 0, 1e9), In("°C", -60, 150), In("s", 0, 4e7))
    for field in fields:
        try:
            value = stated(text, field)
        except GrammarError:
            continue
        if not value.low <= value.best <= value.high:
            raise AssertionError(value)
    for parse in (parsed_date, parsed_moment, parsed_video_second, _https, _names):
        try:
            parse(text)
        except GrammarError:
            continue


def logs(raw: bytes, name: str = "x.csv") -> None:
    """A log in one of a few formats."""
    from site_builder.catalogue_records import LogFormat  # noqa: PLC0415
    from site_builder.logs import read_log  # noqa: PLC0415
    from site_builder.validate import from_data  # noqa: PLC0415

    times = (
        {"column": "t"},
        {"column": "t", "format": "iso"},
        {"column": "t", "format": "h:m:s"},
        {"column": "t", "pattern": "%d.%m.%Y %H:%M"},
    )
    choice = raw[0] if raw else 0
    data: dict[str, Any] = {
        "time": times[choice % 4],
        "current": {"column": "A"},
        "voltage": {"column": "V"},
        "interval_s": 10,
    }
    more: dict[str, Any] = ({}, {"separator": ";", "decimal": ","}, {"thousands": ","}, {"encoding": "utf-16"})[
        choice // 4 % 4
    ]
    path = Path(tempfile.gettempdir()) / name
    path.write_bytes(raw[1:])
    log, faults = read_log(path, from_data(LogFormat, data | more))
    if log is None and not faults:
        raise AssertionError("refused without a word")


def packed(raw: bytes) -> None:
    """A packed log, by its ending."""
    endings = ("gz", "xz", "parquet")
    logs(b"\0" + raw[1:], f"x.csv.{endings[raw[0] % 3 if raw else 0]}".replace("csv.parquet", "parquet"))


def words(raw: bytes) -> None:
    """Words on a page: they may add no element."""
    import html5lib  # noqa: PLC0415
    import markdown  # noqa: PLC0415

    from site_builder.pages.safe_text import escaped, safe  # noqa: PLC0415

    text = raw.decode("utf-8", "replace")
    page = f'a {escaped(text)}\n\n<p title="{safe(text)}">{safe(text)}</p>\n'
    html = markdown.markdown(page, extensions=["attr_list", "md_in_html", "tables", "toc"])
    tags = [one.tag for one in html5lib.parseFragment(html, namespaceHTMLElements=False).iter()][1:]
    if tags != ["p", "p"]:
        raise AssertionError(html)


DOORS: dict[str, Door] = {"results": results, "values": values, "logs": logs, "packed": packed, "words": words}


def main() -> None:
    """Fuzz one door until it breaks or the time is up."""
    if len(sys.argv) < 2 or sys.argv[1] not in DOORS:
        sys.exit(f"say which door: {', '.join(DOORS)}")
    door = DOORS[sys.argv.pop(1)]
    atheris: Any = importlib.import_module("atheris")
    with atheris.instrument_imports(include=["site_builder", "markdown", "yaml"]):
        door((SEEDS / "quern-12-100.yml").read_bytes())
    atheris.Setup(sys.argv, door)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
