"""Which column of a log is which, and which is missing; the words are kept in tests/data/invalid."""

from __future__ import annotations

import pytest

from site_builder.catalogue_records import LogFormat
from site_builder.log_headings import columns_of, lacking_columns

FORM = LogFormat.model_validate(
    {
        "time": {"column": "elapsed s"},
        "current": {"column": "current A"},
        "voltage": {"column": "voltage V"},
        "battery_c": {"column": "probe C"},
        "ambient_c": {"column": "air C"},
        "heading_line": 3,
        "interval_s": 5,
    }
)
NEEDED = ["elapsed s", "current A", "voltage V"]


def test_all_columns() -> None:
    header = [*NEEDED, "probe C", "air C", "note"]
    assert columns_of(header, FORM) == {
        "time": "elapsed s",
        "current": "current A",
        "voltage": "voltage V",
        "battery_c": "probe C",
        "ambient_c": "air C",
    }
    assert lacking_columns(header, FORM) == []


@pytest.mark.parametrize(
    ("more", "way_out"),
    [
        (["Probe C"], "if that is its column 'Probe C', call it as its bench does, or the other way round"),
        (["note", "probe_C"], "if that is its column 'probe_C', call it as its bench does, or the other way round"),
        (
            ["note", ""],
            "add it, unless nothing was connected",
        ),
    ],
)
def test_a_missing_one_is_a_warning_with_the_nearest_heading(more: list[str], way_out: str) -> None:
    """The heading of another column is no misspelling of it."""
    (fault,) = lacking_columns([*NEEDED, "air C", *more], FORM)
    assert (fault.line, fault.code, fault.severity) == (3, "log-column-missing", "warning")
    assert fault.message == "the log has no column probe C, which its bench declares for the battery's temperature"
    assert fault.hint == way_out
