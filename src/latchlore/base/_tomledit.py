"""TOML files changed in place: only the bytes of what is changed, every other byte and comment as it was."""

from __future__ import annotations

import copy
import tomllib
from typing import TYPE_CHECKING, Any, NamedTuple

from latchlore.base._errors import BadInput, Unsupported
from latchlore.base._origin import Origin
from latchlore.base._toml import KeyPath, iter_containers, key_parts, parse_tree, read_toml

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from tree_sitter import Node

NOT_IN_PLACE = "cannot be changed here without touching more than was asked; change the file as text"
NO_TABLE = "there is no table {path!r} in the file"


class _Patch(NamedTuple):
    """Bytes from `start` up to `end` that `text` takes the place of."""

    start: int
    end: int
    text: bytes


def set_keys(raw: bytes, file: str, path: KeyPath, values: Mapping[str, object]) -> bytes:
    """The file with some keys of one table set; None takes a key out.

    `path`: () for the file's own keys, (name,) for a table, (name, i) for the i-th of several, from 0, written with
    headers or in braces.  Refuses a file that is not TOML, and a table that is not there.
    """
    expected = copy.deepcopy(read_toml(raw, file).data)
    table = _lookup(expected, path, file)
    now = raw
    for key, value in values.items():
        if value is None:
            table.pop(key, None)
        else:
            table[key] = value
        patch = _patch_of(now, path, key, value)
        if patch is not None:
            now = now[: patch.start] + patch.text + now[patch.end :]
    return _checked(now, expected, file)


