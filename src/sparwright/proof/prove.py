"""Question 5: do the programs cut exactly this part? Reads them back, cuts them in simulation, and judges."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from sparwright.answers import Verdict, worst
from sparwright.compiled import is_compiled
from sparwright.job.models import Job
from sparwright.placing.model import Placement, Setup
from sparwright.program.reader import read_program
from sparwright.proof import contact, kernels, modes, statements, surface, walls
from sparwright.proof.between import check_between
from sparwright.proof.case import Case, case_of, digest_order, passed, passed_words
from sparwright.proof.kinds import VOLUME_SHARE, with_margin
from sparwright.proof.load_checks import check_loads
from sparwright.proof.loads import Loads, loads_of
from sparwright.proof.loose import check_loose
from sparwright.proof.machine_places import calls_machine_places
from sparwright.proof.model import Proof, ProofFinding, Skin
from sparwright.proof.motion import nominal_seconds
from sparwright.proof.obstacles import check_obstacles
from sparwright.proof.scene import CELL, Scene, pads_scene, side_scene
from sparwright.proof.simulate import Cutaway, simulate
from sparwright.proof.spread import floor_spread
from sparwright.proof.swapped import check_swapped
from sparwright.proof.tabs import check_tabs
from sparwright.proof.throat import check_throat
from sparwright.stock.model import Member

Say = Callable[[str], None]
Keep = Callable[[Case, Cutaway, Loads], None]


def _forget(case: Case, cut: Cutaway, loads: Loads) -> None:
    """Keeps nothing of what was seen."""


def prove_side(
    programs: Sequence[tuple[str, str]],
    member: Member,
    setup: Setup,
    job: Job,
    *,
    cell: float = CELL,
    setups: Sequence[Setup] = (),
    progress: Say | None = None,
    keep: Keep = _forget,
) -> Proof:
    """The proof of the programs (name, text) of one side, in the order they are run.

    Work zero G54 is X0 Y0 at the left front corner of the reach and Z0 on the face. cell: of the height map,
    mm. setups: of all sides, so that programs of another one are known. progress: told in words what takes time. keep: handed what was read, what is left after cutting, and the loads on the way.
    """
    return prove_scene(
        programs, side_scene(member, setup, job, cell, setups), job, progress=progress, keep=keep
    )


def prove_pads(
    programs: Sequence[tuple[str, str]],
    placement: Placement,
    job: Job,
    *,
    cell: float = CELL,
    progress: Say | None = None,
    keep: Keep = _forget,
) -> Proof:
    """The proof of the programs that cut the pads, all of them in order; Z0 is the pads' top."""
    return prove_scene(programs, pads_scene(placement, job, cell), job, progress=progress, keep=keep)


def start_of(scene: Scene, job: Job) -> tuple[float, float, float]:
    """Where the tip is taken to stand before a program: right up, whatever cutter is in the spindle."""
    longest = max(c.stick_out for c in job.cutters)
    return 0.0, 0.0, job.bed.nose_height - scene.height - longest


def prove_scene(
    programs: Sequence[tuple[str, str]],
    scene: Scene,
    job: Job,
    *,
    progress: Say | None = None,
    keep: Keep = _forget,
) -> Proof:
    """The proof of programs in any scene."""
    say = progress or (lambda _: None)
    if not programs:
        nothing = ProofFinding("not cut", Verdict.NO_GO, "there is no program to prove. Plan the side first")
        return Proof(scene.side, Verdict.NO_GO, (nothing,), {})
    start = start_of(scene, job)
    far = (1e5, 1e5, 1e5)  # a zero nobody has set: shows as a shift and as a place out of reach
    unset = {f"G{n}": far for n in (55, 56, 57, 58, 59, "59.1", "59.2", "59.3")}
    lift = 0.0
    if any(calls_machine_places(text) for _, text in programs):
        # read in the machine's own frame, whose zero is taken to lie right up over the reach's left front corner
        lift, start = start[2], (0.0, 0.0, 0.0)
    offsets = {"G54": (0.0, 0.0, -lift)} | unset
    words = passed_words(job)
    readings = (
        read_program(text, start=start, offsets=offsets, say=say, pass_over=words) for _, text in programs
    )
    return judge(case_of(programs, readings, scene, job, lift), say, keep)


