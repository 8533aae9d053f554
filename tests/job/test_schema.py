"""The reference page and the JSON Schema: fresh, complete, and every example on the page loads."""

import json
import shutil
import tomllib
from pathlib import Path

import pytest

from sparwright.job import models
from sparwright.job.facts import resolve, schema_of
from sparwright.job.positions import value_at
from sparwright.job.reading import load_job
from sparwright.job.schema import FILES, PAGE, SCHEMA, examples, main, page, schema, stale, tables_of

ROOT = Path(__file__).parents[2]
TABLES = [(kind, table) for kind in FILES for table in tables_of(kind.model)]


def test_the_documents_are_fresh():
    assert stale(ROOT / "docs") == [], "run python -m sparwright.job.schema --write"


def test_check_and_write(tmp_path, capsys):
    assert main(["--check", "--folder", str(tmp_path)]) == 1
    assert PAGE in capsys.readouterr().err
    assert main(["--write", "--folder", str(tmp_path)]) == 0
    assert main(["--check", "--folder", str(tmp_path)]) == 0
    (tmp_path / PAGE).write_text(page().replace("rib", "rip"))
    assert main(["--check", "--folder", str(tmp_path)]) == 1


def test_every_table_model_is_on_the_page():
    shown = {table.model for _, table in TABLES}
    files = {kind.model.__name__ for kind in FILES}
    tables = {
        name
        for name, thing in vars(models).items()
        if isinstance(thing, type) and issubclass(thing, models.Table) and thing is not models.Table
    }
    assert tables - shown - files == set()
    assert set(examples()) == shown


@pytest.mark.parametrize(("kind", "table"), TABLES, ids=[table.model for _, table in TABLES])
def test_every_key_has_a_meaning_and_a_row(kind, table):
    text = page()
    for name, node in table.node["properties"].items():
        assert f"| `{name}` |" in text
        if "const" not in node:
            assert resolve(node, schema_of(kind.model)).get("description"), name


@pytest.mark.parametrize(("kind", "table"), TABLES, ids=[table.model for _, table in TABLES])
def test_every_example_is_valid_for_its_table(kind, table):
    data = value_at(tomllib.loads(examples()[table.model]), table.path)
    assert data, table.path
    read = getattr(models, table.model).model_validate(data)
    assert type(read).__name__ == table.model


def test_the_examples_together_are_a_job(tmp_path):
    shown = examples()
    in_job = [t.model for t in tables_of(models.JobFile) if t.path[:1] != ("stock",)]
    (tmp_path / "job.toml").write_text("\n\n".join([*(shown[m] for m in in_job), shown["Stock"]]))
    (tmp_path / "plotter.toml").write_text(shown["Served"])
    (tmp_path / "cutters.toml").write_text(shown["Cutter"])
    (tmp_path / "my-metals.toml").write_text(shown["Material"])
    bed = shown["Bed"] + "\n" + shown["Controller"]
    (tmp_path / "bench-router.toml").write_text(bed)
    job = load_job(tmp_path / "job.toml")
    assert job.file.stock.length == 1180
    assert job.file.placing.pad_thickness == pytest.approx(19.05)
    assert job.served is not None
    assert job.served.member == "bridge"


def test_the_schema_refers_only_to_what_it_holds():
    whole = schema()
    assert json.loads(json.dumps(whole)) == whole
    refs = [part.split('"')[0] for part in json.dumps(whole).split('"$ref": "#/$defs/')[1:]]
    assert len(refs) > 20
    assert set(refs) <= set(whole["$defs"])


def test_the_schema_holds_the_limits_of_optional_keys_and_text_with_units():
    skin = schema()["$defs"]["PocketField"]["properties"]["skin"]
    assert skin["type"] == ["number", "string"]
    assert (skin["minimum"], skin["maximum"], skin["unit"]) == (0, 50, "mm")
    assert "default" not in skin
    assert "null" not in json.dumps(schema())


def test_the_shipped_files_are_the_demo_s(tmp_path):
    for name in ("bench-router.toml", "cutters.toml"):
        shipped = ROOT / "src" / "sparwright" / "job" / "data" / name
        shutil.copy(shipped, tmp_path)
        assert shipped.read_text() == (ROOT / "examples" / "bridge-beam" / name).read_text()
    assert SCHEMA in {p.name for p in (ROOT / "docs").iterdir()}
