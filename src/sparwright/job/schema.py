"""The JSON Schema and the reference page of the job file and the files it names, both made from the models.

`python -m sparwright.job.schema --write` writes them to docs/; `--check` fails where they are stale.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from importlib import resources
from pathlib import Path
from typing import Any

from sparwright.job.facts import Node, allowed_words, range_words, resolve, schema_of, tidy
from sparwright.job.models import Bed, CutterFile, JobFile, MaterialFile, Served, Table
from sparwright.job.positions import Key
from sparwright.job.reading import parse_table
from sparwright.job.typical import typical_values

PAGE, SCHEMA = "job-file.md", "job-file.schema.json"


@dataclass(frozen=True)
class FileKind:
    """One kind of file: its model, the heading of its part of the page, and what it is for."""

    model: type[Table]
    heading: str
    purpose: str


FILES = (
    FileKind(JobFile, "The job file", "What is to be made of which piece of stock. It names the others."),
    FileKind(
        Bed,
        "The bed file",
        'The machine that cuts; named by `job.bed`. A light router ships as "bench-router.toml".',
    ),
    FileKind(
        CutterFile, "The cutters file", 'The cutters at hand; named by `job.cutters`. "cutters.toml" ships.'
    ),
    FileKind(
        Served,
        "The file of the machine served",
        "The machine the member will serve, in plain measures: a moving bridge, a portal, a cantilever arm, or any "
        "other by its parts. Named by `job.served`; may be left out. [machine.md](machine.md) tells how to describe "
        "one's own. X runs along the bridge or arm, Y along the base's rails, Z up.",
    ),
    FileKind(
        MaterialFile,
        "The materials file",
        "Metals of your own; named by `job.materials`; may be left out. A metal here comes before a shipped one of "
        "the same name.",
    ),
)

_OPENING = """\
# The job file

<!-- Made from the models by `python -m sparwright.job.schema --write`; change the models, not this page. -->

A job is one TOML file; it names the files of the machine that cuts, the cutters at hand and, if wanted, the machine
the member will serve and metals of your own. A named file is looked for beside the job file, or in a folder beside
it, then among those that ship. Nothing outside the job's folder is read.

A bare number is in the unit of its table below. Text may carry any unit of the same kind: `"1/4 in"`, `"1-1/2 in"`,
`"900 W"`, `"18000 rpm"`, `"60 %"`, `"2.5 N/µm"`. Decimals take a point. Unknown keys are refused.

An editor that knows JSON Schema can check the files while you write: [job-file.schema.json](job-file.schema.json)
describes the job file, and under `$defs` the others.

Places on a face are `[x, s]`: x along the member from its datum end, s across the face from its middle.
"""


@dataclass(frozen=True)
class TableFacts:
    """One table of a file: the name of its model, its path in the file, its header and its schema."""

    model: str
    path: Key
    header: str
    node: Node


def tables_of(model: type[Table]) -> Iterator[TableFacts]:
    """Every table of a file in the order of its models, the file's own keys first.

    The path holds 0 for one of an array of tables, so that it finds the table in an example's data.
    """
    root = schema_of(model)
    if any("$ref" not in _tables_in(node)[0] for node in root["properties"].values()):
        yield TableFacts(model.__name__, (), "top of the file", root)
    once: dict[str, TableFacts] = {}
    for table in _tables_under(root, root, ()):
        before = once.get(table.model)
        # A table that may stand at several places is told once, under all its headers.
        once[table.model] = (
            replace(before, header=f"{before.header}`, `{table.header}") if before is not None else table
        )
    yield from once.values()


def _tables_in(node: Node) -> tuple[Node, bool]:
    """The node that may refer to a table, and whether it is one of an array."""
    items = node.get("items", {})
    return (items, True) if "$ref" in items else (node, False)


def _tables_under(node: Node, root: Node, path: Key) -> Iterator[TableFacts]:
    for name, inner in node["properties"].items():
        target, many = _tables_in(inner)
        here = (*path, name, 0) if many else (*path, name)
        dotted = ".".join(str(part) for part in (*path, name) if isinstance(part, str))
        header = f"[[{dotted}]]" if many else f"[{dotted}]"
        for option in target.get("oneOf", [target]):
            if "$ref" in option:
                table = resolve({"$ref": option["$ref"]}, root)
                yield TableFacts(option["$ref"].rpartition("/")[2], here, header, table)
                yield from _tables_under(table, root, here)


def examples() -> dict[str, str]:
    """The small example of every table, by the name of its model."""
    text = resources.files("sparwright.job").joinpath("examples.toml").read_text(encoding="utf-8")
    parts = [part.partition("\n") for part in text.split("\n#: ")[1:]]
    return {name.strip(): body.strip() for name, _, body in parts}


def schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the job file, the other files under $defs; quantities as numbers or text."""
    definitions: Node = {}
    for kind in FILES:
        whole = tidy(kind.model.model_json_schema())
        definitions |= whole.pop("$defs", {})
        definitions[kind.model.__name__] = whole
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Sparwright job file",
        "$ref": "#/$defs/JobFile",
        "$defs": _with_text(definitions),
    }


def _with_text(node: Any) -> Any:
    """Quantities may also be text with a unit."""
    if isinstance(node, list):
        return [_with_text(part) for part in node]
    if not isinstance(node, dict):
        return node
    out = {key: _with_text(value) for key, value in node.items()}
    if node.get("type") == "number" and "unit" in node:
        out["type"] = ["number", "string"]
    return out


def page() -> str:
    """The reference page, Markdown."""
    parts = [_OPENING]
    shown = examples()
    for kind in FILES:
        parts.append(f"## {kind.heading}\n\n{kind.purpose}\n")
        parts += [_table_part(table, shown[table.model]) for table in tables_of(kind.model)]
    return "\n".join([*parts, _shipped_metals(), _shipped_stiffness()])


