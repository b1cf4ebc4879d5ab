"""The nouns of grading.yml: criteria with fixed value functions, weights and gates, each with its reason. No logic.

Nothing here depends on which units there are: a value function's anchors stand in the file, not in the set.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Annotated, Any, Literal

from pydantic import PlainValidator, WithJsonSchema
from pydantic_core import PydanticCustomError

from site_builder.fields import Count, Date, LongText, Name, Names, Record, Text, said
from site_builder.values import shown

GateName = Literal["charges below its limit", "no cut-off", "label overstated"]
HIGHEST = 1e9


def _plain_between(low: float, high: float) -> Callable[[Any], float]:
    """A number as it stands: an anchor has no limits of its own and no unit but that of what it grades."""

    def validated(raw: Any) -> float:
        # bool is a subclass of int in Python, but a yes is no number.
        if isinstance(raw, bool) or not isinstance(raw, int | float) or not math.isfinite(raw):
            words = (f"{shown(raw)} is not a plain number", "write it alone, such as 0.95, without unit or quotes")
            raise PydanticCustomError("number-form", "{message}", {"message": words[0], "hint": words[1]})
        if not low <= raw <= high:
            message = f"{raw:.12g} is outside {low:.12g} to {high:.12g}"
            raise PydanticCustomError("number-outside", "{message}", {"message": message, "hint": "check the number"})
        return float(raw)

    return validated


def _schema(low: float, high: float) -> WithJsonSchema:
    return WithJsonSchema({"type": "number", "minimum": low, "maximum": high})


Position = Annotated[float, PlainValidator(_plain_between(-HIGHEST, HIGHEST)), _schema(-HIGHEST, HIGHEST)]
Points = Annotated[float, PlainValidator(_plain_between(0, 100)), _schema(0, 100)]
Weight = Annotated[float, PlainValidator(_plain_between(0, 1000)), _schema(0, 1000)]
Amount = Annotated[float, PlainValidator(_plain_between(0, HIGHEST)), _schema(0, HIGHEST)]
Share = Annotated[float, PlainValidator(_plain_between(0, 1)), _schema(0, 1)]


class Anchor(Record):
    """One corner of a value function."""

    at: Position = said("Value of what is graded, in its unit.", ...)
    points: Points = said("Points it is worth, 0 to 100.", ...)
    because: LongText = said("Why it is worth that.", ...)


class Level(Record):
    """What one word is worth."""

    points: Points = said("Points it is worth, 0 to 100.", ...)
    because: LongText = said("Why it is worth that.", ...)


class Part(Record):
    """One figure or observation that a criterion looks at, and what it is worth."""

    fact: Text = said("Metric or fact that is graded.", ...)
    title: Text = said("What it is, in words.", ...)
    share: Weight = said("Its share of the criterion, in proportion to the other parts' shares.", 1.0)
    anchors: tuple[Anchor, ...] = said("Corners of the value function for a number; straight lines between.", ())
    levels: dict[Text, Level] = said("What each word is worth, for an observation in words.", {})
    loads: Names | None = said("For a fact about loads: which loads of loads.yml, each with an equal share.")
    because: LongText = said("Why it is looked at, and why its value function has this shape.", ...)


class Criterion(Record):
    """One question that is graded."""

    title: Text = said("What it says a battery does, such as: Holds what its label says.", ...)
    weight: Weight = said("Its weight; only the proportion to the other weights counts.", ...)
    because: LongText = said("Why it weighs that.", ...)
    parts: tuple[Part, ...] = said("What it looks at.", ...)


class Gate(Record):
    """A finding that caps the score, whatever else is good."""

    when: GateName = said("The finding.", ...)
    cap: Points = said("The highest score that a unit with this finding can have.", ...)
    title: Text = said("The finding in words.", ...)
    because: LongText = said("Why it caps the score, and why there.", ...)
    times_rated: Amount | None = said("For no cut-off: multiple of the rated continuous current.")
    for_s: Amount | None = said("For no cut-off: carried this long without a trip. [s]")


class Grading(Record):
    """How units are graded: fixed, open, and with a version that every score names."""

    version: Count = said("Raised by one whenever an anchor, weight, share or gate changes.", ...)
    since: Date = said("From when this version holds.", ...)
    least_tested: Share = said("Share of the weight that must have been tested for a grade.", ...)
    criteria: dict[Name, Criterion] = said("Criteria by name.", ...)
    gates: tuple[Gate, ...] = said("Findings that cap the score.", ())
