"""Write the packet: everything appears in the folder whole, or nothing does."""

from __future__ import annotations

import csv
import io
import json
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sparwright.answers import BadInput
from sparwright.packet import exports
from sparwright.packet.document import Document, build
from sparwright.packet.faces import hole_rows
from sparwright.packet.figures import mm
from sparwright.plan.model import Plan
from sparwright.stock.model import Member

MARK = ".sparwright-packet"


def font_folder() -> Path:
    """Where the sheets' one sans family lies."""
    import font_source_sans_pro

    return Path(str(font_source_sans_pro.__file__)).parent / "files"


@contextmanager
def laid_out(doc: Document, paper: str = "a4") -> Iterator[dict[str, Any]]:
    """The document's files in a folder that is gone afterwards; what the typesetter is to be called with.

    paper: "a4" or "us-letter".
    """
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        shutil.copy(Path(__file__).parent / "template" / "packet.typ", root / "packet.typ")
        (root / "data.json").write_text(json.dumps(doc.data), encoding="utf-8")
        for name, svg in doc.pictures.items():
            (root / name).write_text(svg, encoding="utf-8")
        yield {
            "input": str(root / "packet.typ"),
            "root": str(root),
            "font_paths": [str(font_folder())],
            "ignore_system_fonts": True,
            "sys_inputs": {"paper": paper},
        }


def set_pdf(doc: Document, paper: str = "a4") -> bytes:
    """The packet as PDF bytes on `paper` ("a4" or "us-letter")."""
    import typst

    with laid_out(doc, paper) as called:
        return bytes(typst.compile(**called))


def _table(head: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(head)
    writer.writerows(rows)
    return out.getvalue()


def hole_table(member: Member) -> str:
    """The hole table of a member as CSV; lengths in mm."""
    rows = [
        (r.mark, r.name, r.face, mm(r.x, 3), mm(r.s, 3), mm(r.from_edge, 3), mm(r.drill, 3), r.what)
        for r in hole_rows(member)
    ]
    return _table(("mark", "hole", "face", "x_mm", "s_mm", "from_edge_mm", "drill_mm", "what"), rows)


def cutter_table(plan: Plan) -> str:
    """The cutters used, with speeds, as CSV."""
    rows = []
    for side in (*plan.pads, *plan.sides):
        for cut in side.cuts:
            c = plan.job.cutter(cut.cutter)
            rows.append(
                (
                    side.side,
                    cut.name,
                    str(c.number),
                    c.name,
                    mm(c.diameter, 4),
                    mm(c.stick_out),
                    f"{cut.rpm:.0f}",
                    f"{cut.seconds / 60:.1f}",
                )
            )
    return _table(("side", "cut", "cutter", "name", "diameter_mm", "stick_out_mm", "rpm", "minutes"), rows)


def _fill(plan: Plan, folder: Path) -> None:
    doc = build(plan)
    paper = {"A4": "a4", "US Letter": "us-letter"}[plan.job.file.job.paper]
    (folder / "packet.pdf").write_bytes(set_pdf(doc, paper))
    drawings = folder / "drawings"
    drawings.mkdir()
    for name, svg in doc.pictures.items():
        (drawings / name).write_text(svg, encoding="utf-8")
    answers = {"answers": [a.as_dict() for a in plan.answers], "digest": plan.job.digest}
    answers["proofs"] = [
        {
            "side": p.side,
            "verdict": p.verdict.value,
            "digests": p.digests,
            "findings": [f.as_dict() for f in p.findings],
        }
        for p in plan.proofs
    ]
    (folder / "answers.json").write_text(
        json.dumps(answers, indent=2, ensure_ascii=False) + "\n", encoding="utf-8"
    )
    (folder / "holes.csv").write_text(hole_table(plan.member), encoding="utf-8")
    (folder / "cutters.csv").write_text(cutter_table(plan), encoding="utf-8")
    programs = folder / "programs"
    programs.mkdir()
    for program in plan.programs:
        (programs / program.name).write_text(program.text, encoding="ascii", newline="\n")
    exports.write_all(plan.member, folder / "shapes")
    if plan.pads and exports.has_step():
        setup = plan.placement.setups[0]
        exports.write_pads(setup.pads, setup.side, exports.bored_depths(plan.pads), folder / "shapes")
    (folder / MARK).write_text(plan.job.digest + "\n", encoding="ascii")


ELSEWHERE = "name an empty or new folder with --out"
"""What to do where the folder holds something else."""


def refuse_other(out: Path, remedy: str = ELSEWHERE) -> None:
    """BadInput, with what to do, where `out` holds anything but a packet or nothing."""
    if out.exists() and (not out.is_dir() or (any(out.iterdir()) and not (out / MARK).exists())):
        raise BadInput(f"{out} holds something else than a packet; {remedy}")


def put_in_place(fresh: Path, out: Path, remedy: str = ELSEWHERE) -> None:
    """Move a finished packet, on the same disk, to `out`; one already there is replaced as a whole.

    Raises BadInput as refuse_other does, and OSError; the old one stays then.
    """
    refuse_other(out, remedy)
    fresh.chmod(0o755)
    if not out.exists():
        fresh.rename(out)
        return
    old = Path(tempfile.mkdtemp(prefix=f".{out.name}-old-", dir=out.parent))
    out.rename(old / "packet")
    fresh.rename(out)
    shutil.rmtree(old)


def write_packet(plan: Plan, out: Path) -> tuple[str, ...]:
    """Write the packet into `out` and list its files, relative to it.

    A packet already there is replaced as a whole; a folder that holds anything else is refused with BadInput.
    """
    refuse_other(out)
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        fresh = Path(tempfile.mkdtemp(prefix=f".{out.name}-", dir=out.parent))
    except OSError as problem:
        raise BadInput(
            f"{out.parent} cannot be written to: {problem.strerror}; name another folder with --out"
        ) from None
    try:
        _fill(plan, fresh)
        put_in_place(fresh, out)
    except BaseException:
        shutil.rmtree(fresh, ignore_errors=True)
        raise
    return tuple(sorted(str(p.relative_to(out)) for p in out.rglob("*") if p.is_file() and p.name != MARK))
