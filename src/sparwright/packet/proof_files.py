"""Write the report of a proof: report.html, report.pdf and proof.json appear together, or nothing does."""

from __future__ import annotations

import json
import shutil
import tempfile
from pathlib import Path

from sparwright.answers import BadInput
from sparwright.packet.document import Document
from sparwright.packet.proof_page import page
from sparwright.packet.proof_report import build_report, report_json
from sparwright.packet.proof_shown import Shown
from sparwright.packet.write import font_folder

MARK = ".sparwright-proof"
TEMPLATE = "proof.typ"


def set_report(doc: Document, paper: str = "a4") -> bytes:
    """The report as PDF bytes on `paper` ("a4" or "us-letter")."""
    import typst

    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        shutil.copy(Path(__file__).parent / "template" / TEMPLATE, root / TEMPLATE)
        (root / "data.json").write_text(json.dumps(doc.data), encoding="utf-8")
        for name, svg in doc.pictures.items():
            (root / name).write_text(svg, encoding="utf-8")
        pdf = typst.compile(
            str(root / TEMPLATE),
            root=str(root),
            font_paths=[str(font_folder())],
            ignore_system_fonts=True,
            sys_inputs={"paper": paper},
        )
    return bytes(pdf)


def _fill(shown: Shown, folder: Path) -> None:
    doc = build_report(shown)
    (folder / "report.html").write_text(page(doc), encoding="utf-8")
    (folder / "report.pdf").write_bytes(set_report(doc))
    told = json.dumps(report_json(shown), indent=2, ensure_ascii=False, allow_nan=False)
    (folder / "proof.json").write_text(told + "\n", encoding="utf-8")
    (folder / MARK).write_text(
        "".join(f"{d} {n}\n" for n, d in shown.proof.digests.items()), encoding="utf-8"
    )


def write_report(shown: Shown, out: Path) -> tuple[str, ...]:
    """Write the report into the folder `out` and list its files.

    A report already there is replaced as a whole; a folder that holds anything else is refused with BadInput.
    """
    if out.exists() and (not out.is_dir() or (any(out.iterdir()) and not (out / MARK).exists())):
        raise BadInput(f"{out} holds something else than a report; name an empty or new folder with --report")
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        fresh = Path(tempfile.mkdtemp(prefix=f".{out.name}-", dir=out.parent))
    except OSError as problem:
        raise BadInput(
            f"{out.parent} cannot be written to: {problem.strerror}; name another folder with --report"
        ) from None
    try:
        _fill(shown, fresh)
        fresh.chmod(0o755)
        _swap(fresh, out)
    except BaseException:
        shutil.rmtree(fresh, ignore_errors=True)
        raise
    return tuple(sorted(p.name for p in out.iterdir() if p.name != MARK))


def _swap(fresh: Path, out: Path) -> None:
    """Put the new folder where the old one is, which goes only once the new one is there."""
    if not out.exists():
        fresh.rename(out)
        return
    old = Path(tempfile.mkdtemp(prefix=f".{out.name}-old-", dir=out.parent))
    out.rename(old / "report")
    fresh.rename(out)
    shutil.rmtree(old)
