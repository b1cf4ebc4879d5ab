"""Where aliases stand."""

from __future__ import annotations

import pytest

from site_builder.yaml_alias import alias_places


@pytest.mark.parametrize(
    ("text", "places"),
    [
        pytest.param("a: 1\n", {}, id="none"),
        pytest.param("a: &x 1\nb: *x\n", {("b",): (2, 4)}, id="a value"),
        pytest.param("- &x [1]\n- *x\n- {b: *x}\n", {(1,): (2, 3), (2, "b"): (3, 7)}, id="in lists"),
        pytest.param("a: &x k\n*x : 1\nb: [*x, *x]\n", {("b", 0): (3, 5), ("b", 1): (3, 9)}, id="a key is no value"),
        pytest.param("? [1, 2]\n: &x 1\nb: *x\n", {("b",): (3, 4)}, id="after a key that is a list"),
        pytest.param("a: &x {b: {c: 1}}\nd: {e: *x, f: 1}\ng: *x\n", {("d", "e"): (2, 8), ("g",): (3, 4)}, id="groups"),
    ],
)
def test_places(text: str, places: dict[tuple[str | int, ...], tuple[int, int]]) -> None:
    assert list(alias_places(text)) == list(places.items())


def test_they_come_one_by_one() -> None:
    """Whoever has seen enough stops reading, however long the text is; what is wrong further on is not met."""
    assert next(alias_places("a: &x 1\nb: *x\nc: *y\nd: [")) == (("b",), (2, 4))
