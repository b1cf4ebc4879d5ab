"""Makes the simulated logs in tests/data/pybamm: `python -m tests.external.export_pybamm`, with PyBaMM installed.

Model and solver are those of the figures in test_simulated_cell.py: a single-particle model, parameters Prada2013
(LiFePO4, 2.3 Ah) at 298 K, from full to 2.5 V; the solver's defaults would be 0.2 % off in energy.
"""

from __future__ import annotations

import gzip
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent.parent / "data" / "pybamm"
NOMINAL_AH = 2.3
RATES_IT = (0.05, 0.2, 1.0)
SAMPLE_S = 10
PULSE_IT = ((0.2, 10), (1.0, 1))
CYCLE_FILES = ("cycle-discharge.csv.gz", "cycle-charge.csv.gz")


def discharge_file(rate_it: float) -> str:
    """The name of the log at this rate."""
    return f"discharge-{rate_it:g}-it.csv.gz"


def log_files() -> dict[str, bytes]:
    """File name → content, simulated now: the discharges at each rate, the pulse at half charge, and a cycle."""
    texts = {discharge_file(rate): discharged(rate) for rate in RATES_IT} | dict(
        zip(CYCLE_FILES, cycled(), strict=True)
    )
    files = {name: gzip.compress(text.encode(), mtime=0) for name, text in texts.items()}
    return files | {"pulse.csv": pulsed().encode()}


def discharged(rate_it: float) -> str:
    """A discharge at constant current until 2.5 V: a row every 10 s and one at the end."""
    step = f"Discharge at {rate_it * NOMINAL_AH} A until 2.5 V"
    return _text(_solution([step], start=1.0, period=f"{SAMPLE_S} seconds"))


def pulsed() -> str:
    """0.2 I_t for 10 s, then 1 I_t for 1 s, from half charge; a row every second."""
    steps = [f"Discharge at {rate * NOMINAL_AH} A for {seconds} seconds" for rate, seconds in PULSE_IT]
    return _text(_solution([tuple(steps)], start=0.5, period="1 second"), decimals=7)


def cycled() -> tuple[str, str]:
    """Discharge and charge at 0.2 I_t of the second of two equal cycles: it ends in the state in which it starts."""
    discharge, charge = cycle_parts(0.2 * NOMINAL_AH)
    return _text(discharge), _text(charge)


def cycle_parts(current_a: float) -> tuple[Any, Any]:
    """To 2.5 V, an hour's rest, to 3.6 V and on at 3.6 V until a tenth of the current, an hour's rest; the second time.

    Returns:
        PyBaMM's solutions of the discharge, and of both parts of the charge together.
    """
    rest, held = "Rest for 1 hour", f"Hold at 3.6 V until {current_a / 10} A"
    cycle = (f"Discharge at {current_a} A until 2.5 V", rest, f"Charge at {current_a} A until 3.6 V", held, rest)
    second = _solution([cycle] * 2, start=1.0, period=f"{SAMPLE_S} seconds").cycles[1]
    return second.steps[0], second.steps[2] + second.steps[3]


def _solution(steps: list[Any], *, start: float, period: str) -> Any:
    import pybamm  # noqa: PLC0415  # of an optional group, and slow to import

    simulation = pybamm.Simulation(
        pybamm.lithium_ion.SPM(),
        experiment=pybamm.Experiment(steps, period=period),
        parameter_values=pybamm.ParameterValues("Prada2013"),
        solver=pybamm.IDAKLUSolver(rtol=1e-8, atol=1e-10),
    )
    return simulation.solve(initial_soc=start)


def _text(solution: Any, decimals: int = 4) -> str:
    columns = [solution[name].entries for name in ("Time [s]", "Current [A]", "Voltage [V]")]
    columns[0] = columns[0] - columns[0][0]
    rows = (f"{seconds:.9g},{amps:.9g},{volts:.{decimals}f}\n" for seconds, amps, volts in zip(*columns, strict=True))
    return "elapsed s,current A,voltage V\n" + "".join(rows)


if __name__ == "__main__":
    FOLDER.mkdir(parents=True, exist_ok=True)
    for name, content in log_files().items():
        (FOLDER / name).write_bytes(content)
