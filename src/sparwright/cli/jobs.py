"""Commands that answer a job: all of it, its page, and questions 1, 2 and 6 by themselves."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from typing import NoReturn

from sparwright.answers import BadInput
from sparwright.cli.common import EXIT_NO_GO, EXIT_OK, Command, print_json


def _plan(args: argparse.Namespace) -> int:
    from sparwright.answers import Verdict
    from sparwright.job.reading import load_job
    from sparwright.packet.write import write_packet
    from sparwright.plan.console import Steps, print_plan
    from sparwright.plan.pipeline import make_plan

    job = load_job(args.job)
    with Steps(quiet=args.json) as steps:
        plan = make_plan(job, progress=steps.begin)
        files: tuple[str, ...] = ()
        if args.out is not None:
            steps.begin("packet")
            files = write_packet(plan, Path(args.out))
    if args.json:
        print_json(
            {
                "answers": [a.as_dict() for a in plan.answers],
                "files": list(files),
                "digest": job.digest,
                "seconds": plan.seconds,
            }
        )
    else:
        print_plan(plan, files, args.out)
    return EXIT_NO_GO if plan.verdict is Verdict.NO_GO else EXIT_OK


def add_plan(command: Command) -> None:
    """The command plan."""
    sub = command("plan", _plan, "answer all six questions and write the packet")
    sub.add_argument("job", metavar="JOB", help="the job file (TOML)")
    sub.add_argument("--out", metavar="DIR", help="folder for the packet; nothing is written without it")


def _page(args: argparse.Namespace) -> NoReturn:
    from sparwright.page.server import serve

    serve(Path(args.job), args.port, browser=not args.no_open, when_asked=args.plan_when_asked)
    # All is closed and written. An answer may still be computed in a library's own code, though, and an interpreter that
    # tidies up round it crashes: the process ends here and now.
    sys.stdout.flush()
    os._exit(EXIT_OK)


def add_page(command: Command) -> None:
    """The command page."""
    sub = command("page", _page, "open the job page in the browser, on this computer only", as_json=False)
    sub.add_argument(
        "job", metavar="JOB", nargs="?", default="job.toml", help="the job file (default: job.toml)"
    )
    sub.add_argument(
        "--port", metavar="N", type=int, default=0, help="port to listen on (default: any free one)"
    )
    sub.add_argument("--no-open", action="store_true", help="only print the address; open no browser")
    sub.add_argument(
        "--plan-when-asked",
        action="store_true",
        help="do not begin the whole plan after every change: for a slow computer",
    )


def _stiffness(args: argparse.Namespace) -> int:
    from sparwright.answers import Verdict
    from sparwright.job.reading import load_job
    from sparwright.plan.console import Steps, print_stiffness
    from sparwright.plan.stiff import stiff_enough
    from sparwright.stiffness.report import member_stiffness
    from sparwright.stock.member import build_member
    from sparwright.stock.solids import blank_mass_kg, mass_out_kg

    job = load_job(args.job)
    member = build_member(job)
    with Steps(quiet=args.json) as steps:
        steps.begin("stiffness")
        result = member_stiffness(member, args.method)
        masses = (blank_mass_kg(member), mass_out_kg(member))
        steps.begin("machine served")
        stiff = stiff_enough(job, member, result, masses, None)
    if args.json:
        print_json(stiff.as_dict() | {"mass_out_kg": masses[1]})
    else:
        print_stiffness(stiff, masses[1])
    return EXIT_NO_GO if stiff.answer.verdict is Verdict.NO_GO else EXIT_OK


def add_stiffness(command: Command) -> None:
    """The command stiffness."""
    sub = command("stiffness", _stiffness, "question 1: the member's stiffness, and the machine it serves")
    sub.add_argument("job", metavar="JOB", help="the job file (TOML)")
    sub.add_argument(
        "--method",
        choices=("wall", "bay"),
        default="bay",
        help="bay, one period of the pockets in solid elements, or wall, faster and less sure (default: bay)",
    )


def _section(args: argparse.Namespace) -> int:
    from sparwright.job.reading import load_job
    from sparwright.packet.section_dict import section_dict
    from sparwright.packet.section_picture import section_picture
    from sparwright.packet.whole import write_text
    from sparwright.plan.console import print_section
    from sparwright.stiffness.section import section_figures
    from sparwright.stock.member import build_member
    from sparwright.stock.walls import find_walls

    member = build_member(load_job(args.job))
    figures, walls = section_figures(member.section, member.material.poisson), find_walls(member.section)
    if args.svg is not None:
        try:
            write_text(Path(args.svg), section_picture(member.section, figures, walls))
        except OSError as problem:
            raise BadInput(f"{args.svg} cannot be written: {problem.strerror}; name another file") from None
    told = section_dict(member.section, figures, walls)
    if args.json:
        print_json(told)
    else:
        print_section(told)
    return EXIT_OK


def add_section(command: Command) -> None:
    """The command section."""
    sub = command("section", _section, "tell the section's figures, and draw it")
    sub.add_argument("job", metavar="JOB", help="the job file (TOML)")
    sub.add_argument("--svg", metavar="FILE", help="file for the picture")


def _fit(args: argparse.Namespace) -> int:
    from sparwright.job.reading import load_job
    from sparwright.placing.place import fit_sides
    from sparwright.plan.console import fit_dict, print_fit
    from sparwright.stock.member import build_member

    job = load_job(args.job)
    member = build_member(job)
    if args.side is not None and args.side not in member.worked_faces:
        raise BadInput(f'no side "{args.side}"; this job has {", ".join(member.worked_faces) or "none"}')
    fit = fit_sides(member, job, (args.side,) if args.side else member.worked_faces)
    if args.json:
        print_json(fit_dict(fit))
    else:
        print_fit(fit)
    return EXIT_OK if fit.fits else EXIT_NO_GO


def add_fit(command: Command) -> None:
    """The command fit."""
    sub = command("fit", _fit, "question 2: the poses in which every cut lies in the reach")
    sub.add_argument("job", metavar="JOB", help="the job file (TOML)")
    sub.add_argument("--side", metavar="SIDE", help="look at this side only")


def _number(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text


def _weigh(args: argparse.Namespace) -> int:
    from sparwright.job.reading import load_job
    from sparwright.measure.weigh import weigh_job
    from sparwright.plan.console import print_weigh
    from sparwright.stock.member import build_member
    from sparwright.units import to_canonical

    job = load_job(args.job)
    try:
        before = to_canonical(_number(args.before), "mass")
        after = to_canonical(_number(args.after), "mass")
        step = to_canonical(_number(args.scale_step), "mass")
    except ValueError as problem:
        raise BadInput(str(problem)) from None
    if not 0 < after <= before:
        raise BadInput(f"after ({after:g} kg) must be above zero and at most before ({before:g} kg)")
    result = weigh_job(build_member(job), job, before, after, step)
    if args.json:
        print_json(result.as_dict())
    else:
        print_weigh(result)
    return EXIT_OK


def add_weigh(command: Command) -> None:
    """The command weigh."""
    sub = command("weigh", _weigh, "question 6: hold the mass on the scale against the mass predicted")
    sub.add_argument("job", metavar="JOB", help="the job file (TOML)")
    sub.add_argument(
        "--before", metavar="MASS", required=True, help='mass before cutting: kg, or with a unit ("3100 g")'
    )
    sub.add_argument("--after", metavar="MASS", required=True, help="mass after cutting, likewise")
    sub.add_argument(
        "--scale-step", metavar="MASS", default="0.001", help="smallest step of the scale (default 1 g)"
    )
