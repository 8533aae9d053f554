"""Where every key of a TOML text stands, so that an error can point at its line."""

from __future__ import annotations

import tomllib
from typing import Any

import tree_sitter_toml
from tree_sitter import Language, Node, Parser

Key = tuple[str | int, ...]


def key_text(key: Key) -> str:
    """A path as a reader writes it: field[1].rib, counting array elements from 1."""
    text = ""
    for part in key:
        text += f"[{part + 1}]" if isinstance(part, int) else (f".{part}" if text else part)
    return text


def _key_parts(node: Node) -> list[str]:
    if node.type == "dotted_key":
        return [part for child in node.named_children for part in _key_parts(child)]
    text = (node.text or b"").decode("utf-8")
    if node.type == "quoted_key":
        return [str(next(iter(tomllib.loads(f"{text} = 0"))))]
    return [text]


class Positions:
    """Lines (from 1) of the keys, tables and array elements of a TOML text, by path such as ("field", 0, "rib").

    values: from and to, in bytes of the text as UTF-8, of every value. pairs: the same of every "key = value".
    tables: the same of every table with a header of its own, from the header to its last pair.
    """

    def __init__(self, text: str) -> None:
        self.lines: dict[Key, int] = {(): 1}
        self.values: dict[Key, tuple[int, int]] = {}
        self.pairs: dict[Key, tuple[int, int]] = {}
        self.tables: dict[Key, tuple[int, int]] = {}
        self._arrays: dict[Key, int] = {}
        tree = Parser(Language(tree_sitter_toml.language())).parse(text.encode("utf-8"))
        for child in tree.root_node.named_children:
            if child.type == "pair":
                self._pair(child, ())
            elif child.type in ("table", "table_array_element"):
                self._table(child)

    def _put(self, key: Key, node: Node) -> None:
        self.lines.setdefault(key, node.start_point[0] + 1)

    def _resolve(self, parts: list[str]) -> Key:
        """A header's path with the index of the newest element put behind every array of tables."""
        path: Key = ()
        for part in parts:
            path = (*path, part)
            if path in self._arrays:
                path = (*path, self._arrays[path])
        return path

    def _table(self, node: Node) -> None:
        header = node.named_children[0]
        parts = _key_parts(header)
        if node.type == "table_array_element":
            base = (*self._resolve(parts[:-1]), parts[-1])
            self._arrays[base] = self._arrays.get(base, -1) + 1
            self._put(base, header)
            path: Key = (*base, self._arrays[base])
        else:
            path = self._resolve(parts)
        for i in range(1, len(path) + 1):
            self._put(path[:i], header)
        rest = node.named_children[1:]
        pairs = [child for child in rest if child.type == "pair" and len(child.named_children) > 1]
        # The bracket that closes a header is no named child.
        header_end = next(c.end_byte for c in node.children if c.type in ("]", "]]"))
        self.tables.setdefault(
            path, (node.start_byte, pairs[-1].named_children[1].end_byte if pairs else header_end)
        )
        for child in pairs:
            self._pair(child, path)

    def _pair(self, node: Node, path: Key) -> None:
        named = node.named_children
        if len(named) < 2:
            return
        for part in _key_parts(named[0]):
            path = (*path, part)
            self._put(path, node)
        # A comment behind a value counts into its pair's node.
        self.pairs.setdefault(path, (node.start_byte, named[1].end_byte))
        self._value(named[1], path)

    def _value(self, node: Node, path: Key) -> None:
        self.values.setdefault(path, (node.start_byte, node.end_byte))
        if node.type == "array":
            elements = [c for c in node.named_children if c.type != "comment"]
            for i, element in enumerate(elements):
                self._put((*path, i), element)
                self._value(element, (*path, i))
        elif node.type == "inline_table":
            for child in node.named_children:
                if child.type == "pair":
                    self._pair(child, path)

    def line(self, key: Key) -> int:
        """The line of a key, or of the nearest table above it where the key is not in the text."""
        while key not in self.lines:
            key = key[:-1]
        return self.lines[key]


def value_at(data: Any, key: Key) -> Any:
    """The value at a path of parsed TOML; None where there is none."""
    for part in key:
        try:
            data = data[part]
        except (KeyError, IndexError, TypeError):
            return None
    return data
