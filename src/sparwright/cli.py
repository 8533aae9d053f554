"""The commands. Heavy libraries are imported inside the command that needs them, so that help answers at once."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from sparwright.answers import BadInput

EXIT_OK, EXIT_NO_GO, EXIT_BAD_INPUT, EXIT_OUR_FAULT = 0, 1, 2, 3


def _print_json(data: dict[str, Any]) -> None:
    json.dump(data, sys.stdout, indent=2, ensure_ascii=False, allow_nan=False)
    sys.stdout.write("\n")


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
        _print_json(
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
        _print_json(stiff.as_dict() | {"mass_out_kg": masses[1]})
    else:
        print_stiffness(stiff, masses[1])
    return EXIT_NO_GO if stiff.answer.verdict is Verdict.NO_GO else EXIT_OK


def _section(args: argparse.Namespace) -> int:
    from sparwright.job.reading import load_job
    from sparwright.packet.section_picture import section_dict, section_picture
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
        _print_json(told)
    else:
        print_section(told)
    return EXIT_OK


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
        _print_json(fit_dict(fit))
    else:
        print_fit(fit)
    return EXIT_OK if fit.fits else EXIT_NO_GO


def _pose(args: argparse.Namespace) -> int:
    from sparwright.placing.pose import pose_from_touches, read_touches
    from sparwright.plan.console import print_pose

    pose = pose_from_touches(read_touches(args.touches))
    if args.json:
        _print_json(pose.as_dict())
    else:
        print_pose(pose)
    return EXIT_OK


def _triple(text: str) -> tuple[float, float, float]:
    parts = text.split(",")
    if len(parts) != 3:
        raise BadInput(f'"{text}" is not X,Y,Z: three numbers with commas between them')
    try:
        x, y, z = (float(p) for p in parts)
    except ValueError:
        raise BadInput(f'"{text}" is not X,Y,Z: three numbers with commas between them') from None
    return (x, y, z)


def _read(args: argparse.Namespace) -> int:
    from sparwright.program.passing import words_to_pass_over
    from sparwright.program.reader import read_pieces, summary
    from sparwright.program.streaming import blocks_of

    offsets = {}
    for word in args.offset:
        name, _, where = word.partition("=")
        if name.upper() not in {"G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3"}:
            raise BadInput(f'"{word}" is not an offset; write it as G54=X,Y,Z (G54 to G59.3)')
        offsets[name.upper()] = _triple(where)
    words = args.pass_over.replace(",", " ").split()
    try:
        words_to_pass_over(words)
    except ValueError as problem:
        raise BadInput(str(problem)) from None
    start = _triple(args.start)
    try:
        with open(args.program, "rb") as file:
            pieces = read_pieces(
                blocks_of(file),
                start=start,
                offsets=offsets,
                block_delete=args.block_delete,
                pass_over=words,
                say=lambda what: print(what, file=sys.stderr),
            )
            figures = summary(pieces)
    except OSError as problem:
        raise BadInput(f"{args.program}: {problem.strerror}") from None
    if args.json:
        _print_json(figures)
    else:
        from sparwright.plan.console import print_reading  # loads more than reading does

        print_reading(args.program, figures)
    return EXIT_NO_GO if figures["errors"] else EXIT_OK


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
        _print_json(
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
        _print_json(result.as_dict())
    else:
        print_weigh(result)
    return EXIT_OK


def _sweep(args: argparse.Namespace) -> int:
    from sparwright.job.reading import load_job
    from sparwright.packet.fronts import write_sweep
    from sparwright.sweep.console import Meter, print_sweep
    from sparwright.sweep.sweep import sweep_job

    job = load_job(args.job)
    out = None if args.out is None else Path(args.out)
    try:
        with Meter(quiet=args.json) as meter:
            result = sweep_job(
                job,
                args.vary,
                goals=[g.strip() for g in args.goals.split(",")] if args.goals else (),
                workers=args.workers,
                cluster=args.cluster,
                out=out,
                progress=meter.tell,
                step=meter.step,
            )
    except KeyboardInterrupt:
        kept = "nothing was kept" if out is None else "the same command goes on with the candidates it has"
        print(f"sparwright: stopped; {kept}", file=sys.stderr)
        return EXIT_OUR_FAULT
    files = () if out is None else write_sweep(result, out)
    if args.json:
        _print_json(result.as_dict() | {"files": list(files)})
    else:
        print_sweep(result, files, args.out)
    return EXIT_NO_GO if result.falls_short else EXIT_OK


def _page(args: argparse.Namespace) -> int:
    from sparwright.page.server import serve

    serve(Path(args.job), args.port, browser=not args.no_open)
    return EXIT_OK


def _number(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text


def _parser() -> argparse.ArgumentParser:
    from sparwright import __version__

    parser = argparse.ArgumentParser(
        prog="sparwright",
        description="Rework long aluminium stock on a light router: from one job file to a proved packet.",
        epilog="Exit status: 0 go or caution, 1 no-go, 2 bad input, 3 a fault of ours.",
    )
    parser.add_argument("--version", action="version", version=f"sparwright {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)

    def command(
        name: str, run: Callable[[argparse.Namespace], int], text: str, *, as_json: bool = True
    ) -> argparse.ArgumentParser:
        sub = commands.add_parser(name, help=text, description=text[0].upper() + text[1:] + ".")
        sub.set_defaults(run=run)
        if as_json:
            sub.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
        return sub

    sub = command("plan", _plan, "answer all six questions and write the packet")
    sub.add_argument("job", metavar="JOB", help="the job file (TOML)")
    sub.add_argument("--out", metavar="DIR", help="folder for the packet; nothing is written without it")

    sub = command("stiffness", _stiffness, "question 1: the member, and the machine it serves")
    sub.add_argument("job", metavar="JOB", help="the job file (TOML)")
    sub.add_argument("--method", choices=("wall", "bay"), default="bay", help="model (default: bay)")

    sub = command("section", _section, "the section's figures, and a picture of it")
    sub.add_argument("job", metavar="JOB", help="the job file (TOML)")
    sub.add_argument("--svg", metavar="FILE", help="write the picture here")

    sub = command("fit", _fit, "question 2: the poses in which every cut is within reach")
    sub.add_argument("job", metavar="JOB", help="the job file (TOML)")
    sub.add_argument("--side", metavar="SIDE", help="one side only")

    sub = command("pose", _pose, "where the member lies, from touches on its edges")
    sub.add_argument("touches", metavar="TOUCHES", help="file of touches (TOML)")

    sub = command("read", _read, "what a program says, in machine coordinates")
    sub.add_argument("program", metavar="PROGRAM", help="RS-274 program")
    sub.add_argument(
        "--start", metavar="X,Y,Z", default="0,0,0", help="where the machine stands at the start"
    )
    sub.add_argument(
        "--offset", metavar="G54=X,Y,Z", action="append", default=[], help="a work offset; may be repeated"
    )
    sub.add_argument("--block-delete", action="store_true", help='leave out lines that begin with "/"')
    sub.add_argument(
        "--pass-over",
        metavar="WORDS",
        default="",
        help='words to leave out instead of refusing them, such as A,M98,";"; what they do is then not known',
    )

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

    sub = command(
        "sweep",
        _sweep,
        "many candidates for the fields of pockets: a front, and the one for the job's wishes",
    )
    sub.add_argument("job", metavar="JOB", help="the job file (TOML)")
    sub.add_argument(
        "--vary",
        metavar="FIELD.KEY=VALUES",
        nargs="+",
        action="extend",
        required=True,
        help="what to vary: isogrid.rib=4:8:0.5 (from:to:step), isogrid.skin=0,0.8,1.2, isogrid.faces=front+back,front; "
        "every combination is a candidate",
    )
    sub.add_argument(
        "--out",
        metavar="DIR",
        help="folder for table, picture and finished candidates; with it a stopped sweep goes on",
    )
    sub.add_argument(
        "--goals",
        metavar="NAME,...",
        help="figures the front is of (default: mass_out_kg, twist_kept, bending_kept and what else the job wishes)",
    )
    sub.add_argument(
        "--workers", metavar="N", type=int, help="processes on this computer (default: one a core)"
    )
    sub.add_argument(
        "--cluster", metavar="tcp://HOST:PORT", help="address of a Dask scheduler to use instead"
    )

    sub = command("weigh", _weigh, "question 6: the weighed mass against the predicted one")
    sub.add_argument("job", metavar="JOB", help="the job file (TOML)")
    sub.add_argument(
        "--before", metavar="MASS", required=True, help='mass before cutting: kg, or with a unit ("3100 g")'
    )
    sub.add_argument("--after", metavar="MASS", required=True, help="mass after cutting")
    sub.add_argument(
        "--scale-step", metavar="MASS", default="0.001", help="smallest step of the scale (default 1 g)"
    )

    sub = command("page", _page, "the job page in the browser, on this computer only", as_json=False)
    sub.add_argument(
        "job", metavar="JOB", nargs="?", default="job.toml", help="the job file (default: job.toml)"
    )
    sub.add_argument(
        "--port", metavar="N", type=int, default=0, help="port to listen on (default: any free one)"
    )
    sub.add_argument("--no-open", action="store_true", help="only print the address; open no browser")
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; its exit status is 0, 1, 2 or 3 as the help says."""
    args = _parser().parse_args(argv)
    try:
        return int(args.run(args))
    except BadInput as problem:
        print(f"sparwright: {problem}", file=sys.stderr)
        return EXIT_BAD_INPUT
    except KeyboardInterrupt:
        print("sparwright: stopped; nothing was written", file=sys.stderr)
        return EXIT_OUR_FAULT
    except BrokenPipeError:
        # Whoever read our output has seen enough; nothing is wrong.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return EXIT_OK
    except Exception:
        import traceback

        traceback.print_exc()
        print("sparwright: a fault of ours, not of your job; the lines above say where", file=sys.stderr)
        return EXIT_OUR_FAULT


if __name__ == "__main__":
    sys.exit(main())
