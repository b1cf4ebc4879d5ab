"""The questions that a unit's page answers and batteries are compared by, each with its anchor and its words."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True, slots=True)
class Asked:
    """One question: its anchor on a unit's page, its heading, and what a list of links calls it."""

    anchor: str
    heading: str
    short: str


RUNS = Asked(anchor="runs", heading="What does it run, and for how long?", short="What does it run?")
LABEL = Asked(anchor="label", heading="Does it hold what its label says?", short="Does it hold its label?")
CARRIES = Asked(anchor="carries", heading="How much does it carry, and does it come back?", short="What does it carry?")
COLD = Asked(anchor="cold", heading="What does it do in the cold?", short="In the cold")
IDLE = Asked(anchor="idle", heading="How does it sag, charge and stand idle?", short="Sag, charge, standing")
BUILD = Asked(anchor="build", heading="How is it built, and what does it hold for its mass?", short="Build")
COST = Asked(anchor="cost", heading="What does it cost for what it holds?", short="Cost")
GRADE = Asked(anchor="grade", heading="How was it graded, and what could change that?", short="Grade")
