"""YAML text → plain Python data with positions, and data → text. Safe and bounded; only this and `yaml_alias` know it.

Scalars are resolved by rules of our own, so that `NO`, `12:30:45`, dates and `0123` stay the text that was written.
Refused: aliases, tags, duplicate keys, deep nesting, large files, characters that do not show.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import yaml

from site_builder.problems import MAX_ALIKE, Problem, Severity, at_most
from site_builder.yaml_alias import alias_places

MAX_BYTES = 1_000_000
MAX_DEPTH = 50
MAX_NODES = 40_000  # keys and values; a megabyte of brackets would be half a million
Path = tuple[str | int, ...]

_INT = re.compile(r"[-+]?(?:0|[1-9][0-9]{0,17})", re.ASCII)
_FLOAT = re.compile(
    r"[-+]?(?:(?:0|[1-9][0-9]{0,17})(?:\.[0-9]{0,30})?|\.[0-9]{1,30})(?:[eE][-+]?[0-9]{1,2})?", re.ASCII
)
_STARTS_A_NUMBER = frozenset("+-.0123456789")
_QUOTED = {"'", '"', "|", ">"}
_WORDS: dict[str, bool | None] = {"true": True, "false": False, "null": None, "~": None, "": None}
# Control characters, and those that hide text or turn its direction: nobody can check what they cannot see. The others
# are drawn as nothing (Unicode, DerivedCoreProperties.txt, Default_Ignorable_Code_Point; from memory).
UNSEEN = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u00ad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180b-\u180f\u200b-\u200f"
    "\u2028-\u202e\u2060-\u206f\u3164\ufe00-\ufe0f\ufeff\uffa0\ufff0-\uffff\ud800-\udfff"
    "\U0001bca0-\U0001bca3\U0001d173-\U0001d17a\U000e0000-\U000e0fff]"
)


_TAGS: dict[type[yaml.Node], str] = {
    yaml.ScalarNode: "tag:yaml.org,2002:str",
    yaml.MappingNode: "tag:yaml.org,2002:map",
    yaml.SequenceNode: "tag:yaml.org,2002:seq",
}
_PLAIN_TAGS = set(_TAGS.values())


class _Loader(yaml.CSafeLoader):
    """The C parser without any resolver of its own, so that a plain scalar arrives as text.

    It composes by recursion; libyaml refuses what is nested a thousand deep before that could end in a crash.
    """

    nodes = 0

    def resolve(self, kind: type[yaml.Node], value: Any, implicit: Any) -> str:  # noqa: ARG002  # PyYAML's signature
        """The tag of a node without one."""
        return _TAGS[kind]

    def descend_resolver(self, current_node: Any, current_index: Any) -> None:  # noqa: ARG002  # PyYAML passes them
        """Called before each node, for resolvers that go by a node's place; here it counts them."""
        self.nodes += 1
        if self.nodes > MAX_NODES:
            raise yaml.MarkedYAMLError(problem="too many")

    def ascend_resolver(self) -> None:
        """Called after each node."""


@dataclass(frozen=True, slots=True)
class Document:
    """A file's data, its problems so far, and where each of its values stands."""

    file: str
    data: Any
    text: str | None
    problems: tuple[Problem, ...] = ()
    sha256: str = ""

    @property
    def root(self) -> yaml.Node | None:
        """The tree of the text, None where it cannot be read; made anew when a problem asks where something stands.

        Kept for each file it would be thousands of objects, which slow down everything after.
        """
        return None if self.text is None else _composed(self.text)

    def place(self, path: Path, *, of_key: bool = False) -> tuple[int, int]:
        """Line and column, from 1, of the value (or of its key) at `path`; of the nearest parent that exists."""
        node = self.root
        mark = node.start_mark if node is not None else None
        for step in path:
            key_mark, below = _child(node, step)
            if below is None:
                break
            node, mark = below, key_mark if of_key and key_mark is not None else below.start_mark
        return (mark.line + 1, mark.column + 1) if mark else (0, 0)

    def problem(
        self, path: Path, message: str, hint: str, code: str, *, of_key: bool = False, severity: Severity = "error"
    ) -> Problem:
        """A finding at `path`."""
        line, column = self.place(path, of_key=of_key)
        return Problem(
            file=self.file,
            line=line,
            column=column,
            field=shown_path(path),
            message=message,
            hint=hint,
            code=code,
            severity=severity,
        )


def value_at(data: Any, path: Path) -> Any:
    """What stands at the path; None where nothing does."""
    for step in path:
        if isinstance(data, dict):
            data = data.get(step)
        elif isinstance(data, list) and isinstance(step, int) and step < len(data):
            data = data[step]
        else:
            return None
    return data


def shown_path(path: Path) -> str:
    """`tests.galley.readings[0].current_a`."""
    return "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in path).lstrip(".")


