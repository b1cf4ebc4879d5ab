"""Data as scripts: read back unchanged, one text for the same data, and nothing that could end the script."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from site_builder.publish.browser_data import data_script

JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)


def read_back(script: str) -> Any:
    start, end = "window.unitData=", ";\n"
    assert script.startswith(start)
    assert script.endswith(end)
    return json.loads(script[len(start) : -len(end)])


@given(JSON)
def test_what_is_assigned_is_the_data(data: Any) -> None:
    assert read_back(data_script("unitData", data)) == data


# What ends a script element, and what old engines take for the end of a line (WHATWG HTML, "Restrictions for contents
# of script elements"; ECMA-262 before 2019, "Line terminators").
@pytest.mark.parametrize("raw", ["</script>", "</SCRIPT >", "<!--", "<!-- <script>", "\u2028", "\u2029"])
def test_nothing_in_it_ends_the_script_or_a_line(raw: str) -> None:
    script = data_script("unitData", {raw: [raw, {"deep": raw}]})
    assert raw not in script
    assert script.count("\n") == 1
    assert read_back(script) == {raw: [raw, {"deep": raw}]}


def test_the_same_data_gives_the_same_text_whatever_its_order() -> None:
    assert data_script("x", {"b": 1, "a": {"d": 2, "c": 3}}) == data_script("x", {"a": {"c": 3, "d": 2}, "b": 1})
    assert data_script("x", {"b": 1, "a": 0.5}) == 'window.x={"a":0.5,"b":1};\n'


@pytest.mark.parametrize("name", ["", "a b", "1a", "a;b", "alert()", "naïve", "class"])
def test_a_name_that_is_none_is_refused(name: str) -> None:
    with pytest.raises(ValueError, match="no name"):
        data_script(name, {})


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_what_json_cannot_hold_is_refused(value: float) -> None:
    with pytest.raises(ValueError, match="JSON"):
        data_script("x", [value])
