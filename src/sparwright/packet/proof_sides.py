"""Run the proofs of several sides of a job for the command line, and that of all of them together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

from shapely.geometry import LineString

from sparwright.packet.proof_run import Programs, Say, get_ready, prove_one
from sparwright.packet.proof_shown import Shown
from sparwright.proof.sidecut import side_cut
from sparwright.proof.together import SIDE, prove_together


def prove_sides(groups: Sequence[tuple[str | None, Programs]], job_file: str, say: Say) -> list[Shown]:
    """The programs of several sides of a job, each side by itself; last, of two sides of the member and more, what they
    really cut held against each other. Pads lie under all sides, and are only proved by themselves.
    """
    ready = get_ready(job_file)
    named = [(ready.check(side), programs) for side, programs in groups]
    shown, cuts = [], []
    for side, programs in named:
        one = prove_one(programs, ready, side, partial(_say_of, say, side))
        shown.append(one)
        if side != "pads" and one.case is not None and one.cut is not None:
            cuts.append(side_cut(one.case, one.cut, one.proof.digests))
    if len(cuts) > 1:
        say(SIDE)
        together = prove_together(cuts, ready.member, ready.job)
        sides = ", ".join(cut.side for cut in cuts)
        shown.append(
            replace(  # there is no one map of several sides
                shown[0],
                title=f"{ready.job.title}: {SIDE}",
                against=f"each other: {sides} of the job {Path(job_file).name}",
                proof=together,
                case=None,
                cut=None,
                outline=LineString(),
            )
        )
    return shown


def _say_of(say: Say, side: str, what: str) -> None:
    say(f"{side}: {what}")
