"""What a cable takes, and what a short circuit gives: figures for choosing cable and fuse beside a test. Pure."""

from __future__ import annotations

import math

from site_builder.measured import Measured, through

# Annealed copper: the International Annealed Copper Standard (IEC 60028) at 20 °C.
COPPER_OHM_M = 1.7241e-8
COPPER_PER_K = 0.00393
COPPER_C = 20.0
# A pulse this short, or 1 kHz, shows the ohmic part alone; anything slower adds what a short circuit never waits for.
OHMIC_S = 0.010
SLOW_PULSE_FACTOR = 3.0


def awg_diameter_m(gauge: int) -> float:
    """Diameter of a solid wire of an American wire gauge, d = 0.127 mm·92^((36 - n)/39). [m]

    Args:
        gauge: The number; 0 for 1/0, -1 for 2/0, -2 for 3/0, -3 for 4/0.

    Source:
        ASTM B258.

    >>> round(1000 * awg_diameter_m(36), 3)
    0.127
    """
    return 0.127e-3 * math.pow(92, (36 - gauge) / 39)


def awg_area_mm2(gauge: int) -> float:
    """Cross-section of a solid wire of an American wire gauge. [mm²]

    >>> round(awg_area_mm2(8), 2)
    8.37
    """
    return math.pi / 4 * awg_diameter_m(gauge) ** 2 * 1e6


def copper_ohm_per_m(area_mm2: float, temperature_c: float = COPPER_C) -> float:
    """Resistance of a copper wire to direct current, ρ₂₀(1 + α(t - 20 °C))/A. [Ω/m]

    Stranded wire of the same copper area has about 2 % more, since its strands are longer than the cable.

    Source:
        IEC 60028: ρ₂₀ 1.7241e-8 Ω m, α 0.00393/K.
    """
    return COPPER_OHM_M * (1 + COPPER_PER_K * (temperature_c - COPPER_C)) / (area_mm2 * 1e-6)


def cable_drop_v(current_a: float, length_m: float, area_mm2: float, temperature_c: float = COPPER_C) -> float:
    """Voltage that a cable takes, there and back. [V]

    Args:
        current_a: Current. [A]
        length_m: From battery to load, one way. [m]
        area_mm2: Copper cross-section. [mm²]
        temperature_c: Of the copper. [°C]

    >>> round(cable_drop_v(100, 1.0, 35), 3)
    0.099
    """
    return current_a * 2 * length_m * copper_ohm_per_m(area_mm2, temperature_c)


def fault_current_a(
    open_circuit_v: Measured, resistance_milliohm: Measured, *, ohmic: bool, in_parallel: int = 1
) -> Measured:
    """Current of a short circuit at the terminals, U_oc/R, of so many batteries in parallel. [A]

    Args:
        open_circuit_v: Open-circuit voltage. [V]
        resistance_milliohm: Of one battery. [mΩ]
        ohmic: Whether it was taken within 10 ms or at 1 kHz. Slower pulses show more than the ohmic part, so that the
            current is "at least" this.
        in_parallel: Batteries in parallel; each adds its own.

    Raises:
        ValueError: The resistance is not above zero.
    """
    if resistance_milliohm.value <= 0:
        raise ValueError(f"no battery has a resistance of {resistance_milliohm.value} mΩ")
    current = through(lambda u, r: in_parallel * u / r * 1000, open_circuit_v, resistance_milliohm, unit="A")
    return current if ohmic and resistance_milliohm.bound == "exact" else current.as_bound("at_least")


def breaking_capacity_a(fault: Measured) -> float:
    """What a fuse has to be able to break: the fault current with its ±, three times it where it is "more than". [A]

    The factor is this project's judgement of how far a pulse of seconds lies above the ohmic part.
    """
    most = fault.value + (fault.expanded or 0.0)
    return most if fault.bound == "exact" else SLOW_PULSE_FACTOR * most