def append_table(raw: bytes, file: str, name: str, pairs: Mapping[str, object]) -> bytes:
    """The file with one more table of an array, behind the last one there is, or else at the end of the file.

    Refuses a file that is not TOML, and one in which `name` is something else than an array of tables.
    """
    expected = copy.deepcopy(read_toml(raw, file).data)
    rows = expected.setdefault(name, [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise BadInput(Origin(file), NO_TABLE.format(path=name))
    rows.append(dict(pairs))
    root = parse_tree(raw)
    array = next((node.named_children[1] for node in _pairs(root) if key_parts(node.named_children[0]) == [name]), None)
    patch = _block_patch(raw, root, name, pairs) if array is None else _item_patch(raw, array, pairs)
    return _checked(raw[: patch.start] + patch.text + raw[patch.end :], expected, file)


def append_tables(raw: bytes, file: str, path: KeyPath, table: Mapping[str, object]) -> bytes:
    """The file with one more table of an array under a header of its own, and its arrays of tables under theirs.

    `path`: down to the array, such as ("question",) or ("question", 0, "trial"), from 0.  It goes behind all that
    belongs to the array, or to the table that has the array, or else to the end of the file.  Refuses a file that is
    not TOML, a table that is not there, and what is written in braces, which takes no headers.
    """
    expected = copy.deepcopy(read_toml(raw, file).data)
    rows = _lookup(expected, path[:-1], file).setdefault(str(path[-1]), [])
    if not isinstance(rows, list):
        raise BadInput(Origin(file), NO_TABLE.format(path=str(path[-1])))
    rows.append(copy.deepcopy(dict(table)))
    header = ".".join(step for step in path if isinstance(step, str))
    patch = _behind(raw, parse_tree(raw), path[:-1] or path, list(_iter_lines(header, table)))
    return _checked(raw[: patch.start] + patch.text + raw[patch.end :], expected, file)


def take_table_out(raw: bytes, file: str, name: str, index: int) -> tuple[bytes, int, int]:
    """The file without one table of an array under headers, the `index`-th from 0, and the bytes that go: from, up to.

    Its lines go, with one empty line in front of them.  Refuses a file that is not TOML, a table that is not there, one
    in braces, and one with tables of its own.
    """
    expected = copy.deepcopy(read_toml(raw, file).data)
    _lookup(expected, (name, index), file)
    del expected[name][index]
    if not expected[name]:
        del expected[name]
    own = [node for prefix, node in iter_containers(parse_tree(raw)) if prefix[:2] == (name, index)]
    if len(own) != 1:
        raise Unsupported(Origin(file), NOT_IN_PLACE)
    pairs = _pairs(own[0])
    start, end = own[0].start_byte, _line_end(raw, _end(pairs[-1]) if pairs else own[0].named_children[0].end_byte)
    before = raw[:start].rstrip(b" \t")
    for newline in (b"\r\n", b"\n"):
        if before.endswith(newline * 2):
            start = len(before) - len(newline)
            break
    return _checked(raw[:start] + raw[end:], expected, file), start, end


def find_comment(raw: bytes) -> int | None:
    """The line of a TOML file's first comment, from 1; None where it has none."""
    waiting = [parse_tree(raw)]
    found = []
    while waiting:
        node = waiting.pop()
        if node.type == "comment":
            found.append(node.start_point[0] + 1)
        waiting += node.children
    return min(found, default=None)


def toml_text(value: object) -> str:
    """A value as TOML writes it: a text of several lines over several lines, a table in braces."""
    import tomlkit

    if isinstance(value, dict):
        braces = tomlkit.inline_table()
        braces.update(value)
        return f"{{ {braces.as_string()[1:-1]} }}"
    if isinstance(value, str) and "\n" in value:
        lines = (_in_quotes(line) for line in value.split("\n"))
        return '"""\n' + "\n".join(lines) + '"""'
    return str(tomlkit.item(value).as_string())


def _in_quotes(line: str) -> str:
    """A line inside a text of several lines: the same escapes as on one line, which also part three quotes."""
    import tomlkit

    return str(tomlkit.item(line).as_string())[1:-1]


def _checked(raw: bytes, expected: dict[str, Any], file: str) -> bytes:
    """The bytes, where they say just what they should."""
    try:
        if tomllib.loads(raw.decode("utf-8")) == expected:
            return raw
    except tomllib.TOMLDecodeError:
        pass
    raise Unsupported(Origin(file), NOT_IN_PLACE)


def _lookup(data: Any, path: KeyPath, file: str) -> dict[str, Any]:
    for step in path:
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError) as error:
            raise BadInput(Origin(file), NO_TABLE.format(path=str(path))) from error
    if not isinstance(data, dict):
        raise BadInput(Origin(file), NO_TABLE.format(path=str(path)))
    return data


def _patch_of(raw: bytes, path: KeyPath, key: str, value: object) -> _Patch | None:
    """What setting one key changes; None where there is nothing to take out."""
    node = _find(parse_tree(raw), path)
    if node is None:  # a table that only its sub-tables imply: its keys have no place of their own
        return None
    pair = next((one for one in _pairs(node) if key_parts(one.named_children[0]) == [key]), None)
    if pair is None:
        return None if value is None else _insertion(raw, node, key, toml_text(value))
    if value is None:
        return _removal(raw, node, pair)
    old = pair.named_children[1]
    return _Patch(old.start_byte, old.end_byte, toml_text(value).encode())


def _find(root: Node, path: KeyPath) -> Node | None:
    """The node that holds a table's pairs: the document, a header's block, or braces."""
    if not path:
        return root
    for prefix, node in iter_containers(root):
        if prefix == path:
            return node
        if path[: len(prefix)] == prefix:
            for pair in _pairs(node):
                own = (*prefix, *key_parts(pair.named_children[0]))
                if path[: len(own)] == own:
                    return _inside(pair.named_children[1], path[len(own) :])
    return None


def _inside(value: Node, rest: KeyPath) -> Node | None:
    for step in rest:
        if isinstance(step, int) and value.type == "array":
            items = _items(value)
            if step >= len(items):
                return None
            value = items[step]
        else:
            found = [one for one in _pairs(value) if key_parts(one.named_children[0]) == [step]]
            if not found:
                return None
            value = found[0].named_children[1]
    return value if value.type == "inline_table" else None


def _pairs(node: Node) -> list[Node]:
    return [child for child in node.named_children if child.type == "pair"]


def _end(pair: Node) -> int:
    """Behind the pair's value: the pair itself may reach over a comment."""
    return pair.named_children[1].end_byte


def _items(array: Node) -> list[Node]:
    return [child for child in array.named_children if child.type != "comment"]


def _line_end(raw: bytes, at: int) -> int:
    """The place behind the line end that follows."""
    end = raw.find(b"\n", at)
    return len(raw) if end < 0 else end + 1


def _newline(raw: bytes) -> bytes:
    return b"\r\n" if b"\r\n" in raw else b"\n"


def _insertion(raw: bytes, node: Node, key: str, text: str) -> _Patch:
    words = f"{key} = {text}"
    pairs = _pairs(node)
    if node.type == "inline_table":
        at = _end(pairs[-1]) if pairs else node.start_byte + 1
        return _Patch(at, at, (f", {words}" if pairs else f" {words} ").encode())
    newline = _newline(raw)
    if pairs:
        last = pairs[-1]
        indent = raw[raw.rfind(b"\n", 0, last.start_byte) + 1 : last.start_byte]
        at = _line_end(raw, _end(last))
    elif node.type == "document":
        indent, at = b"", 0
    else:
        indent, at = b"", _line_end(raw, node.named_children[0].end_byte)
    start = newline if at and raw[at - 1 : at] != b"\n" else b""
    return _Patch(at, at, start + (indent if not indent.strip() else b"") + words.encode() + newline)


def _removal(raw: bytes, node: Node, pair: Node) -> _Patch:
    start, end = pair.start_byte, _end(pair)
    if node.type == "inline_table":
        pairs = _pairs(node)
        k = pairs.index(pair)
        if k + 1 < len(pairs):
            return _Patch(start, pairs[k + 1].start_byte, b"")
        return _Patch(_end(pairs[k - 1]) if k else start, end, b"")
    first, last = raw.rfind(b"\n", 0, start) + 1, _line_end(raw, end)
    if not raw[first:start].strip() and not raw[end:last].strip():
        return _Patch(first, last, b"")
    return _Patch(start, end, b"")  # a comment stands behind it, and stays


def _block_patch(raw: bytes, root: Node, name: str, pairs: Mapping[str, object]) -> _Patch:
    return _behind(raw, root, (name,), [f"[[{name}]]", *(f"{key} = {toml_text(one)}" for key, one in pairs.items())])


def _iter_lines(header: str, table: Mapping[str, object]) -> Iterator[str]:
    """A table under its header, and behind it those of its arrays, each after an empty line."""
    yield f"[[{header}]]"
    inner = {key: one for key, one in table.items() if isinstance(one, list) and one and isinstance(one[0], dict)}
    for key, value in table.items():
        if key not in inner:
            yield f"{key} = {toml_text(value)}"
    for key, rows in inner.items():
        for row in rows:
            yield ""
            yield from _iter_lines(f"{header}.{key}", row)


def _behind(raw: bytes, root: Node, owner: KeyPath, lines: Sequence[str]) -> _Patch:
    """Lines behind everything that has a header and belongs to `owner`; at the end where there is none."""
    newline = _newline(raw)
    own = [node for prefix, node in iter_containers(root) if prefix[: len(owner)] == owner]
    at = len(raw)
    if own:
        last = own[-1]
        inner = _pairs(last)
        at = _line_end(raw, _end(inner[-1]) if inner else last.named_children[0].end_byte)
    start = newline if at and raw[at - 1 : at] != b"\n" else b""
    gap = newline if at else b""
    text = newline.join(line.encode().replace(b"\n", newline) for line in lines)
    return _Patch(at, at, start + gap + text + newline)


def _item_patch(raw: bytes, array: Node, pairs: Mapping[str, object]) -> _Patch:
    text = "{ " + ", ".join(f"{key} = {toml_text(value)}" for key, value in pairs.items()) + " }"
    items = _items(array)
    if not items:
        return _Patch(array.start_byte + 1, array.start_byte + 1, text.encode())
    last = items[-1]
    behind = next((child for child in _children_after(array, last) if child.type != "comment"), None)
    has_comma = behind is not None and behind.type == ","
    at = behind.end_byte if behind is not None and has_comma else last.end_byte
    is_tall = array.start_point[0] != array.end_point[0]
    line = raw.rfind(b"\n", 0, last.start_byte) + 1
    indent = raw[line : last.start_byte] if is_tall and not raw[line : last.start_byte].strip() else b" "
    gap = _newline(raw) + indent if is_tall and indent != b" " else b" "
    return _Patch(at, at, (b"" if has_comma else b",") + gap + text.encode() + (b"," if has_comma else b""))


def _children_after(array: Node, item: Node) -> Iterator[Node]:
    return (child for child in array.children if child.start_byte >= item.end_byte)