def judge(case: Case, say: Say = lambda _: None, keep: Keep = _forget) -> Proof:
    """All checks of a case, and the verdict."""
    findings: list[ProofFinding] = [
        f for check in (*statements.CHECKS, *modes.CHECKS, check_throat) for f in check(case)
    ]
    skins: tuple[Skin, ...] = ()
    removed, figures = 0.0, {"cell_mm": case.scene.grid.cell, "moves": float(len(case.moves.line))}
    if len(case.moves.line) == 0:
        findings.append(ProofFinding("not cut", Verdict.NO_GO, "the programs hold no motion at all"))
    else:
        if not is_compiled(*kernels.SOURCES, kernel="cut_tile"):
            say("compiling the simulation to machine code, once: 10 to 30 s")
        say("cutting in simulation")
        cut = simulate(case)
        loads = loads_of(case, cut)
        keep(case, cut, loads)
        say("judging")
        findings += check_obstacles(case)
        findings += [f for check in contact.CHECKS for f in check(case, cut)]
        findings += check_loads(case, loads)
        allowed = surface.allowed_map(case, cut)
        held = check_tabs(case, cut, loads.force)
        floors = surface.judge_floors(case, cut, allowed, held.near)
        findings += [*floors.findings, *surface.check_strays(case, cut, allowed)]
        walled, looks = walls.check_walls(case, cut, floors.uncut, held)
        findings += [*walled, *held.findings, *check_loose(case, cut), *check_between(case, cut)]
        skins, removed = _with_spread(case, floors.skins), cut.removed_mm3
        design = surface.design_volume(case)
        if design is not None:
            findings.append(_volume(removed, design - held.volume))
            figures["design_mm3"] = design
        findings = check_swapped(case, cut, allowed, findings)
        figures |= {"wall_looks": float(looks), "sweeps": float(len(case.move_of))}
    return Proof(
        side=case.scene.side,
        verdict=worst(f.verdict for f in findings),
        findings=digest_order([_finished(case, f) for f in findings]),
        digests={
            name: hashlib.sha256(text.encode()).hexdigest()
            for name, text in zip(case.names, case.texts, strict=True)
        },
        skins=skins,
        removed_mm3=removed,
        seconds=nominal_seconds(case.moves, case.job.bed) + sum(r.dwell_seconds for r in case.readings),
        figures=figures,
    )


def _with_spread(case: Case, skins: Sequence[Skin]) -> tuple[Skin, ...]:
    """The skins with what the machine may add to or take from them."""
    depth = {t.id: t.depth for t in case.scene.targets}
    return tuple(replace(k, spread=_spread(case, depth[k.feature])) for k in skins)


def _spread(case: Case, depth: float) -> float:
    flat = [c.diameter for c in case.job.cutters if c.kind == "flat"]
    return floor_spread(case.job.bed, max(flat, default=0.0), depth)


def _finished(case: Case, finding: ProofFinding) -> ProofFinding:
    """The finding with its margin, and with the machine's spread where it is a depth."""
    finding = with_margin(finding, case.job.file.cutting)
    if finding.check not in ("skin", "floor", "hole depth") or finding.value is None:
        return finding
    depths = [t.depth for t in case.scene.targets if t.id == finding.feature or not finding.feature]
    return replace(finding, spread=_spread(case, max(depths, default=0.0)))


def _volume(removed: float, design: float) -> ProofFinding:
    share = removed / design - 1 if design > 0 else np.inf
    text = f"{removed:.0f} mm³ cut away. The design takes out {design:.0f} mm³"
    if abs(share) <= VOLUME_SHARE:
        return passed("metal removed", text, removed, design, "mm3")
    text += ". Look at the map of what is left"
    return ProofFinding("metal removed", Verdict.CAUTION, text, value=removed, limit=design, unit="mm3")
