"""The command that proves programs."""

from __future__ import annotations

import argparse
from pathlib import Path

from sparwright.answers import BadInput
from sparwright.cli.common import EXIT_NO_GO, EXIT_OK, Command, print_json


def _prove(args: argparse.Namespace) -> int:
    from sparwright.answers import Verdict
    from sparwright.packet.proof_files import write_report
    from sparwright.packet.proof_run import prove_case, prove_job, read_programs
    from sparwright.plan.console import Steps, print_proof

    if args.job is not None and args.case is not None:
        raise BadInput("--job and --case both say what the programs are held against; give one")
    if args.side is not None and args.job is None:
        raise BadInput("--side names a side of a job; give --job too, or leave it out")
    programs = read_programs(args.programs)
    with Steps(quiet=args.json) as steps:
        steps.begin("proof")
        if args.job is not None:
            shown = prove_job(programs, args.job, args.side, steps.begin)
        else:
            shown = prove_case(programs, args.case, steps.begin)
        files: tuple[str, ...] = ()
        if args.report is not None:
            steps.begin("report")
            files = write_report(shown, Path(args.report))
    proof = shown.proof
    if args.json:
        print_json(
            {
                "verdict": proof.verdict.value,
                "findings": [f.as_dict() for f in proof.findings],
                "digests": proof.digests,
                "digest": shown.digest,
                "removed_mm3": proof.removed_mm3,
                "seconds": proof.seconds,
                "files": list(files),
            }
        )
    else:
        print_proof(proof)
        if files:
            print(f"Report in {args.report}: {', '.join(files)}")
    return EXIT_NO_GO if proof.verdict is Verdict.NO_GO else EXIT_OK


def add_prove(command: Command) -> None:
    """The command prove."""
    sub = command("prove", _prove, "question 5: cut programs in simulation and judge them")
    sub.add_argument(
        "programs", metavar="PROGRAM", nargs="+", help="programs of one side, in the order they are run"
    )
    sub.add_argument("--job", metavar="JOB", help="the job file the part is described in, if there is one")
    sub.add_argument("--side", metavar="SIDE", help="the side of the job they cut, or pads")
    sub.add_argument(
        "--case",
        metavar="CASE",
        help="case file (TOML) for programs from elsewhere: part as STL, stock, pose, cutters, bed, or as much of "
        "these as is known; with neither job nor case all is told that needs no part",
    )
    sub.add_argument("--report", metavar="DIR", help="folder for report.html, report.pdf and proof.json")
