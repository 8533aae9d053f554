"""Evaluations for the sweep's tests, in a module of their own so that worker processes can import them."""

from __future__ import annotations

import os
import time
from dataclasses import replace

from sparwright.stiffness.model import BeamProperties
from sparwright.stiffness.section import section_properties
from sparwright.sweep.model import Candidate, Figures

PACE = "SWEEP_TEST_PACE"  # s a candidate takes in slow_evaluate
DOOM = "SWEEP_TEST_DOOM"  # file whose presence makes deadly_evaluate kill its process


def figures(mass_out=0.5, twist=0.5, EIy=0.6, EIz=0.7, minutes=100.0, **more) -> Figures:
    """Figures with what a test does not care about filled in."""
    values = {
        "mass_out_kg": mass_out,
        "mass_kept": 1 - mass_out / 4,
        "twist_kept": twist,
        "EIy_kept": EIy,
        "EIz_kept": EIz,
        "tip_mm": None,
        "first_Hz": None,
        "minutes": minutes,
        "method": "wall",
        "note": "",
        "spread": {},
        "pockets": 10,
        "dropped": 0,
    }
    return Figures(**(values | more))


def setting(change, key):
    """The value a change gives a key of its field."""
    return next((s.value for s in change.settings if s.key == key), None)


def cheap_evaluate(job, change) -> Candidate:
    """Figures by a plain rule: wider ribs and thicker skins keep more and take out less; rib 6 is left out."""
    rib, skin = setting(change, "rib") or 5.0, setting(change, "skin") or 0.0
    if rib == 6:
        return Candidate(change, None, "Six is left out.")
    return Candidate(
        change, figures(1 - rib / 20 - skin / 10, rib / 20 + skin / 10, minutes=100 - rib), seconds=0.0
    )


def slow_evaluate(job, change) -> Candidate:
    """cheap_evaluate at a stated pace."""
    time.sleep(float(os.environ.get(PACE, "0.1")))
    return cheap_evaluate(job, change)


def faulty_evaluate(job, change) -> Candidate:
    """Fails on rib 5."""
    if setting(change, "rib") == 5:
        raise ZeroDivisionError("a slip")
    return cheap_evaluate(job, change)


def deadly_evaluate(job, change) -> Candidate:
    """Ends its own process, as running out of memory does, while the file DOOM names is there."""
    if os.path.exists(os.environ[DOOM]):
        os._exit(9)
    return cheap_evaluate(job, change)


def noted_evaluate(job, change) -> Candidate:
    """cheap_evaluate with a note of the process and its threads setting."""
    time.sleep(0.05)
    found = cheap_evaluate(job, change)
    note = f"{os.getpid()} {os.environ.get('OMP_NUM_THREADS')}"
    return replace(found, figures=found.figures and replace(found.figures, note=note))


def drawn_evaluate(job, change) -> Candidate:
    """Notes the section's area, which needs the job's drawing."""
    from sparwright.stock.member import build_member

    return Candidate(change, figures(note=f"{build_member(job).section.shape.area:.6f} in {job.folder}"))


def section_model(member) -> tuple[BeamProperties, str]:
    """A stand-in for a stiffness model: the plain section, less the metal taken out."""
    whole = section_properties(member.section, member.material)
    left = (
        1 - sum(p.outline.area * p.depth for p in member.pockets) / member.section.shape.area / member.length
    )
    values = vars(whole) | {key: getattr(whole, key) * left for key in ("EA", "EIy", "EIz", "GJ")}
    return BeamProperties(
        **values | {"method": "stand-in", "spread": {"GJ": 0.02, "EIy": 0.01, "EIz": 0.01}}
    ), ""