def _child(node: yaml.Node | None, step: str | int) -> tuple[yaml.Mark | None, yaml.Node | None]:
    if isinstance(node, yaml.MappingNode):
        name = str(step)
        for key, value in node.value:
            if key.value == name:
                return key.start_mark, value
    if isinstance(node, yaml.SequenceNode) and isinstance(step, int) and step < len(node.value):
        return None, node.value[step]
    return None, None


@lru_cache(maxsize=4)
def _composed(text: str) -> yaml.Node | None:
    return yaml.compose(text, Loader=_Loader)


_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9_./()%°-]*(?: [A-Za-z0-9_./()%°-]+)*")


def written(value: Any) -> str:
    """Data as YAML on one line that reads back as the same data, by the rules of this module.

    >>> written({"column": "I, mA", "every": 10, "on": "shunt"})
    '{column: "I, mA", every: 10, on: shunt}'
    >>> written(["true", "0123", True])
    '["true", "0123", true]'
    """
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{written(str(key))}: {written(one)}" for key, one in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(written(one) for one in value) + "]"
    if isinstance(value, str):
        return value if _PLAIN.fullmatch(value) and value not in _WORDS else json.dumps(value, ensure_ascii=False)
    if value is None or isinstance(value, bool):
        return "null" if value is None else str(value).lower()
    return repr(value)


def parsed(raw: bytes, file: str) -> Document:
    """The document in `raw`; `data`, `text` and `root` are None where it cannot be read at all."""
    text, refused = _readable_text(raw, file)
    if refused:
        return Document(file, None, None, (refused,))
    found: list[Problem] = []
    try:
        root = _composed(text)
        if root is None or (isinstance(root, yaml.ScalarNode) and root.value == ""):
            hint = "write its entries, or delete this file"
            return Document(file, None, None, (_whole(file, "the file is empty", hint, "yaml-empty"),))
        data = _plain(root, (), _Reading(Document(file, None, text), "*" in text, set(), found))
    except yaml.YAMLError as error:
        return Document(file, None, None, (_syntax(error, file),))
    return Document(file, data, text, tuple(at_most(_at_aliases(found, text))), hashlib.sha256(raw).hexdigest())


def _at_aliases(found: list[Problem], text: str) -> list[Problem]:
    """The findings, those about aliases where the alias stands and not where its anchor does."""
    wanted = {problem.field for problem in found if problem.code == "yaml-alias"}
    places: dict[str, tuple[int, int]] = {}
    for path, place in alias_places(text) if wanted else ():
        if (field := shown_path(path)) in wanted:
            places.setdefault(field, place)
        if len(places) == len(wanted):  # a hostile file may have hundreds of thousands more
            break
    aliases = (places.get(one.field) if one.code == "yaml-alias" else None for one in found)
    moved = zip(found, aliases, strict=True)
    return [replace(one, line=at[0], column=at[1]) if at else one for one, at in moved]


