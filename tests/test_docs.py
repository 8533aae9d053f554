"""The documentation holds together: links lead somewhere, pages are listed, and what they show to be typed works."""

from __future__ import annotations

import json
import re
import shlex
import shutil
from pathlib import Path

import manifold3d
import numpy as np
import pytest

from sparwright.cli import main
from sparwright.job.reading import load_job

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "docs"
PAGES = [ROOT / "README.md", *sorted(DOCS.glob("*.md"))]
LINK = re.compile(r"\]\(([^)\s]+)\)")
FENCE = re.compile(r"^```\w*\n.*?^```$", re.MULTILINE | re.DOTALL)


def anchors(page: Path) -> set[str]:
    """Names of a page's headings as links write them: lower case, signs dropped, blanks as hyphens."""
    heads = re.findall(r"^#+ (.*)$", FENCE.sub("", page.read_text()), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", head.lower()).replace(" ", "-") for head in heads}


def links() -> list[tuple[Path, str]]:
    """Every link within the documentation, with the page it stands on."""
    found = ((page, target) for page in PAGES for target in LINK.findall(FENCE.sub("", page.read_text())))
    return [(page, target) for page, target in found if "://" not in target]


@pytest.mark.parametrize(("page", "target"), links(), ids=lambda v: getattr(v, "name", v))
def test_every_link_leads_somewhere(page: Path, target: str) -> None:
    name, _, anchor = target.partition("#")
    other = (page.parent / name).resolve() if name else page
    assert other.exists()
    assert not anchor or anchor in anchors(other)


def test_every_page_is_listed() -> None:
    listed = set(LINK.findall((DOCS / "README.md").read_text()))
    assert {p.name for p in DOCS.glob("*.md")} - listed == {"README.md"}


def blocks(page: str, kind: str) -> list[str]:
    """The fenced blocks of a kind on a page."""
    return re.findall(rf"^```{kind}\n(.*?)^```$", (DOCS / page).read_text(), re.MULTILINE | re.DOTALL)


COMMANDS = re.findall(
    r"^python3 run\.py (?!demo|test|--help)(.*)$", (ROOT / "README.md").read_text(), re.MULTILINE
)


@pytest.mark.parametrize("line", COMMANDS)
def test_every_command_of_the_readme_is_one(line: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Asked of files that are not there, each finds nothing wrong with how it was asked."""
    assert main(shlex.split(line)) == 2
    said = capsys.readouterr().err
    assert "there is no file" in said, said


def test_the_touches_of_the_placing_page_give_a_pose(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (touches,) = blocks("placing.md", "toml")
    file = tmp_path / "touches.toml"
    file.write_text(touches)
    assert main(["pose", str(file), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["angle_deg"] == pytest.approx(45, abs=0.1)


def test_the_push_of_the_machine_page_is_read(tmp_path: Path) -> None:
    (push,) = blocks("machine.md", "toml")
    folder = tmp_path / "job"
    shutil.copytree(ROOT / "examples" / "bridge-beam", folder)
    with (folder / "plotter.toml").open("a") as file:
        file.write("\n" + push)
    served = load_job(folder / "job.toml").served
    assert served is not None
    assert [p.link for p in served.pushes] == ["tool drive"]


def test_the_case_of_programs_from_elsewhere_is_judged(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (case,) = blocks("programs-from-elsewhere.md", "toml")
    (tmp_path / "case.toml").write_text(case)
    cut = manifold3d.Manifold.cube([40, 20, 10]).translate([20, 15, 8])
    mesh = (manifold3d.Manifold.cube([80, 50, 12]) - cut).to_mesh()
    corners = np.asarray(mesh.vert_properties)[:, :3][np.asarray(mesh.tri_verts)]
    record = np.zeros(len(corners), [("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
    record["corners"] = corners
    body = bytes(80) + len(record).to_bytes(4, "little") + record.tobytes()
    (tmp_path / "block.stl").write_bytes(body)
    program = tmp_path / "air.nc"
    program.write_text("G21 G17 G90 G94 G54\nG0 Z30\nT1 M6\nM3 S18000\nG0 X10 Y10\nG0 Z30\nM5\nM30\n")
    assert main(["prove", str(program), "--case", str(tmp_path / "case.toml"), "--json"]) == 1
    found = {f["check"]: f["verdict"] for f in json.loads(capsys.readouterr().out)["findings"]}
    assert found["metal left"] == "no-go"
