"""What of a faulty results file can still be checked: its faults are cut out, the rest becomes a record.

Such a record is for checks alone; nothing is derived from it. Reads and writes nothing.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError

from site_builder.records import ResultsFile
from site_builder.validate import from_data, place_of, refused_fields
from site_builder.yaml_text import Document, Path, shown_path, value_at

# Each round cuts deeper where a shallower cut left a gap; a file that needs more has nothing sound in it.
MAX_ROUNDS = 12
MAX_FAULTS = 1000  # at once
# What no record can do without; no check looks at these where the file's own value was faulty.
STAND_INS: Mapping[str, Mapping[str, Any]] = {
    "": {"unit": {}, "label": {}},
    "unit": {"maker": "not readable", "model": "not readable"},
    "label": {"chemistry": "LiFePO4", "nominal_v": 12.8, "capacity_ah": 100},
}
TEST_STAND_INS = {"ended_by": "unknown", "outcome": "ran", "at": "full"}


def sound_part(document: Document, unit_id: str) -> tuple[ResultsFile, frozenset[str]] | None:
    """The record without its faults, and the fields that were cut out of it; None where nothing is left.

    Args:
        document: The file as it was read.
        unit_id: The id it should have, by its name.
    """
    if not isinstance(document.data, Mapping):
        return None
    data = copy.deepcopy(document.data)
    cut = set(refused_fields(document))
    for _ in range(MAX_ROUNDS):
        try:
            return from_data(ResultsFile, data), frozenset(cut)
        except ValidationError as error:
            faults = [(place_of(one, data)[0], one["type"] == "missing") for one in error.errors(include_url=False)]
        if len(faults) > MAX_FAULTS:
            return None
        for path, missing in faults:
            where = _mend(data, path, unit_id, missing=missing)
            if where is None:
                return None
            cut.add(shown_path(where))
    return None


def _mend(data: Any, path: Path, unit_id: str, *, missing: bool) -> Path | None:
    """Fills the gap or cuts the fault out, as little as can be; the place that was changed, None where that is all."""
    if missing:
        stand_in, above = _stand_in(path, unit_id), value_at(data, path[:-1])
        if stand_in is not None and isinstance(above, dict):
            above[path[-1]] = copy.copy(stand_in)
            return path
        path = path[:-1]
    # An entry of a list cannot go alone: those after it would move up, and problems would name the wrong one.
    while path and isinstance(path[-1], int):
        path = path[:-1]
    if not path:
        return None
    above, here = value_at(data, path[:-1]), path[-1]
    if isinstance(above, dict) and here in above:
        if _is_test(path) and isinstance(above[here], dict) and above[here].get("kind") != "build":
            above[here]["kind"] = "build"  # the kind without any key that it must have: what all tests may say remains
        else:
            del above[here]
    return path


def _stand_in(path: Path, unit_id: str) -> Any:
    *above, key = path
    if path == ("unit", "id"):
        return unit_id
    if len(above) == 2 and above[0] == "tests":
        return TEST_STAND_INS.get(str(key))
    return STAND_INS.get(shown_path(tuple(above)), {}).get(str(key))


def _is_test(path: Path) -> bool:
    return len(path) == 2 and path[0] == "tests"
