"""The page of running times: what a visitor can choose, and what the page says before any script has run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from markupsafe import Markup

from site_builder.asking import CUT_OFFS_V, LARGE_A
from site_builder.catalogue_records import Load
from site_builder.derived import Derived
from site_builder.pages.runtime_data import inverter_titles
from site_builder.pages.safe_text import sentence
from site_builder.pages.start_words import IN_PARALLEL, LARGE_CURRENTS
from site_builder.pages.text import THIN, counted, number
from site_builder.pages.views import Words


@dataclass(frozen=True, kw_only=True, slots=True)
class Choice:
    """One line of a list to choose from."""

    value: str
    words: str


@dataclass(frozen=True, kw_only=True, slots=True)
class RuntimePage:
    """What can be chosen: loads without and behind an inverter, inverters, the voltages at which one stops, classes.

    `parallel` and `large` are the cautions beside answers with several batteries and with large currents.
    """

    title: str
    description: str
    lead: Words
    without: Words
    direct: tuple[Choice, ...]
    mains: tuple[Choice, ...]
    inverters: tuple[Choice, ...]
    stops: tuple[Choice, ...]
    classes: tuple[Choice, ...]
    parallel: Words
    large: Words


def runtime_page(derived: Derived) -> RuntimePage:
    """The form of the page; its answers are made in the browser."""
    catalogue = derived.catalogue
    published = sum(unit.record.unit.status == "published" for unit in derived.units)
    batteries = counted(published, "battery", "batteries")
    classes = {name: one.title for name, one in catalogue.classes.items() if derived.of_class(name)}
    return RuntimePage(
        title="How long would it run mine?",
        description="Choose what has to run: hours on each battery, whether it starts, and how many it takes.",
        lead=sentence(
            "Choose what has to run, several loads at once if need be. For each of {}: whether it starts, on what "
            "evidence, for how long, and how many it takes.",
            batteries,
        ),
        without=Markup(
            "Your browser runs no scripts, and this page reckons in the browser. For the loads of the catalogue "
            '<a href="../loads/">the same answers stand in a table</a>; <a href="../methods/loads/">how they are made'
            "</a> can be done by hand."
        ),
        direct=_choices(catalogue.loads, mains=False),
        mains=_choices(catalogue.loads, mains=True),
        inverters=tuple(Choice(value=name, words=title) for name, title in inverter_titles(catalogue)),
        stops=tuple(Choice(value=f"{volts:g}", words=f"{number(volts)}{THIN}V") for volts in CUT_OFFS_V),
        classes=tuple(Choice(value=name, words=title) for name, title in classes.items()),
        parallel=sentence("{} {}", IN_PARALLEL, Markup('<a href="../cautions/#parallel">In parallel</a>.')),
        large=sentence(
            "All at once takes {}{}A or more, from some of these much more. {} {}",
            number(LARGE_A),
            THIN,
            LARGE_CURRENTS,
            Markup('<a href="../cautions/#large-currents">Large currents</a>.'),
        ),
    )


def _choices(loads: Mapping[str, Load], *, mains: bool) -> tuple[Choice, ...]:
    return tuple(Choice(value=name, words=load.title) for name, load in loads.items() if load.mains == mains)
