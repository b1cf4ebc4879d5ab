"""A comparison class: how it stands where it is graded, and who delivered how much of the label."""

from __future__ import annotations

from markupsafe import Markup

from site_builder import charts
from site_builder.derived import Derived, DerivedUnit
from site_builder.frames import Frames
from site_builder.measured import Measured
from site_builder.pages.capacity_section import measured_cell
from site_builder.pages.safe_text import sentence
from site_builder.pages.standing_sections import standing_sections
from site_builder.pages.text import COUNTS, counted, quantity
from site_builder.pages.views import Cell, Figure, PlainPage, Section, Table, columns
from site_builder.pages.words import against_label, name_of


def class_page(class_id: str, derived: Derived, frames: Frames) -> PlainPage:
    """The page of one class that has units."""
    title = derived.catalogue.classes[class_id].title
    units = _in_order(class_id, derived, frames)
    if len(units) == 1 and (share := _share(units[0])):
        summary = sentence("It delivered {}.", against_label(share))
    else:
        summary = _summary(units)
    lead = sentence("{} in this class. {}", counted(len(units), "battery", "batteries").capitalize(), summary)
    return PlainPage(
        title=title,
        description=f"{title}: what each battery delivered of its label, with what the instruments allow.",
        lead=sentence("{}{}", lead, _own_weights(class_id) if derived.catalogue.grading else ""),
        sections=(*standing_sections(class_id, derived), _delivered(units), *_without(units)),
    )


def _own_weights(class_id: str) -> Markup:
    return sentence(' <a href="../../priorities/?class={}">Weigh them yourself</a>.', Markup(class_id))  # noqa: S704  # a checked name


def _share(unit: DerivedUnit) -> Measured | None:
    return unit.result.metrics.get("share_of_rated")


def _in_order(class_id: str, derived: Derived, frames: Frames) -> list[DerivedUnit]:
    """The units of the class by the share of their label; then those of which it is only reported, then the rest."""
    of_class = {unit.id: unit for unit in derived.of_class(class_id)}
    table = frames.units[frames.units["id"].isin(list(of_class))]
    weaker = table["share_of_rated"].isna() * 2 + table["share_of_rated_basis"].eq("reported")
    by = table.assign(weaker=weaker).sort_values(["weaker", "share_of_rated", "id"], ascending=[True, False, True])
    return [of_class[id_] for id_ in by["id"]]


def _summary(units: list[DerivedUnit]) -> Markup:
    """How many delivered more or less than their label beyond what the instruments can be off."""
    shares = [share for unit in units if (share := _share(unit)) and share.basis == "measured"]
    more, less = sum(share.lowest > 1 for share in shares), sum(share.highest < 1 for share in shares)
    said = [f"{COUNTS[more] if more < len(COUNTS) else more} delivered more than the label" if more else "",
            f"{COUNTS[less] if less < len(COUNTS) else less} less" if less else ""]  # fmt: skip
    beyond = ", ".join(part for part in said if part)
    rest = len(units) - more - less
    if not beyond:
        return Markup("What they delivered differs from the label by no more than the instruments can be off.")
    for_rest = f" For {counted(rest, 'other', 'others')} that cannot be told." if rest else ""
    return sentence("{}{}, by more than the instruments can be off.{}", beyond[:1].upper(), beyond[1:], for_rest)


def _delivered(units: list[DerivedUnit]) -> Section:
    shown = [unit for unit in units if _share(unit)]
    return Section(
        anchor="delivered",
        heading=Markup("Delivered against the label"),
        short="Delivered",
        figure=_figure(shown) if shown else None,
    )


def _figure(units: list[DerivedUnit]) -> Figure:
    shares = [(name_of(unit.record), share) for unit in units if (share := _share(unit))]
    rows = tuple(_table_row(unit) for unit in units)
    return Figure(
        id="shares",
        says="Share of the label that came out. Where the fine lines overlap, the order means nothing",
        description="Share of the label delivered by each battery; the numbers are in the table below.",
        chart=charts.shares_of_label(
            [charts.Share(name=name, measured=share, words=_words(share)) for name, share in shares]
        ),
        table=Table(columns=columns("Battery", "Of its label", "Charge", "Energy"), rows=rows),
    )


def _words(share: Measured) -> str:
    return f"{quantity(share)} as read" if share.basis == "as_read" else str(quantity(share))


def _table_row(unit: DerivedUnit) -> tuple[Cell, ...]:
    link = sentence('<a href="../../units/{}/">{}</a>', Markup(unit.id), name_of(unit.record))  # noqa: S704  # a checked name
    metrics = unit.result.metrics
    return (
        Cell(words=link),
        *(measured_cell(metrics.get(name)) for name in ("share_of_rated", "delivered_ah", "delivered_wh")),
    )


def _without(units: list[DerivedUnit]) -> tuple[Section, ...]:
    missing = tuple(
        sentence('<a href="../../units/{}/">{}</a>', Markup(unit.id), name_of(unit.record))  # noqa: S704  # a checked name
        for unit in units
        if not _share(unit)
    )
    if not missing:
        return ()
    return (Section(anchor="untested", heading=Markup("Not discharged yet"), short="Not discharged", lists=(missing,)),)
