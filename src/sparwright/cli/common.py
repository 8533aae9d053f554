"""What all commands share: exit statuses, JSON, and how a command is put into the parser."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable
from typing import Any, Protocol

EXIT_OK, EXIT_NO_GO, EXIT_BAD_INPUT, EXIT_OUR_FAULT = 0, 1, 2, 3


class Command(Protocol):
    """Puts a command into the parser: its name, what runs it, and what it does; --json unless it has none."""

    def __call__(
        self, name: str, run: Callable[[argparse.Namespace], int], text: str, *, as_json: bool = True
    ) -> argparse.ArgumentParser: ...


def print_json(data: dict[str, Any]) -> None:
    """One JSON object on the standard output."""
    json.dump(data, sys.stdout, indent=2, ensure_ascii=False, allow_nan=False)
    sys.stdout.write("\n")
