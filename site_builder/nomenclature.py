"""One name, one unit, one meaning for every published number: the dictionary of tables, files and pages. No logic."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Meaning:
    """A published number: its unit, its short title, and what it says in one sentence."""

    unit: str
    title: str
    description: str


# In the order of the published columns.
METRICS: Mapping[str, Meaning] = {
    "delivered_wh": Meaning("Wh", "Delivered energy", "Energy that the test delivered, as measured."),
    "delivered_ah": Meaning("Ah", "Delivered charge", "Charge that the test delivered, as measured."),
    "share_of_rated": Meaning("1", "Share of its label", "Delivered charge divided by the rated capacity."),
    "comparable_wh": Meaning("Wh", "Energy at the reference rate", "Delivered energy brought to the reference rate."),
    "comparable_ah": Meaning("Ah", "Charge at the reference rate", "Delivered charge brought to the reference rate."),
    "mean_current_a": Meaning("A", "Mean current", "Delivered charge divided by the duration."),
    "rate_it": Meaning("It", "Rate", "Mean current as a multiple of I_t, the rated capacity divided by one hour."),
    "mean_voltage_v": Meaning("V", "Mean voltage", "Delivered energy divided by delivered charge."),
    "temperature_c": Meaning("°C", "Temperature", "Mean temperature of the battery, else of the air."),
    "duration_s": Meaning("s", "Duration", "How long the test lasted."),
    "dc_resistance_milliohm": Meaning("mΩ", "Resistance", "Fall of the voltage for a step of the current."),
    "ac_resistance_milliohm": Meaning("mΩ", "Resistance at 1 kHz", "What a 1 kHz meter showed."),
    "open_circuit_v": Meaning("V", "Open-circuit voltage", "Voltage extrapolated to no current, from the same pulses."),
    "sag_v": Meaning("V", "Sag", "Fall of the voltage from no current to the label's continuous current."),
    "end_voltage_power_w": Meaning(
        "W", "Power at the end voltage", "Power that keeps the terminals at the end voltage."
    ),
    "carries_1_s_a": Meaning(
        "A", "Carries for 1 s", "Largest current carried for 1 s, and smallest that tripped sooner."
    ),
    "carries_3_s_a": Meaning(
        "A", "Carries for 3 s", "Largest current carried for 3 s, and smallest that tripped sooner."
    ),
    "carries_10_s_a": Meaning(
        "A", "Carries for 10 s", "Largest current carried for 10 s, and smallest that tripped sooner."
    ),
    "carries_30_s_a": Meaning(
        "A", "Carries for 30 s", "Largest current carried for 30 s, and smallest that tripped sooner."
    ),
    "carries_30_min_a": Meaning(
        "A", "Carries for 30 min", "Largest current carried for 30 min, smallest that tripped sooner."
    ),
    "fault_current_a": Meaning("A", "Fault current", "Short-circuit current, for choosing a fuse."),
    "refused_up_to_c": Meaning(
        "°C", "Refused charge up to", "Highest temperature at which charge into the cells was refused."
    ),
    "accepted_from_c": Meaning(
        "°C", "Accepted charge from", "Lowest temperature at which charge into the cells was accepted."
    ),
    "heater_w": Meaning("W", "Heater power", "Mean power into the terminals while only the heater was on."),
    "heater_charger_a": Meaning(
        "A", "Charger that ran the heater", "Smallest charger setting tried that ran the heater."
    ),
    "heating_s": Meaning("s", "Heating time", "How long the heater was on before charge was accepted."),
    "heater_wh": Meaning("Wh", "Heater energy", "Energy the heater took before charge was accepted."),
    "heat_capacity_j_per_k": Meaning("J/K", "Heat capacity", "Heat capacity of the fitted thermal lump."),
    "loss_w_per_k": Meaning("W/K", "Heat loss", "Heat lost to the air per kelvin, of the fitted thermal lump."),
    "room_share": Meaning("1", "Share of the air", "Share of the heat that the air gave; negative where it took."),
    "standard_warm_up_s": Meaning("s", "Standard warm-up", "Time from −10 °C to charging again, in air at −10 °C."),
    "charged_wh": Meaning("Wh", "Energy put in", "Energy that a refill took."),
    "charged_ah": Meaning("Ah", "Charge put in", "Charge that a refill took."),
    "max_current_a": Meaning("A", "Largest charging current", "Largest charging current that lasted."),
    "tail_a": Meaning("A", "Tail current", "Charging current at the end."),
    "charge_efficiency": Meaning(
        "1", "Charge efficiency", "Charge delivered divided by the charge of the refill after it."
    ),
    "energy_efficiency": Meaning(
        "1", "Energy efficiency", "Energy delivered divided by the energy of the refill after it."
    ),
    "loss_per_month": Meaning("1", "Loss a month", "Share of the charge lost in a month of standing idle."),
    "own_current_a": Meaning("A", "Own consumption", "Current drawn while nothing is connected."),
    "cell_spread_full_mv": Meaning("mV", "Cell spread, full", "Largest difference between cells at the full end."),
    "cell_spread_empty_mv": Meaning("mV", "Cell spread, empty", "Largest difference between cells at the empty end."),
    "used_wh": Meaning("Wh", "Energy used", "Energy that a run of a load took from the battery."),
    "used_ah": Meaning("Ah", "Charge used", "Charge that a run of a load took from the battery."),
    "battery_power_w": Meaning(
        "W", "Power at the battery", "Mean power that a load took from the battery, inverter included."
    ),
    "duty": Meaning("1", "Duty", "Share of the time that the load was on."),
    "peak_w": Meaning("W", "Peak power", "Largest power seen at the load."),
    "peak_a": Meaning("A", "Peak current", "Largest battery current seen at the start."),
    "soc_used_wh": Meaning(
        "Wh", "Energy by state of charge", "Energy of a run by the fall of the state of charge; never leads."
    ),
    "guess_s": Meaning(
        "s", "Estimate on the day", "Somebody's or an app's estimate of the running time; not measured."
    ),
    "mass_kg": Meaning("kg", "Mass", "Weighed mass, else the label's."),
    "volume_l": Meaning("L", "Volume", "Volume from the overall size, measured, else the label's."),
    "wh_per_kg": Meaning("Wh/kg", "Energy for its mass", "Delivered energy divided by the mass."),
    "wh_per_l": Meaning("Wh/L", "Energy for its volume", "Delivered energy divided by the volume."),
    "price_per_kwh": Meaning("currency/kWh", "Price per kWh it holds", "Newest price divided by the delivered energy."),
    "life_price_per_kwh": Meaning(
        "currency/kWh", "Price over its life", "Price per kWh if the maker's claim of cycles holds."
    ),
}

# Metrics that belong to single tests only, and are no column of the table of units.
OF_TESTS_ONLY = frozenset({
    "heating_s",
    "heat_capacity_j_per_k",
    "loss_w_per_k",
    "charged_wh",
    "charged_ah",
    "tail_a",
    "own_current_a",
    "used_wh",
    "used_ah",
    "battery_power_w",
    "duty",
    "peak_w",
    "peak_a",
    "soc_used_wh",
    "guess_s",
})  # fmt: skip

# Columns of a number: its value under its own name, and what stands beside it by the ending of the name.
PARTS: Mapping[str, str] = {
    "": "",
    "_u": "Expanded uncertainty for 95 %, in the unit of the value; empty where no instrument was named.",
    "_bound": "exact, at_least, at_most or between: whether the value is known from both sides.",
    "_low": "Lowest value that the evidence allows; empty where nothing limits it.",
    "_high": "Highest value that the evidence allows; empty where nothing limits it.",
    "_basis": "measured, projected, estimate, reported (from a label, or without its evidence) or as_read.",
}

# The other columns, in both tables. "date" and "yes" stand for a kind of value where there is no unit.
UNIT_COLUMNS: Mapping[str, Meaning] = {
    "id": Meaning("", "Id", "The unit's id and, for good, the last part of its address."),
    "maker": Meaning("", "Maker", "Maker, as on the case."),
    "model": Meaning("", "Model", "Model, as on the case."),
    "class": Meaning("", "Class", "Id of the comparison class; empty where it is in none."),
    "status": Meaning("", "Status", "planned, testing, published or withdrawn."),
    "chemistry": Meaning("", "Chemistry", "Cell chemistry that the label states."),
    "nominal_v": Meaning("V", "Nominal voltage", "Nominal voltage on the label."),
    "rated_ah": Meaning("Ah", "Rated capacity", "Rated capacity on the label."),
    "rated_wh": Meaning("Wh", "Rated energy", "Rated energy on the label, else nominal voltage times capacity."),
    "claims_heater": Meaning("yes", "Claims a heater", "Whether the label claims that it heats itself."),
    "headline_test": Meaning("", "Leading test", "Test whose capacity leads the page."),
    "price": Meaning("currency", "Price", "Newest price in the catalogue's currency, exact as paid or advertised."),
    "price_currency": Meaning("", "Currency", "Currency of the price, by ISO 4217."),
    "price_date": Meaning("date", "Date of the price", "When the price was paid or seen."),
    "price_kind": Meaning("", "Kind of price", "What kind of price it is."),
    "price_stale": Meaning("yes", "Price is old", "Whether the price is older than 12 months."),
    "score": Meaning("points", "Score", "Score of 100 by the grading in force; empty where too little was tested."),
    "score_low": Meaning("points", "Lowest score", "Lowest score that instruments and open questions allow."),
    "score_high": Meaning("points", "Highest score", "Highest score that instruments and open questions allow."),
    "place_low": Meaning("", "Best place", "Best place in its class that the evidence allows."),
    "place_high": Meaning("", "Worst place", "Worst place in its class that the evidence allows."),
    "place_of": Meaning("", "Units with a place", "How many units of its class have a place."),
    "questions_tested": Meaning("", "Questions tested", "How many of the graded questions were tested."),
}
TEST_COLUMNS: Mapping[str, Meaning] = {
    "unit": Meaning("", "Unit", "Id of the unit."),
    "test": Meaning("", "Test", "Name of the test, and of its anchor on the unit's page."),
    "kind": Meaning("", "Kind", "Kind of test."),
    "evidence": Meaning("", "Evidence", "kept, or reported where a number is all there is."),
    "date": Meaning("date", "Date", "When it was made."),
    "sample": Meaning("", "Sample", "Which sample of the unit."),
    "bench": Meaning("", "Bench", "Which bench entry; its instruments and limits are on the unit's page."),
    "log": Meaning("", "Log", "Name of its log file as recorded."),
    "log_sha256": Meaning("", "Log's hash", "SHA-256 of the log file as recorded."),
    "superseded_by": Meaning("", "Superseded by", "Later test that leads instead."),
    "off_reference": Meaning("", "Off the reference", "What was not at reference conditions."),
    "reasons": Meaning("", "Reasons", "Why a value is a bound."),
    "cannot": Meaning("", "Cannot", "What could not be computed, and what it would take."),
}
LOG_COLUMNS: Mapping[str, Meaning] = {
    "time_s": Meaning("s", "Time", "Since the first row that was used."),
    "current_a": Meaning("A", "Current", "At the terminals; discharge is positive."),
    "voltage_v": Meaning("V", "Voltage", "At the terminals."),
    "battery_c": Meaning("°C", "Battery temperature", "On or in the battery."),
    "ambient_c": Meaning("°C", "Air temperature", "Of the air around it."),
    "cell_current_a": Meaning("A", "Current into the cells", "As the battery itself reports it."),
}

SHAPE_VERSION = "1.0.0"
SHAPE_CHANGES: Mapping[str, str] = {"1.0.0": "The first shape."}  # newest first
