"""The one error of the room."""

from __future__ import annotations

from sparwright.answers import BadInput


class SweepError(BadInput):
    """A sweep that cannot start or go on; the message says what is wrong and what to do."""


def told(what: str, allowed: str = "", remedy: str = "") -> SweepError:
    """An error in one message: what is wrong, what is allowed, what to do."""
    parts = [what, f"Allowed: {allowed}" if allowed else "", remedy[:1].upper() + remedy[1:]]
    return SweepError(" ".join(p if p.endswith((".", "?")) else f"{p}." for p in parts if p))
