"""The JSON Schema that editors use is the one the records say."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml

from site_builder.publish.data import schema_text

ROOT = Path(__file__).parent.parent
SCHEMA = ROOT / "catalogue" / "result.schema.json"
PRINTED = "from site_builder.publish.data import schema_text as t; print(t(), end=str())"
REMEDY = f'python -c "{PRINTED}" > catalogue/result.schema.json'


def test_the_committed_schema_is_current() -> None:
    assert SCHEMA.read_text(encoding="utf-8") == schema_text(), f"the records changed; run: {REMEDY}"


def undescribed(node: Any, path: str = "") -> tuple[list[str], int]:
    """Paths of all properties without a description, anywhere in the schema, and how many properties there are."""
    missing: list[str] = []
    count = 0
    if isinstance(node, dict):
        properties = node.get("properties", {})
        missing += [f"{path}.{name}" for name, one in properties.items() if not one.get("description")]
        count = len(properties)
    parts = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for key, value in parts:
        below, more = undescribed(value, f"{path}.{key}")
        missing, count = missing + below, count + more
    return missing, count


def test_every_field_has_a_description_for_editors() -> None:
    missing, count = undescribed(json.loads(schema_text()))
    assert missing == []
    assert count > 300  # the walk reaches the tests and their groups


class _AsEditorsRead(yaml.SafeLoader):
    """Dates stay text, as in the YAML 1.2 that editors read."""


_AsEditorsRead.yaml_implicit_resolvers = {
    first: [(tag, pattern) for tag, pattern in resolvers if tag != "tag:yaml.org,2002:timestamp"]
    for first, resolvers in yaml.SafeLoader.yaml_implicit_resolvers.items()
}


@pytest.mark.parametrize("path", sorted((ROOT / "results").glob("*.yml")), ids=lambda path: path.stem)
def test_every_demo_file_passes_the_schema(path: Path) -> None:
    data = yaml.load(path.read_text(encoding="utf-8"), Loader=_AsEditorsRead)  # noqa: S506  # a SafeLoader
    jsonschema.validate(data, json.loads(schema_text()))


def test_a_misspelt_key_fails_the_schema() -> None:
    data = {"unit": {"id": "x", "maker": "X", "modle": "Y"}, "label": {}}
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data, json.loads(schema_text()))
