"""Which candidates no other beats: the front, and the goals it is drawn by."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sparwright.job.faults import nearest
from sparwright.job.models import Job, Wishes
from sparwright.sweep.faults import told
from sparwright.sweep.model import Candidate, Figures

# Goals by the figure's name: +1 where more is better, -1 where less is. Then how each is said, and its unit.
SENSE = {
    "mass_out_kg": 1,
    "twist_kept": 1,
    "bending_kept": 1,
    "tip_mm": -1,
    "first_Hz": 1,
    "minutes": -1,
}
SAID = {
    "mass_out_kg": ("mass out", "kg"),
    "twist_kept": ("twist kept", "%"),
    "bending_kept": ("bending kept", "%"),
    "tip_mm": ("tip deflection", "mm"),
    "first_Hz": ("first frequency", "Hz"),
    "minutes": ("cutting", "min"),
}
USUAL = ("mass_out_kg", "twist_kept", "bending_kept")
SERVED = ("tip_mm", "first_Hz")


def wishes_of(wishes: Wishes) -> dict[str, float]:
    """What the job wishes, by the figure's name: least values, and for tip_mm the greatest."""
    named = {
        "mass_out_kg": wishes.mass_out,
        "twist_kept": wishes.twist_kept,
        "bending_kept": wishes.bending_kept,
        "tip_mm": wishes.tip_deflection,
        "first_Hz": wishes.first_frequency,
    }
    return {name: value for name, value in named.items() if value is not None}


def goals_of(job: Job, named: Sequence[str] = ()) -> tuple[str, ...]:
    """The goals of a sweep: those named, else mass out, twist, bending and whatever else the job wishes.

    Raises SweepError for a name that is no goal, or one that needs the machine served where the job names none.
    """
    for name in named:
        if name not in SENSE:
            hint = nearest(name, SENSE)
            raise told(
                f'"{name}" is no goal',
                ", ".join(SENSE),
                f'did you mean "{hint}"?' if hint else "take some of these",
            )
    goals = tuple(dict.fromkeys(named)) or tuple(dict.fromkeys((*USUAL, *wishes_of(job.file.wishes))))
    if job.served is None:
        if any(name in SERVED for name in named):
            raise told(
                "tip_mm and first_Hz are of the machine the member serves, and the job names none",
                remedy='add served = "FILE" to [job], or leave these goals out',
            )
        goals = tuple(g for g in goals if g not in SERVED)
    return goals


def value_of(figures: Figures, goal: str) -> float:
    """A goal's figure. Raises ValueError where the candidate has none."""
    value = getattr(figures, goal)
    if value is None:
        raise ValueError(f"no {goal} without a machine served")
    return float(value)


def scores(candidates: Sequence[Candidate], goals: Sequence[str]) -> np.ndarray:
    """Goals of candidates that have figures, turned so that more is better, (n, goals)."""
    rows = [[SENSE[g] * value_of(c.figures, g) for g in goals] for c in candidates if c.figures is not None]
    return np.array(rows, dtype=float).reshape(len(rows), len(goals))


def undominated(values: np.ndarray) -> np.ndarray:
    """Which rows of (n, k), more being better, no other row beats, (n,) bool.

    A row beats another where it is nowhere less and somewhere more; equal rows do not beat each other.
    """
    stays = np.ones(len(values), dtype=bool)
    for i, row in enumerate(values):
        stays[i] = not ((values >= row).all(axis=1) & (values > row).any(axis=1)).any()
    return stays


def front_of(candidates: Sequence[Candidate], goals: Sequence[str]) -> tuple[Candidate, ...]:
    """The candidates no other beats in the goals, by falling mass out."""
    made = [c for c in candidates if c.figures is not None]
    on = [c for c, stays in zip(made, undominated(scores(made, goals)), strict=True) if stays]
    return tuple(sorted(on, key=lambda c: -value_of(c.figures, "mass_out_kg") if c.figures else 0.0))
