"""The data of the pages on which a visitor chooses: running times in one file, own weights in one file a class."""

from __future__ import annotations

from site_builder.derived import Derived
from site_builder.pages.runtime_data import runtime_data
from site_builder.pages.weights_data import weights_data
from site_builder.publish.browser_data import data_script


def chooser_files(derived: Derived) -> dict[str, str]:
    """Address below the site → text. A class is the global "weights_" and its id with underscores."""
    files = {"data/runtime.js": data_script("runtimeData", runtime_data(derived))}
    if (grading := derived.catalogue.grading) is not None:
        for class_id in derived.standings.classes:
            script = data_script(f"weights_{class_id.replace('-', '_')}", weights_data(class_id, derived, grading))
            files[f"data/weights/{class_id}.js"] = script
    return files
