"""What the proof of a program says."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from sparwright.answers import Verdict


@dataclass(frozen=True)
class ProofFinding:
    """One thing the proof found. at: (x, s, n) on the face, mm, or None. line: of the program, 0 where none is to blame.

    margin: how far the value is from its limit, negative past it. spread: half-width that touching off, tramming and
    the axis' errors put on the value at the machine (k = 2), which no program shows. message: put as whole sentences,
    a capital first and a full stop last.
    """

    check: str
    verdict: Verdict
    message: str
    feature: str = ""
    program: str = ""
    line: int = 0
    at: tuple[float, float, float] | None = None
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    margin: float | None = None
    spread: float | None = None

    def __post_init__(self) -> None:
        text = self.message[:1].upper() + self.message[1:]
        object.__setattr__(self, "message", text if text.endswith(".") or not text else text + ".")

    def as_dict(self) -> dict[str, Any]:
        """The finding with the stable keys of the command line's JSON."""
        return {
            "check": self.check,
            "verdict": self.verdict.value,
            "feature": self.feature,
            "program": self.program,
            "line": self.line,
            "at_mm": list(self.at) if self.at is not None else None,
            "value": self.value,
            "limit": self.limit,
            "margin": self.margin,
            "spread": self.spread,
            "unit": self.unit,
            "message": self.message,
        }


@dataclass(frozen=True)
class Skin:
    """Skin left under one pocket in simulation, mm: least, mean, greatest. spread: half-width (k = 2) round each of
    them from touching off, tramming and the axis' errors.
    """

    feature: str
    least: float
    mean: float
    greatest: float
    wanted: float
    spread: float = 0.0


@dataclass(frozen=True)
class Proof:
    """The verdict on the programs of one side.

    digests: SHA-256 of each program's bytes by name. removed_mm3: metal cut away in simulation. seconds: motion
    time by length over feed.
    """

    side: str
    verdict: Verdict
    findings: tuple[ProofFinding, ...]
    digests: dict[str, str]
    skins: tuple[Skin, ...] = ()
    removed_mm3: float = 0.0
    seconds: float = 0.0
    figures: dict[str, float] = field(default_factory=dict)

    @property
    def title(self) -> str:
        """What was proved, in words that may stand alone: "side front", "pads", "all sides together"."""
        return self.side if self.side == "pads" or " " in self.side else f"side {self.side}"
