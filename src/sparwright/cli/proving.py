"""The command that proves programs."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sparwright.answers import BadInput
from sparwright.cli.common import EXIT_NO_GO, EXIT_OK, Command, print_json

if TYPE_CHECKING:
    from sparwright.packet.proof_shown import Shown
    from sparwright.proof.model import Proof


def _groups(args: argparse.Namespace) -> list[tuple[str | None, list[str]]]:
    """Sides with the files of their programs; the side is None where none is named."""
    if args.job is not None and args.case is not None:
        raise BadInput("--job and --case both say what the programs are held against; give one")
    if args.side and args.job is None:
        raise BadInput("--side names a side of a job; give --job too, or leave it out")
    groups: list[tuple[str | None, list[str]]] = [(side, files) for side, *files in args.side]
    if not groups:
        groups = [(None, args.programs)]
    elif args.programs:
        if len(groups) > 1 or groups[0][1]:
            raise BadInput(
                f"{args.programs[0]} stands before the first --side, so its side is not known; write each side's programs "
                "after it: --side front A.nc B.nc --side back C.nc"
            )
        groups = [(groups[0][0], args.programs)]
    for k, (side, files) in enumerate(groups):
        if not files:
            after = f" after --side {side}" if side else ""
            raise BadInput(f"no program is named{after}; give the files in the order they are run")
        if side in [s for s, _ in groups[:k]]:
            raise BadInput(f"--side {side} is given twice; write all its programs after one")
    return groups


def _told(proof: Proof) -> dict[str, Any]:
    return {
        "verdict": proof.verdict.value,
        "findings": [f.as_dict() for f in proof.findings],
        "digests": proof.digests,
    }


def _figures(proof: Proof) -> dict[str, Any]:
    return {"removed_mm3": proof.removed_mm3, "seconds": proof.seconds}


def _as_json(shown: Sequence[Shown], files: Sequence[str]) -> dict[str, Any]:
    """One side flat; of several a list, and what they do together beside it."""
    from sparwright.answers import worst
    from sparwright.proof.together import SIDE

    if len(shown) == 1:
        proof = shown[0].proof
        return _told(proof) | {"digest": shown[0].digest} | _figures(proof) | {"files": list(files)}
    proofs = [one.proof for one in shown]
    together = next((_told(p) for p in proofs if p.side == SIDE), None)
    return {
        "verdict": worst(p.verdict for p in proofs).value,
        "sides": [{"side": p.side} | _told(p) | _figures(p) for p in proofs if p.side != SIDE],
        "together": together,
        "digest": shown[0].digest,
        "files": list(files),
    }


def _reports(shown: Sequence[Shown], out: Path) -> tuple[str, ...]:
    """One report, or one a side, each in a folder of its own."""
    from sparwright.packet.proof_files import write_report

    if len(shown) == 1:
        return write_report(shown[0], out)
    found: list[str] = []
    for one in shown:
        folder = one.proof.side.replace(" ", "-")
        found += [f"{folder}/{name}" for name in write_report(one, out / folder)]
    return tuple(found)


def _prove(args: argparse.Namespace) -> int:
    from sparwright.answers import Verdict, worst
    from sparwright.packet.proof_run import prove_case, prove_job, read_programs
    from sparwright.packet.proof_sides import prove_sides
    from sparwright.plan.console import Steps, print_proof

    groups = _groups(args)
    texts = iter(read_programs([file for _, files in groups for file in files]))
    programs = [(side, [next(texts) for _ in files]) for side, files in groups]
    side, first = programs[0]
    with Steps(quiet=args.json) as steps:
        steps.begin("proof")
        if args.job is None:
            shown = [prove_case(first, args.case, steps.begin)]
        elif len(programs) == 1:
            shown = [prove_job(first, args.job, side, steps.begin)]
        else:
            shown = prove_sides(programs, args.job, steps.begin)
        files: tuple[str, ...] = ()
        if args.report is not None:
            steps.begin("report")
            files = _reports(shown, Path(args.report))
    if args.json:
        print_json(_as_json(shown, files))
    else:
        for one in shown:
            print_proof(one.proof)
        if files:
            print(f"Report in {args.report}: {', '.join(files)}")
    verdict = worst(one.proof.verdict for one in shown)
    return EXIT_NO_GO if verdict is Verdict.NO_GO else EXIT_OK


def add_prove(command: Command) -> None:
    """The command prove."""
    sub = command("prove", _prove, "question 5: cut programs in simulation and judge them")
    sub.usage = (
        "sparwright prove [-h] [--json] [--report DIR] PROGRAM ... [--job JOB --side SIDE | --case CASE]\n"
        "       sparwright prove [-h] [--json] [--report DIR] --job JOB --side SIDE PROGRAM ... --side SIDE PROGRAM ..."
    )
    sub.add_argument(
        "programs",
        metavar="PROGRAM",
        nargs="*",
        help="programs of one side, in the order they are run; those of several sides stand after --side",
    )
    sub.add_argument("--job", metavar="JOB", help="the job file the part is described in, if there is one")
    sub.add_argument(
        "--side",
        metavar=("SIDE", "PROGRAM"),
        nargs="+",
        action="append",
        default=[],
        help="the side of the job, or pads, and the programs that cut it; repeat it for every side (--side front A.nc B.nc "
        "--side back C.nc), and what the sides cut is held against each other too",
    )
    sub.add_argument(
        "--case",
        metavar="CASE",
        help="case file (TOML) for programs from elsewhere: part as STL, stock, pose, cutters, bed, or as much of "
        "these as is known; with neither job nor case, all is said that can be said without the part",
    )
    sub.add_argument(
        "--report",
        metavar="DIR",
        help="folder for report.html, report.pdf and proof.json; of several sides each has a folder of its own in it",
    )
