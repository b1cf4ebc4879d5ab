"""What changed in a unit's own recorded evidence between two states of its file: what numbers are derived from.

Pure: looks at two records. Notes, videos, offers, the tester's view and the history are no evidence: a typo mended
there asks for nothing. Prices and benches are not the unit's own.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from pydantic import BaseModel

from site_builder.derive.headline import date_of
from site_builder.moments import Moment
from site_builder.records import ResultsFile
from site_builder.values import Stated

NO_EVIDENCE = frozenset({"note", "video", "log"})  # of a test; its log counts by its bytes
OF_A_SAMPLE = ("firmware",)  # what derivations read of a sample beside its name and its place in the file

Evidence = Mapping[str, Any]


def evidence_of(record: ResultsFile, log_hashes: Mapping[str, str]) -> Evidence:
    """Everything that derivations read of a results file, by its path in the file.

    A number counts by its value, its limits and its last digit, however it was written: 620 and "620 W" are the same,
    620.0 is another.

    Args:
        record: The file.
        log_hashes: The hash of each test's log, by the test's name.
    """
    found: dict[str, Any] = {"samples": tuple(record.samples)}
    found |= {
        f"samples.{name}.{key}": getattr(sample, key)
        for name, sample in record.samples.items()
        for key in OF_A_SAMPLE
        if getattr(sample, key) is not None
    }
    found |= dict(_leaves("label", record.label))
    for name, test in record.tests.items():
        found[f"tests.{name}.bench"] = test.bench or record.bench
        found[f"tests.{name}.date"] = date_of(test, record)
        found[f"tests.{name}.log"] = log_hashes.get(name)
        kept = {
            key: getattr(test, key) for key in type(test).model_fields if key not in NO_EVIDENCE | {"bench", "date"}
        }
        found |= {path: leaf for key, value in kept.items() for path, leaf in _leaves(f"tests.{name}.{key}", value)}
    return {path: leaf for path, leaf in found.items() if leaf is not None and leaf != ()}


def _leaves(path: str, value: Any) -> Iterator[tuple[str, Any]]:
    if isinstance(value, Stated):
        yield path, (value.best, value.low, value.high, value.form, value.step)
    elif isinstance(value, Moment):
        yield path, (value.date, value.earliest_s, value.latest_s)
    elif isinstance(value, BaseModel):
        for key in type(value).model_fields:
            if key not in NO_EVIDENCE:
                yield from _leaves(f"{path}.{key}", getattr(value, key))
    elif isinstance(value, list | tuple):
        for i, one in enumerate(value):
            yield from _leaves(f"{path}[{i}]", one)
    else:
        yield path, value


def changed_paths(old: Evidence, new: Evidence) -> tuple[str, ...]:
    """Paths whose evidence differs, was added or is gone; a test that is new or gone as a whole counts as one."""
    differing = [path for path in {**old, **new} if old.get(path) != new.get(path)]
    whole = _tests_of(old) ^ _tests_of(new)
    named = [f"tests.{_test_of(path)}" if _test_of(path) in whole else path for path in differing]
    return tuple(sorted(set(named)))


def touched_tests(paths: Iterable[str]) -> frozenset[str]:
    """The tests that these paths belong to; "" stands for what is no test's, such as the label."""
    return frozenset(_test_of(path) for path in paths)


def _tests_of(evidence: Iterable[str]) -> frozenset[str]:
    return touched_tests(evidence) - {""}


def _test_of(path: str) -> str:
    return path.split(".")[1] if path.startswith("tests.") else ""
