"""Run a proof for the command line and keep what its report is drawn from."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from shapely.geometry import LineString

from sparwright.answers import BadInput, unread
from sparwright.job.models import Job
from sparwright.job.reading import load_job
from sparwright.packet.proof_shown import Shown, part_outline, target_outlines
from sparwright.placing.model import Placement, Setup
from sparwright.placing.place import place
from sparwright.proof.case import Case
from sparwright.proof.casefile import NOTHING, load_case
from sparwright.proof.elsewhere import prove_known
from sparwright.proof.loads import Loads
from sparwright.proof.prove import prove_pads, prove_side
from sparwright.proof.simulate import Cutaway
from sparwright.stock.member import build_member
from sparwright.stock.model import Member

Programs = Sequence[tuple[str, str]]
Say = Callable[[str], None]


def read_programs(paths: Sequence[str]) -> list[tuple[str, str]]:
    """Name and text of every program, its line ends as they are, so that a digest is that of the file's bytes."""
    found: dict[str, str] = {}
    for path in paths:
        name = Path(path).name
        if name in found:
            raise BadInput(
                f"{path}: two programs are called {name}; rename one, so that a finding can name it"
            )
        try:
            found[name] = Path(path).read_bytes().decode("utf-8")
        except OSError as problem:
            raise BadInput(f"{unread(path, problem)}; check the name and the folder") from None
        except UnicodeDecodeError:
            raise BadInput(f"{path}: not a text file; a program is plain text") from None
    return list(found.items())


class _Kept:
    """Takes what a proof hands out."""

    def __init__(self) -> None:
        self.case: Case | None = None
        self.cut: Cutaway | None = None
        self.loads: Loads | None = None

    def __call__(self, case: Case, cut: Cutaway | None, loads: Loads | None) -> None:
        self.case, self.cut, self.loads = case, cut, loads


@dataclass(frozen=True)
class Ready:
    """A job as far as a proof needs it: its file, its member and where it lies, and the setups by side."""

    file: str
    job: Job
    member: Member
    placement: Placement
    setups: dict[str, Setup]

    def check(self, side: str | None) -> str:
        """The side's name, where the job has such a one; else BadInput."""
        sides = ", ".join([*self.setups, "pads"])
        if side is None:
            raise BadInput(f"name the side with --side; this job has {sides}")
        if side != "pads" and side not in self.setups:
            raise BadInput(f'no side "{side}"; this job has {sides}')
        return side


def get_ready(job_file: str) -> Ready:
    """Read a job and lay its member on the bed."""
    job = load_job(job_file)
    member = build_member(job)
    placement = place(member, job)
    setups = {setup.side: setup for setup in placement.setups}
    if not setups:
        raise BadInput(
            "the member does not fit on this machine, so there is no setup to prove a program against"
        )
    return Ready(job_file, job, member, placement, setups)


def prove_job(programs: Programs, job_file: str, side: str | None, say: Say) -> Shown:
    """The programs of one side, or of the pads, against a job."""
    ready = get_ready(job_file)
    return prove_one(programs, ready, ready.check(side), say)


def prove_one(programs: Programs, ready: Ready, side: str, say: Say) -> Shown:
    """The programs of one side of a job, or of its pads."""
    kept, job = _Kept(), ready.job
    if side == "pads":
        proof = prove_pads(programs, ready.placement, job, progress=say, keep=kept)
    else:
        setup, setups = ready.setups[side], ready.placement.setups
        proof = prove_side(programs, ready.member, setup, job, setups=setups, progress=say, keep=kept)
    return Shown(
        title=f"{job.title}: {side}",
        against=f"{side} of the job {Path(ready.file).name}, on {job.bed.name}",
        proof=proof,
        case=kept.case,
        cut=kept.cut,
        loads=kept.loads,
        outline=target_outlines(kept.case) if kept.case else LineString(),
        digest=job.digest,
    )


def prove_case(programs: Programs, case_file: str | None, say: Say) -> Shown:
    """Programs from elsewhere against a case file, or against nothing at all."""
    known = load_case(case_file) if case_file is not None else NOTHING
    kept = _Kept()
    proof = prove_known(programs, known, progress=say, keep=kept)
    words = known.words
    stock = "stock known" if words.stock else "stock not known"
    part = f"the part {words.part.file}" if words.part else "no part"
    return Shown(
        title=words.title or ", ".join(name for name, _ in programs),
        against=f"{part}, {stock}, {'on ' + known.bed.name if known.bed else 'bed not known'}",
        proof=proof,
        case=kept.case,
        cut=kept.cut,
        loads=kept.loads,
        outline=part_outline(known.part, kept.case) if known.part is not None and kept.case else LineString(),
        digest=known.digest,
    )
