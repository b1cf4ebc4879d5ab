"""The data package: validated by Frictionless, read as a stranger would, its hashes by sha256sum's own rule."""

import hashlib
import json
from pathlib import Path

import frictionless
import numpy as np
import pandas as pd
import pytest

from site_builder.catalogue_records import LogFormat
from site_builder.publish.cleaned_logs import RecordedLog, cleaned_csv
from tests.small_project import small_project


def test_frictionless_finds_nothing_wrong(folder: Path) -> None:
    """Structure, types, keys, bytes and hash of every file that the package names."""
    frictionless.system.trusted = True
    report = frictionless.validate(str(folder / "data" / "datapackage.json"))
    assert report.valid, report.flatten(["title", "message"])
    assert len(report.tasks) > 20


def test_every_column_has_a_meaning_and_every_number_a_unit_or_none(folder: Path) -> None:
    package = json.loads((folder / "data" / "datapackage.json").read_text("utf-8"))
    for resource in package["resources"]:
        for field in resource["schema"]["fields"]:
            assert field["description"], field
            assert field["title"], field
    units = {field["name"]: field for field in package["resources"][0]["schema"]["fields"]}
    assert units["delivered_wh"]["unit"] == "Wh"
    assert units["delivered_wh_u"]["unit"] == "Wh"
    assert units["delivered_wh_bound"]["type"] == "string"
    assert units["place_low"]["type"] == "integer"


def test_one_line_gives_a_frame_whose_numbers_carry_their_uncertainty(folder: Path) -> None:
    frame = pd.read_csv(folder / "data" / "units.csv").set_index("id")
    ferngate = frame.loc["ferngate-f90"]
    assert ferngate["delivered_ah"] == pytest.approx(91.34)
    assert ferngate["delivered_ah_low"] < ferngate["delivered_ah"] < ferngate["delivered_ah_high"]
    assert ferngate["delivered_ah_u"] > 0
    assert ferngate["carries_30_min_a_bound"] == "between"


def test_hashes_are_those_of_the_files_and_of_all_of_them(folder: Path) -> None:
    """A line is the digest, two spaces and the name: coreutils, sha256sum."""
    lines = (folder / "data" / "SHA256SUMS").read_text("utf-8").splitlines()
    listed = {name: digest for digest, _, name in (line.partition("  ") for line in lines)}
    found = {
        path.relative_to(folder / "data").as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in (folder / "data").rglob("*")
        if path.is_file() and path.name != "SHA256SUMS"
    }
    assert listed == found


def test_rows_as_used_hold_the_same_charge_as_the_page(folder: Path) -> None:
    """Charge by numpy's trapezoid over the published rows, against the published number."""
    log = pd.read_csv(folder / "data" / "logs-as-used" / "ferngate-f90" / "boathouse-capacity.csv")
    charge = np.trapezoid(log["current_a"], log["time_s"]) / 3600
    frame = pd.read_csv(folder / "data" / "units.csv").set_index("id")
    assert charge == pytest.approx(frame.loc["ferngate-f90", "delivered_ah"], abs=0.2)


def test_a_log_that_changes_while_the_site_is_built_is_said(tmp_path: Path) -> None:
    project = small_project(tmp_path)
    path = project.log("nothing that a bench would write")
    form = LogFormat.model_validate({"time": {"column": "s"}, "interval_s": 10})
    with pytest.raises(ValueError, match=r"run\.csv changed while the site was built"):
        cleaned_csv(RecordedLog(unit="tarn-t90", test="run", path=path, form=form))
