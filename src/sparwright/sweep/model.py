"""What a sweep finds: candidates with their figures, and the result as a whole."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import Any

from sparwright.sweep.vary import Change, Setting


@dataclass(frozen=True)
class Figures:
    """What a candidate leaves and takes.

    mass_out_kg; mass_kept, twist_kept (GJ), EIy_kept, EIz_kept: shares of the plain stock (EIy bends about y, moves in
    z). tip_mm: deflection at the tool of the machine served, first_Hz: its first frequency; None where the job names
    no machine. minutes: of cutting, pads and changes of cutter aside. method: "wall", "bay" or "section" of the
    stiffness; note: why the bay had to do it. spread: relative half-widths the model puts on twist_kept, EIy_kept,
    EIz_kept. pockets, dropped: how many there are, and how many the layout left out.
    """

    mass_out_kg: float
    mass_kept: float
    twist_kept: float
    EIy_kept: float
    EIz_kept: float
    tip_mm: float | None
    first_Hz: float | None
    minutes: float
    method: str
    note: str
    spread: dict[str, float]
    pockets: int
    dropped: int

    @property
    def bending_kept(self) -> float:
        """The lesser of the two bending stiffnesses kept, as the job's wish means it."""
        return min(self.EIy_kept, self.EIz_kept)

    def spread_of(self, name: str) -> float:
        """Relative half-width of a figure; 0 where the model states none."""
        if name == "bending_kept":
            name = "EIy_kept" if self.EIy_kept <= self.EIz_kept else "EIz_kept"
        return self.spread.get(name, 0.0)


@dataclass(frozen=True)
class Candidate:
    """One change of the job with its figures, or the reason it is left out. seconds: what it took to evaluate.

    fault: the reason is a fault of ours, so that the candidate is tried again when the sweep is.
    """

    change: Change
    figures: Figures | None
    left_out: str = ""
    seconds: float = 0.0
    fault: bool = False

    @property
    def key(self) -> str:
        """The change's name."""
        return self.change.key

    def as_dict(self) -> dict[str, Any]:
        """The candidate with the stable keys of the command line's JSON."""
        out: dict[str, Any] = {"key": self.key, "change": _change_dict(self.change)}
        if self.figures is None:
            return out | {"left_out": self.left_out}
        f = self.figures
        return out | asdict(f) | {"bending_kept": f.bending_kept}


@dataclass(frozen=True)
class Chosen:
    """The recommended candidate: why it, what it misses of the wishes, and what the bay says of it.

    confirmed: whether the bay agrees, None where it was not asked. bay: its figures. denied: candidates that came
    before and that the bay denied, with the reason. candidate is None where nothing can be recommended.
    """

    candidate: Candidate | None
    reason: str
    misses: tuple[str, ...] = ()
    confirmed: bool | None = None
    bay: Figures | None = None
    denied: tuple[tuple[str, str], ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """The choice with the stable keys of the command line's JSON."""
        return {
            "key": None if self.candidate is None else self.candidate.key,
            "candidate": None if self.candidate is None else self.candidate.as_dict(),
            "reason": self.reason,
            "misses": list(self.misses),
            "confirmed": self.confirmed,
            "bay": None if self.bay is None else asdict(self.bay) | {"bending_kept": self.bay.bending_kept},
            "denied": [{"key": key, "why": why} for key, why in self.denied],
        }


@dataclass(frozen=True)
class SweepResult:
    """Every candidate in the order of the words, the keys of those on the front, and the choice.

    goals: names of the figures the front is drawn by. wishes: what the job asks for, by name of the figure.
    resumed: candidates that an earlier sweep had finished. seconds: of the evaluation.
    """

    title: str
    digest: str
    words: tuple[str, ...]
    candidates: tuple[Candidate, ...]
    goals: tuple[str, ...]
    wishes: dict[str, float]
    front: tuple[str, ...]
    chosen: Chosen
    resumed: int = 0
    seconds: float = 0.0
    notes: tuple[str, ...] = field(default=())

    @property
    def falls_short(self) -> bool:
        """Whether the job has wishes and no candidate is found that meets them all, by the bay too."""
        return bool(self.wishes) and (
            self.chosen.candidate is None or bool(self.chosen.misses) or self.chosen.confirmed is False
        )

    def as_dict(self) -> dict[str, Any]:
        """The result with the stable keys of the command line's JSON."""
        return {
            "digest": self.digest,
            "vary": list(self.words),
            "goals": list(self.goals),
            "wishes": dict(self.wishes),
            "candidates": [c.as_dict() for c in self.candidates],
            "front": list(self.front),
            "chosen": self.chosen.as_dict(),
            "notes": list(self.notes),
        }


def _change_dict(change: Change) -> dict[str, Any]:
    return {
        f"{s.field}.{s.key}": list(s.value) if isinstance(s.value, tuple) else s.value
        for s in change.settings
    }


def record_of(candidate: Candidate) -> dict[str, Any]:
    """A candidate as one line of a store."""
    return {
        "settings": [[s.field, s.key, s.value] for s in candidate.change.settings],
        "figures": None if candidate.figures is None else asdict(candidate.figures),
        "left_out": candidate.left_out,
        "seconds": round(candidate.seconds, 4),
    }


def candidate_of(record: dict[str, Any]) -> Candidate:
    """A candidate from a line of a store. Raises KeyError, TypeError or ValueError where it is none."""
    settings = tuple(
        Setting(name, key, tuple(value) if isinstance(value, list) else value)
        for name, key, value in record["settings"]
    )
    figures = None if record["figures"] is None else Figures(**record["figures"])
    return Candidate(Change(settings), figures, str(record["left_out"]), float(record["seconds"]))
