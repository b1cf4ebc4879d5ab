"""The table's columns of loads: what each battery ran or should run, by the letters that its filters ask."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from site_builder.catalogue_records import Load
from site_builder.pages.load_words import STARTS, short_title
from site_builder.pages.table_columns import missing
from site_builder.pages.table_questions import BORDERLINE, NOT, PREDICTED, RAN, STARTED, UNKNOWN
from site_builder.pages.table_views import SortCell, SortColumn

MOST_IN_SET = 6
CELLS = {
    RAN: SortCell(words="ran", value=5),
    STARTED: SortCell(words="started, cut off later", value=4),
    PREDICTED: SortCell(words="should start", value=3),
    BORDERLINE: SortCell(words=STARTS["borderline"], value=2),
    NOT: SortCell(words=STARTS["will not"], value=1),
    UNKNOWN: missing(STARTS["not known"]),
}


def load_columns(loads: Mapping[str, Load], letters: Sequence[str]) -> tuple[SortColumn, ...]:
    """A column for each load of the catalogue; those that most batteries were seen with make up the set "loads".

    `letters` holds a letter for each load, by battery (`table_questions.loads`).
    """
    seen = {name: sum(each[place] in {RAN, STARTED} for each in letters) for place, name in enumerate(loads)}
    most_seen = sorted(loads, key=lambda name: -seen[name])[:MOST_IN_SET]  # alike: in the catalogue's order
    return tuple(
        SortColumn(
            key=f"load_{name}",
            heading=short_title(name, loads),
            sets="loads" if name in most_seen else "",
            down=True,
            is_text=True,
            in_words=True,
        )
        for name in loads
    )
