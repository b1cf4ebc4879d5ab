"""What the published data are: every file, and every column with its unit and meaning, from the dictionary itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from markupsafe import Markup

from site_builder.catalogue_records import Rates
from site_builder.derived import Derived
from site_builder.frames import COUNTS
from site_builder.nomenclature import (
    LOG_COLUMNS,
    METRICS,
    OF_TESTS_ONLY,
    PARTS,
    SHAPE_CHANGES,
    SHAPE_VERSION,
    TEST_COLUMNS,
    UNIT_COLUMNS,
    Meaning,
)
from site_builder.pages.safe_text import sentence
from site_builder.pages.text import day
from site_builder.pages.views import Cell, PlainPage, Section, Table, Words, columns

FILES = {
    "units.csv": "a row for every battery",
    "tests.csv": "a row for every test",
    "units.json": "every battery with all its numbers, and each uncertainty by its source",
    "datapackage.json": "what every file and column is, for programs (Data Package, frictionlessdata.io)",
    "result.schema.json": "what a results file may hold (JSON Schema)",
    "SHA256SUMS": "the hash of every file: sha256sum --check SHA256SUMS",
}


def data_page(derived: Derived) -> PlainPage:
    """The page that tells strangers what the columns mean."""
    address = f"{derived.published.address}data/units.csv"
    return PlainPage(
        title="Data",
        description="Every number of the catalogue as files, with the meaning and unit of each column.",
        lead=sentence(
            "Every number of this site, each with its ± or bound beside it, as of {}. "
            'Free for anyone who says where it comes from (<a href="https://creativecommons.org/licenses/by/4.0/" '
            'rel="license noopener">CC BY 4.0</a>).',
            day(derived.as_of),
        ),
        sections=(
            _one_line(address),
            _files(),
            _section("numbers", "The numbers", _numbers(), _beside()),
            replace(
                _section("units", "The other columns of units.csv", _meanings(_unit_columns(derived))),
                says=_rates(derived.catalogue.rates),
            ),
            _section("tests", "The other columns of tests.csv", _meanings(TEST_COLUMNS)),
            _section("logs", "Columns of the logs as used", _meanings(LOG_COLUMNS)),
            _shape(),
        ),
    )


def _unit_columns(derived: Derived) -> Mapping[str, Meaning]:
    """All but the grade's, where nothing is graded."""
    if derived.catalogue.grading is not None:
        return UNIT_COLUMNS
    return {name: one for name, one in UNIT_COLUMNS.items() if one.unit != "points" and name not in COUNTS}


def _rates(rates: Rates) -> tuple[Words, ...]:
    source = sentence(" ({})", rates.source) if rates.source else ""
    words = "Prices in other currencies are brought to {} by dated rates{}."
    return (sentence(words, rates.currency, source),) if rates.rates else ()


def _one_line(address: str) -> Section:
    pandas = sentence('In Python: <code data-copy>pandas.read_csv("{}")</code>', address)
    sheet = sentence(
        'In a spreadsheet that fetches by itself: <code data-copy>=IMPORTDATA("{}")</code>; others open the address.',
        address,
    )
    return Section(anchor="one-line", heading="In one line", short="In one line", says=(pandas, sheet))


def _files() -> Section:
    items: list[Words] = [sentence('<a href="{}">{}</a>: {}', name, name, says) for name, says in FILES.items()]
    items.append(
        Markup(
            "logs-as-used/: each log's rows that were used, in one form for all benches, linked in datapackage.json; "
            "the logs as they were recorded are linked on each battery's page"
        )
    )
    return Section(anchor="files", heading="The files", short="The files", lists=(tuple(items),))


def _section(anchor: str, heading: str, *tables: Table) -> Section:
    return Section(anchor=anchor, heading=heading, short=heading, tables=tables)


def _numbers() -> Table:
    return _meanings(
        {
            name: replace(one, description=f"{one.description} In tests.csv only.") if name in OF_TESTS_ONLY else one
            for name, one in METRICS.items()
        }
    )


def _beside() -> Table:
    rows = tuple(
        (Cell(words=sentence("<code>…{}</code>", ending)), Cell(words=says)) for ending, says in PARTS.items() if ending
    )
    headings = columns("Beside it", "Meaning", text={"Meaning"})
    return Table(columns=headings, rows=rows, caption="Each number's column is followed by these, named after it.")


def _meanings(meanings: Mapping[str, Meaning]) -> Table:
    """Each column and what it says, its unit behind it."""
    kinds = {"yes": "true or false", "date": "year-month-day", "1": "a fraction"}
    rows = tuple(
        (
            Cell(words=sentence("<code>{}</code>", name)),
            Cell(words=sentence("{}{}", one.description, f" [{kinds.get(one.unit, one.unit)}]" if one.unit else "")),
        )
        for name, one in meanings.items()
    )
    return Table(columns=columns("Column", "Meaning", text={"Meaning"}), rows=rows)


def _shape() -> Section:
    says = sentence(
        "The shape of the files is version {}. A column keeps its name and meaning within the first number; "
        "what changed:",
        SHAPE_VERSION,
    )
    items = tuple(sentence("{}: {}", version, what) for version, what in SHAPE_CHANGES.items())
    return Section(anchor="shape", heading="Changes of the shape", short="Changes", says=(says,), lists=(items,))