def _readable_text(raw: bytes, file: str) -> tuple[str, Problem | None]:
    if len(raw) > MAX_BYTES:
        return "", _whole(
            file, f"the file is over {MAX_BYTES // 1_000_000} MB", "put long tables into a log", "yaml-size"
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line, column = raw.count(b"\n", 0, error.start) + 1, error.start - raw.rfind(b"\n", 0, error.start)
        return "", _at(file, line, column, "this is not UTF-8 text", "save the file as UTF-8", "yaml-encoding")
    if match := UNSEEN.search(text):
        line, column = text.count("\n", 0, match.start()) + 1, match.start() - text.rfind("\n", 0, match.start())
        return "", _at(file, line, column, *unseen_words(match.group()), "yaml-unseen")
    return text, None


def hidden_in(text: str) -> str | None:
    """The first character of the text that no file may hold since it does not show; None where there is none."""
    match = UNSEEN.search(text)
    return match.group() if match else None


def unseen_words(hidden: str) -> tuple[str, str]:
    """What to say of such a character, and a way out."""
    return f"the character U+{ord(hidden):04X} does not show", "delete it; it often comes along when text is pasted"


@dataclass(frozen=True, slots=True)
class _Reading:
    """One document on its way to data: whether it may hold aliases, the nodes met so far, and what was found."""

    document: Document
    may_alias: bool
    seen: set[int]
    found: list[Problem]

    def refuse(self, path: Path, message: str, hint: str, code: str) -> None:
        if len(self.found) <= MAX_ALIKE:  # each asks where it stands
            self.found.append(self.document.problem(path, message, hint, code))


def _plain(node: yaml.Node, above: Path, reading: _Reading, *step: str | int) -> Any:
    """The node as data; it stands at `step` below `above`. Most nodes are words and numbers without any fault."""
    if node.tag not in _PLAIN_TAGS:
        tag = node.tag[:60].replace("tag:yaml.org,2002:", "!!")
        reading.refuse((*above, *step), f"the tag {tag} is not allowed", "write the value alone", "yaml-tag")
        return None
    # An alias arrives as the same node again; 300 bytes of them expand past two million nodes.
    if reading.may_alias and _met(node, reading):
        reading.refuse((*above, *step), "an alias (*name) is not allowed", "write the value out", "yaml-alias")
        return None
    if isinstance(node, yaml.ScalarNode):
        # Between double quotes an escape can still make what the text itself does not hold.
        if node.style == '"' and (match := UNSEEN.search(node.value)):
            reading.refuse((*above, *step), *unseen_words(match.group()), "yaml-unseen")
        return _scalar(node)
    path = (*above, *step)
    if len(path) >= MAX_DEPTH - 1 and node.value:
        raise yaml.MarkedYAMLError(problem="too deep", problem_mark=node.start_mark)
    if isinstance(node, yaml.SequenceNode):
        return [_plain(one, path, reading, i) for i, one in enumerate(node.value)]
    return _group(node, path, reading)


def _met(node: yaml.Node, reading: _Reading) -> bool:
    before = id(node) in reading.seen
    reading.seen.add(id(node))
    return before


def _group(node: yaml.Node, path: Path, reading: _Reading) -> dict[str, Any]:
    group: dict[str, Any] = {}
    for key, value in node.value:
        name = key.value
        if not isinstance(key, yaml.ScalarNode) or key.tag not in _PLAIN_TAGS:
            words = ("this key is no word", "write name: value", "yaml-key")
            reading.found.append(_at_key(reading.document, key, *words))
        elif name in group:
            words = (f"the key {name[:60]!r} stands here twice", "keep one of them", "yaml-duplicate-key")
            reading.found.append(_at_key(reading.document, key, *words, shown_path((*path, name[:60]))))
        else:
            group[name] = _plain(value, path, reading, name)
    return group


def _at_key(doc: Document, key: yaml.Node, message: str, hint: str, code: str, field: str = "") -> Problem:
    return _at(doc.file, key.start_mark.line + 1, key.start_mark.column + 1, message, hint, code, field)


def _scalar(node: yaml.ScalarNode) -> Any:
    text: str = node.value
    if node.style in _QUOTED:
        return text
    if text in _WORDS:
        return _WORDS[text]
    if text[0] not in _STARTS_A_NUMBER:  # the quick way for words
        return text
    if _INT.fullmatch(text):
        return int(text)
    return float(text) if _FLOAT.fullmatch(text) else text


# What the parser says → what it comes from most often, and a way out.
_DEPTH_WORDS = (f"nested more than {MAX_DEPTH} deep", "close a bracket before, or indent less")
_SYNTAX_WORDS = {
    "too deep": _DEPTH_WORDS,
    "too many": (f"the file has over {MAX_NODES} keys and values", "put long tables into a log"),
    "exceeded maximum nesting depth": _DEPTH_WORDS,  # libyaml's own end
    "but found another document": ("a second document starts here", "keep one, and no line --- between"),
    "found undefined alias": ("an alias (*name) is not allowed", "write the value out; put text with a * in quotes"),
    "found character that cannot start any token": (
        "no value can start with this character",
        "indent with spaces, not tabs; put text that starts with @, % or a backtick in quotes",
    ),
    "mapping values are not allowed in this context": (
        "a second colon on this line",
        "put text with a colon in quotes",
    ),
}
_WITHIN = {
    "while scanning a quoted scalar": "in the quoted text",
    "while parsing a flow sequence": "in the list [",
    "while parsing a flow mapping": "in the group {",
    "while parsing a block mapping": "in the group of keys",
    "while parsing a block collection": "in the list",
}


def _syntax(error: yaml.YAMLError, file: str) -> Problem:
    mark, start = getattr(error, "problem_mark", None), getattr(error, "context_mark", None)
    what = str(getattr(error, "problem", None) or getattr(error, "reason", None) or "not readable")[:200]
    line, column = (mark.line + 1, mark.column + 1) if mark else (0, 0)
    within = _WITHIN.get(str(getattr(error, "context", None)))
    message = f"{what} {within} that starts on line {start.line + 1}" if start and within else what
    hint = "check indentation, colons, brackets and quotes between there and here"
    message, hint = _SYNTAX_WORDS.get(what, (f"this is not YAML: {message}", hint))
    return _at(file, line, column, message, hint, "yaml-syntax")


def _whole(file: str, message: str, hint: str, code: str) -> Problem:
    return _at(file, 0, 0, message, hint, code)


def _at(file: str, line: int, column: int, message: str, hint: str, code: str, field: str = "") -> Problem:
    return Problem(file=file, line=line, column=column, field=field, message=message, hint=hint, code=code)
