"""The command that sweeps candidates."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from sparwright.cli.common import EXIT_NO_GO, EXIT_OK, EXIT_OUR_FAULT, Command, print_json


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
        print_json(result.as_dict() | {"files": list(files)})
    else:
        print_sweep(result, files, args.out)
    return EXIT_NO_GO if result.falls_short else EXIT_OK


def add_sweep(command: Command) -> None:
    """The command sweep."""
    sub = command(
        "sweep",
        _sweep,
        "try many layouts of the pocket fields, and recommend the one that meets the job's wishes best",
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
        help="figures to weigh against each other (default: mass_out_kg, twist_kept, bending_kept and what else the job wishes)",
    )
    sub.add_argument(
        "--workers", metavar="N", type=int, help="processes on this computer (default: one a core)"
    )
    sub.add_argument(
        "--cluster", metavar="tcp://HOST:PORT", help="address of a Dask scheduler to use instead"
    )
