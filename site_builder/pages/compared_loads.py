"""The comparison's rows of loads: what was seen first, then what is projected, each said so. Nothing is derived."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import partial

from site_builder.catalogue_records import Load
from site_builder.derive.results import LoadAnswer
from site_builder.derived import DerivedUnit
from site_builder.pages.compared_cells import PROJECTED, SEEN, Cell, Row, measured_cell
from site_builder.pages.load_words import (
    MAY_CUT_OFF,
    STARTS,
    hours_words,
    may_cut_off,
    ran_whole_charge,
    seen_links,
    short_title,
)
from site_builder.pages.safe_text import sentence
from site_builder.pages.start_words import outcome_words


def load_row(name: str, loads: Mapping[str, Load]) -> Row:
    """One load, of each battery."""
    cell = partial(_load_cell, name, loads)
    return Row(key=f"load-{name}", title=short_title(name, loads), cell=cell, missing=STARTS["not known"])


def _load_cell(name: str, loads: Mapping[str, Load], unit: DerivedUnit) -> Cell | None:
    """What was seen, each run leading to its test; below it the projected hours, else whether it would start."""
    seen = seen_links(unit, name, loads, "../")
    projected = _projected(unit, unit.result.loads.get(name), only_hours=bool(seen))
    if not seen:
        return projected
    words = sentence("{} ({})", seen, SEEN)
    whole = ran_whole_charge(unit, name)
    if projected is None:
        return Cell(words=words, seen=whole)
    return replace(projected, words=sentence("{}<br>{}", words, projected.words), seen=whole)


def _projected(unit: DerivedUnit, answer: LoadAnswer | None, *, only_hours: bool) -> Cell | None:
    """Projected hours; where there are none, whether it would start, which a run that was seen tells better."""
    if answer is None:
        return None
    hours = hours_words(answer)
    if hours is None:
        known = answer.start != "not known" and not only_hours
        return Cell(words=sentence("{} ({})", outcome_words(unit, answer, "../"), PROJECTED)) if known else None
    said = answer.start == "starts" or only_hours
    notes = [] if said else [f"start: {answer.start}"]
    notes += [MAY_CUT_OFF] if may_cut_off(answer) else []
    cell = measured_cell(answer.hours, notes=notes)
    return cell and replace(cell, words=sentence("{} ({})", hours, PROJECTED), is_projected=True)
