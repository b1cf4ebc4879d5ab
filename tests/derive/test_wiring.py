"""Cable and fault current: edges. The numbers themselves stand in tests/external/test_build.py."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from site_builder.derive.wiring import breaking_capacity_a, cable_drop_v, copper_ohm_per_m, fault_current_a
from site_builder.measured import exact

OPEN_V = exact(13.2, "V")


@pytest.mark.parametrize("milliohm", [0.0, -1.0])
def test_no_battery_is_without_resistance(milliohm: float) -> None:
    with pytest.raises(ValueError, match="no battery"):
        fault_current_a(OPEN_V, exact(milliohm, "mΩ"), ohmic=True)


def test_a_resistance_that_is_at_most_gives_at_least_so_much() -> None:
    """Sensed over a lead of unknown resistance: the battery itself has less."""
    found = fault_current_a(OPEN_V, exact(2.0, "mΩ").as_bound("at_most"), ohmic=True)
    assert found.bound == "at_least"
    assert breaking_capacity_a(found) == pytest.approx(3 * 6600)


@given(st.floats(0.1, 1000), st.floats(0.1, 20), st.floats(0.5, 300), st.floats(-40, 100))
def test_a_thicker_and_colder_cable_takes_less(amps: float, metres: float, area: float, celsius: float) -> None:
    plain = cable_drop_v(amps, metres, area, celsius)
    assert 0 < cable_drop_v(amps, metres, 2 * area, celsius) < plain
    assert cable_drop_v(amps, metres, area, celsius - 10) < plain
    assert copper_ohm_per_m(area, celsius) > 0
