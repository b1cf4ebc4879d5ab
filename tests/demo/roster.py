"""The demo's batteries as they truly are; all invented, and never read by the builder."""

from tests.demo.batteries import Battery
from tests.demo.bench import Unit
from tests.demo.protection import Heater, Memory, Protection, Step


def _cells(rated_ah: float, full_ah: float, **more: float) -> Battery:
    """Four LiFePO4 cells in series; resistance goes down with size unless it is given."""
    usual = {"resistance_ohm": 0.30 / rated_ah, "slow_ohm": 0.45 / rated_ah}
    return Battery(chemistry="LiFePO4", cells=4, rated_ah=rated_ah, full_ah=full_ah, **(usual | more))


UNITS = {
    unit.id: unit
    for unit in (
        Unit(
            id="ferngate-f90",
            battery=_cells(90, 91.7, mass_kg=10.4, loss_w_per_k=2.3, heat_j_per_kg_k=1040, peukert_less_one=0.012),
            protection=Protection(
                end_v=10.0,
                steps=(Step(118, 4.0), Step(195, 0.5)),
                charge_resume_c=4.0,
                heater=Heater(86.0, 2.0, 8.0, 6.5),
            ),
        ),
        Unit(
            id="tolgate-100l",
            battery=_cells(100, 104.6, mass_kg=10.9, loss_w_per_k=2.0, resistance_ohm=0.0022, slow_ohm=0.0036),
            protection=Protection(
                end_v=10.4,
                memory=Memory(128.0, 60.0),
                charge_resume_c=5.0,
                heater=Heater(112.0, 3.0, 10.0, 8.0),
                comes_back_s=5,
            ),
        ),
        Unit(
            id="arnwick-polar",
            battery=_cells(100, 102.6, mass_kg=11.8, loss_w_per_k=1.8, heat_j_per_kg_k=960),
            protection=Protection(
                end_v=10.0,
                steps=(Step(150, 10.0), Step(240, 1.0)),
                charge_resume_c=5.0,
                heater=Heater(138.0, 5.0, 10.0, 10.0),
            ),
        ),
        Unit(
            id="saltby-100",
            battery=_cells(100, 99.4, mass_kg=10.2, resistance_ohm=0.0036),
            protection=Protection(
                end_v=10.0, steps=(Step(120, 12.0), Step(170, 1.0)), charge_resume_c=4.0, comes_back="after unloading"
            ),
        ),
        Unit(
            id="quern-12-100",
            battery=_cells(100, 98.9, mass_kg=11.1),
            protection=Protection(end_v=10.0, steps=(Step(130, 8.0), Step(300, 0.5)), charge_resume_c=2.0),
        ),
        Unit(
            id="nettle-95",
            battery=_cells(95, 95.1, mass_kg=9.9, resistance_ohm=0.0042, slow_ohm=0.006),
            protection=Protection(
                end_v=10.0, steps=(Step(98, 60.0), Step(123, 5.0), Step(260, 0.3)), charge_min_c=None
            ),
        ),
        Unit(
            id="thrushby-t100",
            battery=_cells(100, 101.2, mass_kg=10.7, resistance_ohm=0.0033, peukert_less_one=0.02),
            protection=Protection(
                end_v=10.4, steps=(Step(110, 20.0), Step(160, 1.0)), charge_resume_c=4.0, comes_back="after a button"
            ),
        ),
        Unit(
            id="wendlecote-w100",
            battery=_cells(100, 87.1, mass_kg=9.4, resistance_ohm=0.0039),
            protection=Protection(
                end_v=10.4, steps=(Step(105, 5.0), Step(220, 0.5)), charge_resume_c=3.0, comes_back="after charging"
            ),
        ),
        Unit(
            id="kelderby-k280",
            battery=_cells(280, 287.5, mass_kg=26.3, loss_w_per_k=3.4),
            protection=Protection(
                end_v=10.4,
                steps=(Step(235, 10.0), Step(420, 0.5)),
                charge_resume_c=5.0,
                heater=Heater(180.0, 4.0, 10.0, 13.0),
            ),
        ),
        Unit(
            id="otterfold-of200",
            battery=_cells(200, 203.0, mass_kg=20.8, loss_w_per_k=2.9),
            protection=Protection(end_v=10.0, steps=(Step(600, 0.1),), charge_resume_c=2.0),
        ),
        Unit(
            id="mossgarth-m24",
            battery=Battery(
                chemistry="LiFePO4",
                cells=8,
                rated_ah=100,
                full_ah=101.9,
                resistance_ohm=0.0062,
                slow_ohm=0.009,
                mass_kg=20.1,
                loss_w_per_k=3.0,
            ),
            protection=Protection(end_v=20.8, steps=(Step(125, 15.0), Step(210, 1.0)), charge_resume_c=4.0),
        ),
        Unit(
            id="ludgill-agm100",
            battery=Battery(
                chemistry="AGM",
                cells=6,
                rated_ah=100,
                full_ah=84.0,
                resistance_ohm=0.0052,
                slow_ohm=0.009,
                slow_s=600,
                peukert_less_one=0.14,
                charge_per_kelvin=0.006,
                coulombic_efficiency=0.9,
                mass_kg=29.4,
                idle_a=0.0,
            ),
            protection=Protection(end_v=0.0, charge_min_c=None),
        ),
    )
}
