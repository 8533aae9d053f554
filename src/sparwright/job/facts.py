"""What the models say of each key: its kind, range, choices, unit, meaning. Errors and the reference page read it here."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

from sparwright.job.models import Table
from sparwright.job.positions import Key

Node = dict[str, Any]

# What pydantic leaves on a key that may be left out, and the words of JSON Schema for it.
_LIMIT_WORDS = {"gt": "exclusiveMinimum", "ge": "minimum", "lt": "exclusiveMaximum", "le": "maximum"}


def tidy(node: Any) -> Any:
    """A schema as pydantic writes it with nulls, titles and odd limit words put right; TOML has no null."""
    if isinstance(node, list):
        return [tidy(part) for part in node]
    if not isinstance(node, dict):
        return node
    options = [option for option in node.get("anyOf", ()) if option != {"type": "null"}]
    merged = {key: value for key, value in node.items() if key != "anyOf"}
    if len(options) == 1:
        merged = options[0] | merged
        if merged.get("default", 0) is None:
            del merged["default"]
    out: Node = {}
    for key, value in merged.items():
        if key in ("properties", "$defs"):
            out[key] = {name: tidy(inner) for name, inner in value.items()}
        elif key == "default":
            said = value.items() if isinstance(value, dict) else ()
            out[key] = {name: inner for name, inner in said if inner is not None} if said else value
        elif key != "title":
            out[_LIMIT_WORDS.get(key, key)] = tidy(value)
    return out


@lru_cache
def schema_of(model: type[Table]) -> Node:
    """The tidied JSON Schema of a file's model; quantities as plain numbers with their unit under "unit"."""
    tidied: Node = tidy(model.model_json_schema())
    return tidied


def resolve(node: Node, root: Node) -> Node:
    """A node with its reference followed; what the node itself says (its description) stays."""
    if "$ref" not in node:
        return node
    target: Node = root["$defs"][node["$ref"].rpartition("/")[2]]
    return target | {key: value for key, value in node.items() if key != "$ref"}


def node_at(model: type[Table], path: Key, data: Any) -> tuple[Node, Key]:
    """The schema of what stands at a path, and the path without the tags a validation puts in for unions.

    data: the parsed file, which decides between the variants of a union. Returns an empty node where the
    model knows no such key.
    """
    root = schema_of(model)
    node, here = root, data
    clean: Key = ()
    for part in path:
        node = resolve(node, root)
        if "discriminator" in node:
            choice = node["discriminator"]
            tag = here.get(choice["propertyName"]) if isinstance(here, dict) else None
            node = resolve({"$ref": choice["mapping"].get(tag, node["oneOf"][0]["$ref"])}, root)
            if part == tag:
                continue
        clean = (*clean, part)
        if isinstance(part, str):
            node = node.get("properties", {}).get(part, {})
            here = here.get(part) if isinstance(here, dict) else None
        else:
            places = node.get("prefixItems", ())
            node = places[part] if part < len(places) else node.get("items", {})
            here = here[part] if isinstance(here, list) and part < len(here) else None
    return resolve(node, root), clean


def range_words(node: Node) -> str:
    """The range of a number in words, with its unit: "above 0 and at most 200 mm"; empty where there is none."""
    words = {
        "exclusiveMinimum": "above",
        "minimum": "at least",
        "exclusiveMaximum": "below",
        "maximum": "at most",
    }
    text = " and ".join(f"{word} {node[key]:g}" for key, word in words.items() if key in node)
    unit = node.get("unit", "")
    return f"{text} {unit}" if text and unit and unit != "ratio" else text


def allowed_words(node: Node) -> str:
    """What may stand there, in words: choices, a range, or the kind of value."""
    if "discriminator" in node:
        return "a table with its shape"
    if "enum" in node or "const" in node:
        return _either([f'"{choice}"' for choice in node.get("enum", [node.get("const")])])
    kind = node.get("type")
    if kind in ("number", "integer"):
        noun = "a whole number" if kind == "integer" else "a number"
        limits = range_words(node)
        if not limits and node.get("unit", "ratio") != "ratio":
            limits = f"in {node['unit']}"
        return f"{noun} {limits}".strip()
    if kind == "array":
        return _list_words(node)
    return {"string": "text in quotes", "boolean": "true or false", "object": "a table"}.get(str(kind), "")


def _list_words(node: Node) -> str:
    if "prefixItems" in node:
        first = node["prefixItems"][0]
        limits = range_words({key: value for key, value in first.items() if key != "unit"})
        what = "texts" if first.get("type") == "string" else "numbers"
        words = f"a list of {len(node['prefixItems'])} {what} {limits}".strip()
        return f"{words} in {first['unit']}" if first.get("unit", "ratio") != "ratio" else words
    items = node.get("items", {})
    if "$ref" in items:
        return "one or more tables" if node.get("minItems") else "any number of tables"
    least, most = node.get("minItems", 0), node.get("maxItems", math.inf)
    if items.get("type") == "number":
        count = f"{least} or {most}" if most == least + 1 else f"{least} to {most}"
        return f"a list of {count} numbers in {items.get('unit', 'its unit')}"
    if items.get("type") == "array" and "prefixItems" not in items:
        each = f"lists, each {_list_words(items)}"
    else:
        each = f"lists of {len(items['prefixItems'])} numbers" if "prefixItems" in items else "texts"
    count = "one or more " if least == 1 else f"at least {least} " if least else ""
    return f"a list of {count}{each}"


def _either(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"
