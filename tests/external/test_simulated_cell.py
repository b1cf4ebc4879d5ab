"""Logs of a simulated cell, for which the simulator itself gives charge and energy.

PyBaMM (V. Sulzer et al., Journal of Open Research Software 9 (2021) 14): single-particle model, parameters of E. Prada
et al., J. Electrochem. Soc. 160 (2013) A616, 298 K, from full to 2.5 V; export_pybamm.py makes the logs anew.
"""

from __future__ import annotations

import gzip
from typing import Any

import numpy as np
import pytest

from site_builder.catalogue_records import LogFormat
from site_builder.derive.capacity import capacity
from site_builder.derive.discharge_log import discharge
from site_builder.logs import read_log
from site_builder.records import Label
from site_builder.series import Log
from tests.external import export_pybamm
from tests.external.recording import holds
from tests.logs_by_hand import capacity_test, setting

# Rate → charge [Ah] and energy [Wh], integrated by PyBaMM at its own time steps: rtol 1e-8, atol 1e-10.
GIVEN = {0.05: (2.23227, 7.16815), 0.2: (2.17473, 6.95019), 1.0: (1.87970, 5.89129)}
# What sampling every 10 s costs, the steep end included.
SAMPLING = 5e-5
FORM = LogFormat.model_validate(
    {
        "time": {"column": "elapsed s"},
        "current": {"column": "current A"},
        "voltage": {"column": "voltage V"},
        "interval_s": export_pybamm.SAMPLE_S,
    }
)
LABEL = Label.model_validate({"chemistry": "LiFePO4", "nominal_v": 3.2, "capacity_ah": export_pybamm.NOMINAL_AH})


def log_of(rate_it: float) -> Log:
    log, faults = read_log(export_pybamm.FOLDER / export_pybamm.discharge_file(rate_it), FORM)
    assert faults == []
    assert log is not None
    return log


@pytest.mark.parametrize("rate_it", GIVEN)
def test_charge_and_energy_are_the_simulators(rate_it: float) -> None:
    seen = discharge(log_of(rate_it), capacity_test(), setting(None))
    charge_ah, energy_wh = GIVEN[rate_it]
    assert seen.charge is not None
    assert seen.energy is not None
    assert seen.charge.value == pytest.approx(charge_ah, rel=SAMPLING)
    assert seen.energy.value == pytest.approx(energy_wh, rel=SAMPLING)


def test_a_slow_run_brought_to_the_reference_rate_meets_the_run_at_that_rate() -> None:
    """The cell's own exponents are 1.019 (charge) and 1.022 (energy), inside the range of the methods."""
    result = capacity(capacity_test(battery_c=25), log_of(0.05), setting(None), LABEL)
    at_reference = dict(zip(("comparable_ah", "comparable_wh"), GIVEN[0.2], strict=True))
    for name, given in at_reference.items():
        projected = result.metrics[name]
        # No instrument is named, so the interval is written out: what the exponent alone leaves open.
        assert projected.value == pytest.approx(given, abs=2 * projected.u)
        assert projected.value != pytest.approx(given, rel=1e-4)
        assert not holds(result.metrics[name.replace("comparable", "delivered")], given)


@pytest.mark.parametrize("name", ["pulse.csv", *map(export_pybamm.discharge_file, GIVEN)])
def test_the_logs_are_small(name: str) -> None:
    assert (export_pybamm.FOLDER / name).stat().st_size < 30_000


@pytest.fixture(scope="module")
def made_anew() -> dict[str, bytes]:
    return export_pybamm.log_files()


@pytest.mark.oracle
@pytest.mark.parametrize("name", ["pulse.csv", *map(export_pybamm.discharge_file, GIVEN)])
def test_pybamm_still_gives_these_logs(made_anew: dict[str, bytes], name: str) -> None:
    now, kept = (table(name, content) for content in (made_anew[name], (export_pybamm.FOLDER / name).read_bytes()))
    assert now.shape == kept.shape
    np.testing.assert_allclose(now, kept, rtol=1e-6, atol=2e-4)


def table(name: str, content: bytes) -> Any:
    """The rows of a log as numbers."""
    text = (gzip.decompress(content) if name.endswith(".gz") else content).decode()
    return np.loadtxt(text.splitlines(), delimiter=",", skiprows=1)
