"""Commands that read: where the member lies, and what a program says."""

from __future__ import annotations

import argparse
import sys

from sparwright.answers import BadInput, unread
from sparwright.cli.common import EXIT_NO_GO, EXIT_OK, Command, print_json


def _pose(args: argparse.Namespace) -> int:
    from sparwright.placing.pose import pose_from_touches, read_touches
    from sparwright.plan.console import print_pose

    pose = pose_from_touches(read_touches(args.touches))
    if args.json:
        print_json(pose.as_dict())
    else:
        print_pose(pose)
    return EXIT_OK


def add_pose(command: Command) -> None:
    """The command pose."""
    sub = command("pose", _pose, "find where the member lies, from touches on its edges")
    sub.add_argument("touches", metavar="TOUCHES", help="file of touches (TOML)")


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
        raise BadInput(f"{unread(args.program, problem)}; check the name and the folder") from None
    if args.json:
        print_json(figures)
    else:
        from sparwright.plan.console import print_reading  # loads more than reading does

        print_reading(args.program, figures)
    return EXIT_NO_GO if figures["errors"] else EXIT_OK


def add_read(command: Command) -> None:
    """The command read."""
    sub = command("read", _read, "tell what a program does, in machine coordinates")
    sub.add_argument("program", metavar="PROGRAM", help="the program, RS-274 text")
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
        help='words to leave out instead of refusing them, such as A,M98,";"; what they do at the machine is then not known',
    )
