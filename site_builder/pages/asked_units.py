"""What pages need that read ids of batteries from an address: who had which id before, and who has no results."""

from __future__ import annotations

from collections.abc import Container, Mapping
from typing import Any

from site_builder.derived import Derived
from site_builder.pages.words import STATUS, name_of


def asked_units(derived: Derived, shown: Container[str]) -> Mapping[str, Any]:
    """Former ids with the present ones (`moved`), and words for each battery that is not shown (`without`), by its id.

    Args:
        derived: Everything that may be shown.
        shown: Ids of the batteries that the page has results of.
    """
    return {
        "moved": {former: unit.id for unit in derived.units for former in unit.record.unit.former_ids},
        "without": {
            unit.id: f"{name_of(unit.record)}: {_why(unit.record.unit.status)}"
            for unit in derived.units
            if unit.id not in shown
        },
    }


def _why(status: str) -> str:
    return "not tested for this" if status == "published" else STATUS.get(status, status)