def _shipped_stiffness() -> str:
    """The tables of typical stiffness values that ship, with their spread and source."""
    values = typical_values()
    lines = [
        "### Stiffness values that ship",
        "",
        "For `like` in the file of the machine served. The spread is a half-width. A push test beats every one of them.",
        "",
    ]
    for kind, columns in (
        ("contact", {"radial": "radial, N/mm", "axial": "axial, N/mm", "tilting": "tilting, N mm/rad"}),
        ("belt", {"specific": "EA, N", "tooth": "pitch, mm"}),
        ("screw", {"stiffness": "nut, N/mm"}),
        ("rack", {"stiffness": "N/mm"}),
        ("joint", {"linear": "linear, N/mm", "tilting": "tilting, N mm/rad"}),
    ):
        lines += [f"| {kind} | {' | '.join(columns.values())} | spread | source |"]
        lines += ["| " + " | ".join(["---"] * (len(columns) + 3)) + " |"]
        for value in getattr(values, kind):
            cells = [f"{getattr(value, key):g}" for key in columns]
            lines.append(
                f"| `{value.name}` | {' | '.join(cells)} | {100 * value.spread:.0f} % | {value.source} |"
            )
        lines.append("")
    return "\n".join(lines)


def _shipped_metals() -> str:
    """The table of the metals that ship, with where their figures come from."""
    text = resources.files("sparwright.job").joinpath("data", "materials.toml").read_text(encoding="utf-8")
    rows = [
        f"| `{m.name}` | {m.modulus:g} | {m.poisson:g} | {m.density:g} | {m.proof_strength:g} | {m.tensile_strength:g} "
        f"| {m.cutting_force:g} | {m.cutting_exponent:g} | {m.expansion * 1e6:g} | {m.source} |"
        for m in parse_table(text, MaterialFile, "materials.toml").material
    ]
    lines = [
        "### Metals that ship",
        "",
        "Strengths are least values; specific cutting forces are those of a group of materials, right to about 20 %.",
        "",
        "| name | E, MPa | Poisson | density, kg/m³ | 0.2 % proof, MPa | tensile, MPa | kc1.1, N/mm² | mc | expansion, 1e-6/K | source |",
        "| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |",
        *rows,
        "",
    ]
    return "\n".join(lines)


def _table_part(table: TableFacts, example: str) -> str:
    properties = table.node["properties"]
    shape = properties.get("shape", {}).get("const")
    header = f"`{table.header}`" if table.header.startswith("[") else table.header.capitalize()
    if shape:
        header += f', `shape = "{shape}"`'
    rows = [_row(name, node, table.node.get("required", ())) for name, node in properties.items()]
    lines = [
        f"### {header}",
        "",
        table.node.get("description", ""),
        "",
        "| key | kind | unit | default | allowed | meaning |",
        "| --- | --- | --- | --- | --- | --- |",
        *rows,
        "",
        "```toml",
        example,
        "```",
        "",
    ]
    return "\n".join(lines)


def _row(name: str, node: Node, required: Any) -> str:
    target, many = _tables_in(node)
    if "$ref" in target or "oneOf" in target:
        kind, allowed = ("tables" if many else "table"), ""
    else:
        kind, allowed = _kind(node), _allowed(node)
    unit = node.get("unit") or node.get("prefixItems", [{}])[0].get("unit", "")
    cells = [f"`{name}`", kind, unit, _default(name, node, required), allowed, node.get("description", "")]
    if "const" in node:
        cells[5] = cells[5] or "names the shape"
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _kind(node: Node) -> str:
    if "enum" in node or "const" in node:
        return "choice"
    kinds = {"number": "number", "integer": "whole number", "string": "text", "boolean": "true or false"}
    return kinds.get(node.get("type", ""), "list")


def _allowed(node: Node) -> str:
    """What is allowed, without what the columns beside it say already."""
    if node.get("type") in ("number", "integer"):
        return range_words({key: value for key, value in node.items() if key != "unit"})
    return allowed_words(node) if node.get("type") == "array" or "enum" in node or "const" in node else ""


def _default(name: str, node: Node, required: Any) -> str:
    if name in required:
        return "**required**"
    if "default" not in node:
        return "not set"
    value = node["default"]
    if isinstance(value, dict):
        return "its own defaults"
    return f"`{json.dumps(value, ensure_ascii=False)}`" if value != [] else "none"


def rendered() -> dict[str, str]:
    """Both documents by file name."""
    return {PAGE: page(), SCHEMA: json.dumps(schema(), indent=2, ensure_ascii=False) + "\n"}


def stale(folder: Path) -> list[str]:
    """Names of the documents in a folder that are not what the models say now."""
    return [
        name
        for name, text in rendered().items()
        if not (folder / name).is_file() or (folder / name).read_text(encoding="utf-8") != text
    ]


def main(argv: list[str] | None = None) -> int:
    """Write or check the documents; 1 where a check finds one stale."""
    parser = argparse.ArgumentParser(prog="python -m sparwright.job.schema", description=main.__doc__)
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("--write", action="store_true", help="write both documents")
    what.add_argument("--check", action="store_true", help="fail where one is stale")
    parser.add_argument("--folder", type=Path, default=Path("docs"), help="folder of the documents")
    args = parser.parse_args(argv)
    if args.write:
        args.folder.mkdir(parents=True, exist_ok=True)
        for name, text in rendered().items():
            (args.folder / name).write_text(text, encoding="utf-8")
        return 0
    old = stale(args.folder)
    if old:
        print(f"stale: {', '.join(old)}; run python -m sparwright.job.schema --write", file=sys.stderr)
    return 1 if old else 0


if __name__ == "__main__":
    sys.exit(main())
