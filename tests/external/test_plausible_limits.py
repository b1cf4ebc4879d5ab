"""Limits of what is plausible, against what the cells' reactions allow and what simulated cells deliver.

Sources:
    Constants: CODATA 2018, F = 96 485.332 C/mol. Molar masses: CIAAW standard atomic weights, rounded.
    Reactions: LiFePO4 + 6 C → FePO4 + LiC6 at 3.3 V; Pb + PbO2 + 2 H2SO4 → 2 PbSO4 + 2 H2O at 2.04 V (from memory, as
    in textbooks of electrochemistry).
    Simulated LiFePO4 cell: PyBaMM, single-particle model, parameter set Prada2013, 298 K.
"""

from __future__ import annotations

import pytest

from site_builder.derive.plausible import CHEMISTRIES

FARADAY_AH = 96_485.332 / 3600  # Ah/mol
LI, FE, P, O, C, PB, H, S = 6.94, 55.845, 30.974, 15.999, 12.011, 207.2, 1.008, 32.06  # noqa: E741  # g/mol
SIMULATED = {0.05: (2.23227, 7.16815), 0.2: (2.17473, 6.95019), 1.0: (1.87970, 5.89129)}  # I_t: Ah, Wh


@pytest.mark.parametrize(
    ("chemistry", "electrons", "volts", "grams"),
    [
        ("LiFePO4", 1, 3.3, LI + FE + P + 4 * O + 6 * C),
        ("lead-acid AGM", 2, 2.04, PB + PB + 2 * O + 2 * (2 * H + S + 4 * O)),
        ("lead-acid flooded", 2, 2.04, PB + PB + 2 * O + 2 * (2 * H + S + 4 * O)),
    ],
)
def test_a_limit_lies_between_a_third_and_two_thirds_of_what_the_reaction_allows(
    chemistry: str, electrons: int, volts: float, grams: float
) -> None:
    """No battery is all active material; one at the limit would already be an extraordinary one."""
    allowed = electrons * FARADAY_AH * volts / grams * 1000  # Wh/kg: 384 and 170
    assert allowed / 3 < CHEMISTRIES[chemistry].wh_per_kg < allowed * 2 / 3


@pytest.mark.parametrize("rate", SIMULATED)
def test_a_simulated_cell_is_plausible_at_any_usual_rate(rate: float) -> None:
    charge, energy = SIMULATED[rate]
    low, high = CHEMISTRIES["LiFePO4"].mean_v
    assert low < energy / charge < high


def test_one_cell_more_or_less_is_noticed() -> None:
    """The mean voltage of three or five simulated cells lies outside the limits of four."""
    low, high = CHEMISTRIES["LiFePO4"].mean_v
    means = [energy / charge for charge, energy in SIMULATED.values()]
    assert all(3 * mean < 4 * low and 5 * mean > 4 * high for mean in means)
