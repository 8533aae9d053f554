"""The commands. Heavy libraries are imported inside the command that needs them, so that help answers at once."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence

from sparwright.answers import BadInput, as_sentence
from sparwright.cli.common import EXIT_BAD_INPUT, EXIT_OK, EXIT_OUR_FAULT
from sparwright.cli.jobs import add_fit, add_page, add_plan, add_section, add_stiffness, add_weigh
from sparwright.cli.programs import add_pose, add_read
from sparwright.cli.proving import add_prove
from sparwright.cli.sweeping import add_sweep

ORDER = (
    add_plan, add_page, add_stiffness, add_section, add_fit, add_pose, add_read, add_prove, add_sweep, add_weigh,
)  # fmt: skip


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

    for add in ORDER:
        add(command)
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; its exit status is 0, 1, 2 or 3 as the help says."""
    args = _parser().parse_args(argv)
    try:
        return int(args.run(args))
    except BadInput as problem:
        print(f"sparwright: {as_sentence(problem)}", file=sys.stderr)
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
