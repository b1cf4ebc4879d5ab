"""What no single field of grading.yml and classes.yml can show: sums, orders, names that lead nowhere, overlaps.

Checks are functions in a list; each looks at the catalogue and returns its problems. Nothing is graded here.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations, pairwise

from site_builder.catalogue_records import Catalogue, ComparisonClass, Span
from site_builder.criteria import FACTS, unit_of
from site_builder.grade import BEST, WORST
from site_builder.grading_records import Grading, Part
from site_builder.load import Loaded
from site_builder.nomenclature import METRICS
from site_builder.problems import Problem
from site_builder.yaml_text import Document
from site_builder.yaml_text import Path as FieldPath

PRICES = frozenset({"price_per_kwh", "life_price_per_kwh"})


@dataclass(frozen=True, kw_only=True, slots=True)
class Scene:
    """The grading among what it may refer to; `loads_known` is false where loads.yml has an error of its own."""

    grading: Grading
    document: Document
    catalogue: Catalogue
    loads_known: bool = True

    def parts(self) -> Iterator[tuple[FieldPath, Part]]:
        """Where each part stands, and the part."""
        for name, criterion in self.grading.criteria.items():
            for i, part in enumerate(criterion.parts):
                yield ("criteria", name, "parts", i), part


def check_grading(loaded: Loaded, unread: frozenset[str]) -> list[Problem]:
    """Every problem of the grading and of the classes that reading did not find."""
    problems = list(check_classes(loaded))
    grading, document = loaded.catalogue.grading, loaded.documents.get("grading.yml")
    if grading is None or document is None:
        return problems
    known = "loads.yml" not in unread
    scene = Scene(grading=grading, document=document, catalogue=loaded.catalogue, loads_known=known)
    return problems + [problem for check in GRADING_CHECKS for problem in check(scene)]


def check_weights(scene: Scene) -> Iterable[Problem]:
    """Weights and shares are parts of a whole: their sum is above zero. A price weighs nothing in a grade."""
    criteria = scene.grading.criteria
    if sum(one.weight for one in criteria.values()) <= 0:
        words = ("the weights add up to zero", "give at least one criterion a weight", "grading-weights")
        yield scene.document.problem(("criteria",), *words)
    for name, one in criteria.items():
        path: FieldPath = ("criteria", name)
        if sum(part.share for part in one.parts) <= 0:
            words = ("the shares of its parts add up to zero", "give at least one a share", "grading-weights")
            yield scene.document.problem((*path, "parts"), *words)
        if one.weight > 0 and any(part.fact in PRICES for part in one.parts):
            message = "a price has a weight here: the grade would move whenever a shop changes a tag"
            yield scene.document.problem((*path, "weight"), message, "write weight: 0", "grading-price")


def check_facts(scene: Scene) -> Iterable[Problem]:
    """What is graded is a metric or a fact that exists."""
    known = [*METRICS, *FACTS]
    for path, part in scene.parts():
        if part.fact not in known:
            near = difflib.get_close_matches(part.fact[:60], known, n=1, cutoff=0.5)
            hint = f"did you mean {near[0]!r}?" if near else f"facts are {', '.join(FACTS)}, or any metric"
            message = f"there is no metric or fact {part.fact[:60]!r}"
            yield scene.document.problem((*path, "fact"), message, hint, "unknown-fact")


def check_anchors(scene: Scene) -> Iterable[Problem]:
    """Anchors rise, points go one way only, and both ends of the scale are reached."""
    for path, part in scene.parts():
        anchors = part.anchors
        for i, (before, after) in enumerate(pairwise(anchors), start=1):
            if after.at <= before.at:
                message = f"{after.at:g} does not lie above the anchor before it, {before.at:g}"
                where: FieldPath = (*path, "anchors", i, "at")
                yield scene.document.problem(where, message, "list anchors from the smallest up", "grading-anchors")
        points = [anchor.points for anchor in anchors]
        if points and points not in (sorted(points), sorted(points, reverse=True)):
            message = "the points rise and fall again: better evidence could lower a score"
            yield scene.document.problem((*path, "anchors"), message, "let them go one way only", "grading-anchors")
        if anchors and {min(points), max(points)} != {WORST, BEST}:
            message = f"the points run from {min(points):g} to {max(points):g}, so that its weight is not what it says"
            hint = "give the worst anchor 0 points and the best one 100"
            yield scene.document.problem((*path, "anchors"), message, hint, "grading-anchors")


def check_levels(scene: Scene) -> Iterable[Problem]:
    """A number has anchors, and every word that a fact can be has points."""
    for path, part in scene.parts():
        if part.fact not in METRICS and part.fact not in FACTS:
            continue
        words = FACTS[part.fact].words if part.fact in FACTS else ()
        is_number = unit_of(part.fact) is not None
        if is_number != bool(part.anchors):
            message = "its value is a number, and has no anchors" if is_number else "its value is a word, no number"
            hint = "add anchors: with at, points and because" if is_number else "write levels: instead of anchors:"
            yield scene.document.problem(path, message, hint, "grading-anchors")
        for word in sorted(set(words) - set(part.levels)):
            message = f"{word!r} has no points"
            yield scene.document.problem(path, message, f"add {word}: under levels", "grading-levels")
        for word in sorted(set(part.levels) - set(words)):
            hint = f"known are {', '.join(words)}" if words else "this value is always a number: delete levels"
            where: FieldPath = (*path, "levels", word)
            message = f"{word[:60]!r} is no word that {part.fact} can be"
            yield scene.document.problem(where, message, hint, "grading-levels", of_key=True)


def check_loads(scene: Scene) -> Iterable[Problem]:
    """A fact about loads names loads that exist; a heater is one without an inrush."""
    for path, part in scene.parts():
        if part.fact not in METRICS and part.fact not in FACTS:
            continue
        of_loads = part.fact in FACTS and FACTS[part.fact].of_loads
        if of_loads != (part.loads is not None):
            message = f"{part.fact} is asked of loads, and none is named" if of_loads else "this is no fact about loads"
            hint = "add loads: [kettle, …]" if of_loads else "delete loads"
            yield scene.document.problem(path, message, hint, "grading-loads")
        for name in part.loads or ():
            yield from _load_problems(scene, (*path, "loads"), name, part.fact)


def _load_problems(scene: Scene, path: FieldPath, name: str, fact: str) -> Iterable[Problem]:
    loads = scene.catalogue.loads
    if name not in loads and scene.loads_known:
        near = difflib.get_close_matches(name, loads, n=1, cutoff=0.6)
        hint = f"did you mean {near[0]!r}?" if near else "add it to catalogue/loads.yml"
        yield scene.document.problem(path, f"there is no load {name!r}", hint, "unknown-load")
    elif fact == "heater" and name in loads and loads[name].start is not None:
        message = f"{name!r} has an inrush: its current at the start is not the one it runs at"
        yield scene.document.problem(path, message, "ask it of motor, or name another load", "grading-loads")


def check_gates(scene: Scene) -> Iterable[Problem]:
    """Each gate stands once; only the one for overload has a current and a time, and it needs both."""
    seen: set[str] = set()
    for i, gate in enumerate(scene.grading.gates):
        path: FieldPath = ("gates", i)
        if gate.when in seen:
            yield scene.document.problem(path, f"{gate.when!r} stands here twice", "keep one of them", "grading-gates")
        seen.add(gate.when)
        needs = gate.when == "no cut-off"
        if any((value is not None) != needs for value in (gate.times_rated, gate.for_s)):
            message = "times_rated and for_s are missing" if needs else "times_rated and for_s do not belong here"
            hint = "write times_rated: 1.5 and for_s: 60" if needs else "delete them"
            yield scene.document.problem(path, message, hint, "grading-gates")


def check_classes(loaded: Loaded) -> Iterable[Problem]:
    """No unit can be in two classes, and no class is empty by its own bands."""
    document = loaded.documents.get("classes.yml")
    if document is None:
        return
    classes = loaded.catalogue.classes
    for name, one in classes.items():
        for band in ("nominal_v", "capacity_ah"):
            span: Span = getattr(one, band)
            if span.from_.best >= span.below.best:
                message = f"nothing lies from {span.from_.best:g} up to, but not including, {span.below.best:g}"
                yield document.problem((name, band), message, "write the smaller number first", "class-empty")
    for (first, one), (second, two) in combinations(classes.items(), 2):
        if _overlap(one, two):
            message = f"a battery can be in this class and in {first!r}"
            hint = "let one band start where the other ends, or separate the chemistries"
            yield document.problem((second,), message, hint, "class-overlap", of_key=True)


def _overlap(one: ComparisonClass, two: ComparisonClass) -> bool:
    spans = ((one.nominal_v, two.nominal_v), (one.capacity_ah, two.capacity_ah))
    meet = all(a.from_.best < b.below.best and b.from_.best < a.below.best for a, b in spans)
    return meet and bool(set(one.chemistry) & set(two.chemistry))


GRADING_CHECKS: tuple[Callable[[Scene], Iterable[Problem]], ...] = (
    check_weights,
    check_facts,
    check_anchors,
    check_levels,
    check_loads,
    check_gates,
)
