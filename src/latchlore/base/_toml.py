"""TOML files read with the line of every key, and checked against a model with all mistakes at once."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

from latchlore.base._errors import BadInput
from latchlore.base._origin import Origin
from latchlore.base._text import decode_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pydantic import BaseModel
    from pydantic_core import ErrorDetails
    from tree_sitter import Node

    ModelT = TypeVar("ModelT", bound=BaseModel)

KeyPath = tuple[str | int, ...]
MAX_DEPTH = 64  # of keys and indices; what reads deeper is a slip, and would exhaust the checks behind


def key_text(path: KeyPath) -> str:
    """``part[2].pins`` for ("part", 2, "pins"); indices count from 0 in the path and from 1 in the text."""
    text = ""
    for step in path:
        text += f"[{step + 1}]" if isinstance(step, int) else f".{step}" if text else step
    return text


@dataclass(frozen=True, slots=True)
class TomlText:
    """A TOML file's data with the line of each key path; arrays of tables count from 0."""

    file: str
    data: dict[str, Any]
    lines: dict[KeyPath, int]

    def line(self, path: KeyPath) -> int:
        """The line of a key, or of the nearest key above it that is written down; 1 for the file itself."""
        for size in range(len(path), 0, -1):
            if path[:size] in self.lines:
                return self.lines[path[:size]]
        return 1

    def origin(self, path: KeyPath) -> Origin:
        """The place of a key."""
        return Origin.at_line(self.file, self.line(path), key_text(path))


def read_toml(raw: bytes, file: str) -> TomlText:
    """Read a TOML file.  Refuses text that is not UTF-8 or not TOML, with the line."""
    text = decode_text(raw, file)
    try:
        data = tomllib.loads(text)
        lines = _key_lines(text)
    except RecursionError as error:
        raise BadInput(Origin.at_line(file, 1), f"not a table for people: nested deeper than {MAX_DEPTH}") from error
    except tomllib.TOMLDecodeError as error:
        line = getattr(error, "lineno", None) or _line_in_words(str(error), text)
        words = str(error).split(" (at ")[0]
        raise BadInput(Origin.at_line(file, line), f"not TOML: {words[:1].lower()}{words[1:]}") from error
    deep = next((path for path in lines if len(path) > MAX_DEPTH), None)
    if deep is not None:
        raise BadInput(Origin.at_line(file, lines[deep]), f"not a table for people: nested deeper than {MAX_DEPTH}")
    return TomlText(file, data, lines)


def check_toml(model: type[ModelT], toml: TomlText) -> ModelT:
    """The data as a model.

    Refuses data that break its rules, all mistakes at once, each with key path and line; those of one line in the
    order of the model's keys.
    """
    from pydantic import ValidationError

    try:
        return model.model_validate(toml.data)
    except ValidationError as error:
        found = dict.fromkeys(_mistake(toml, detail) for detail in error.errors(include_url=False))
        raise BadInput.of_all(sorted(found, key=lambda pair: pair[0].number)) from error


def _mistake(toml: TomlText, detail: ErrorDetails) -> tuple[Origin, str]:
    path: KeyPath = detail["loc"]
    known = path
    while known and _lookup(toml.data, known) is _NOTHING:
        known = known[:-1]
    kind, value = detail["type"], detail["input"]
    if kind == "missing":
        return toml.origin(path[:-1]) if path[:-1] else Origin.at_line(toml.file, 1), f"key {path[-1]!r} is missing"
    if kind == "extra_forbidden":
        return toml.origin(path), f"key {path[-1]!r} is not known here"
    words = detail["msg"].removeprefix("Value error, ")
    words = words[:1].lower() + words[1:]
    is_number = isinstance(value, int | float)  # a limit that ends the words may be the same number
    is_told = words.endswith(f"not {value!r}" if is_number else repr(value)) or (
        isinstance(value, str) and bool(value) and words.endswith(value)
    )
    shown = "" if is_told or isinstance(value, dict) else f", not {_short(value)}"
    return toml.origin(known or path), f"{words}{shown}"


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 80 else f"{text[:77]}..."


_NOTHING = object()


def _lookup(data: Any, path: KeyPath) -> Any:
    for step in path:
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError):
            return _NOTHING
    return data


def _line_in_words(words: str, text: str) -> int:
    """The line the parser names in its message; the last line where it says only "end of document"."""
    _, _, tail = words.partition("(at line ")
    number = tail.split(",")[0]
    return int(number) if number.isdigit() else text.count("\n") + 1


def parse_tree(raw: bytes) -> Node:
    """The document's syntax tree; for text that is TOML."""
    import tree_sitter_toml
    from tree_sitter import Language, Parser

    return Parser(Language(tree_sitter_toml.language())).parse(raw).root_node


def iter_containers(root: Node) -> Iterator[tuple[KeyPath, Node]]:
    """Everything that holds pairs and is not in braces, in the order of the text: the document, then each header."""
    yield (), root
    counts: dict[KeyPath, int] = {}
    for child in root.children:
        if child.type == "table":
            yield _resolve(key_parts(child.named_children[0]), counts), child
        elif child.type == "table_array_element":
            bare = _resolve(key_parts(child.named_children[0]), counts)
            counts[bare] = counts.get(bare, -1) + 1
            yield (*bare, counts[bare]), child


def _key_lines(text: str) -> dict[KeyPath, int]:
    lines: dict[KeyPath, int] = {}
    for prefix, node in iter_containers(parse_tree(text.encode())):
        if prefix and isinstance(prefix[-1], int):
            lines.setdefault(prefix[:-1], node.start_point[0] + 1)
        if prefix:
            _note(lines, prefix, node)
        _note_pairs(lines, prefix, node)
    return lines


def _resolve(parts: list[str], counts: dict[KeyPath, int]) -> KeyPath:
    """A header's path with the index of the current element of each array of tables on the way."""
    path: KeyPath = ()
    for i, part in enumerate(parts):
        path = (*path, part)
        if path in counts and i < len(parts) - 1:
            path = (*path, counts[path])
    return path


def _note(lines: dict[KeyPath, int], path: KeyPath, node: Node) -> None:
    for size in range(1, len(path) + 1):
        lines.setdefault(path[:size], node.start_point[0] + 1)


def _note_pairs(lines: dict[KeyPath, int], prefix: KeyPath, table: Node) -> None:
    for child in table.named_children:
        if child.type == "pair":
            _note_pair(lines, prefix, child)


def _note_pair(lines: dict[KeyPath, int], prefix: KeyPath, pair: Node) -> None:
    path = (*prefix, *key_parts(pair.named_children[0]))
    _note(lines, path, pair)
    _note_value(lines, path, pair.named_children[1])


def _note_value(lines: dict[KeyPath, int], path: KeyPath, value: Node) -> None:
    if value.type == "inline_table":
        for child in value.named_children:
            if child.type == "pair":
                _note_pair(lines, path, child)
    elif value.type == "array":
        items = [child for child in value.named_children if child.type != "comment"]
        for i, child in enumerate(items):
            lines.setdefault((*path, i), child.start_point[0] + 1)
            _note_value(lines, (*path, i), child)


def key_parts(key: Node) -> list[str]:
    """The names of a key, without quotes: two and more where it has dots."""
    if key.type == "dotted_key":
        return [part for child in key.named_children for part in key_parts(child)]
    text = (key.text or b"").decode()
    if key.type == "quoted_key":
        return [str(next(iter(tomllib.loads(f"{text} = 0"))))]
    return [text]
