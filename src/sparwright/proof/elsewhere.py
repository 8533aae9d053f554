"""Programs from elsewhere, judged by as much as a case file says: the part, the stock, the bed, the cutters, or nothing.

What is not known is not judged, and the verdict says so: nothing found wrong with a part nobody stated is no go.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from sparwright.answers import Verdict, worst
from sparwright.compiled import is_compiled
from sparwright.proof import contact, kernels, machine_limits, modes, statements
from sparwright.proof.case import Case, blame_moves, digest_order, passed
from sparwright.proof.casefile import Known, likely_unit, stock_box
from sparwright.proof.kernels import AIR
from sparwright.proof.kinds import VOLUME_SHARE, with_margin
from sparwright.proof.knowncase import known_case, zero_of
from sparwright.proof.load_checks import check_loads
from sparwright.proof.loads import Loads, loads_of
from sparwright.proof.loose import check_loose
from sparwright.proof.model import Proof, ProofFinding
from sparwright.proof.motion import nominal_seconds
from sparwright.proof.obstacles import check_obstacles
from sparwright.proof.prove import Say
from sparwright.proof.scene import CELL
from sparwright.proof.shape import check_shape
from sparwright.proof.simulate import Cutaway, simulate
from sparwright.proof.stl import size_text
from sparwright.proof.throat import check_throat

Keep = Callable[[Case, Cutaway | None, Loads | None], None]


def prove_known(
    programs: Sequence[tuple[str, str]],
    known: Known,
    *,
    cell: float = CELL,
    progress: Say = lambda _: None,
    keep: Keep = lambda _case, _cut, _loads: None,
) -> Proof:
    """The proof of programs (name, text), in the order they are run, against what is known.

    cell: of the height map, mm. progress: told in words what takes time. keep: handed what was read, and what is left
    after cutting and the loads on the way, None where there was no stock to cut.
    """
    case = known_case(programs, known, cell, progress)
    if len(case.moves.line) == 0:
        findings = [*statements.check_reading(case)]
        findings.append(ProofFinding("not cut", Verdict.NO_GO, "the programs hold no motion at all"))
        return _proof(case, known, findings, None)
    findings = _stated(case, known)
    cut = loads = None
    if known.words.stock is not None and known.cutters is not None:
        if not is_compiled(*kernels.SOURCES, kernel="cut_tile"):
            progress("compiling the simulation to machine code, once: 10 to 30 s")
        progress("cutting in simulation")
        cut = simulate(case)
        progress("judging")
        loads = loads_of(case, cut)
        findings += [*_met(case, known, cut), *_borne(case, known, loads)]
    findings += _unknown(known)
    keep(case, cut, loads)
    return _proof(case, known, findings, cut)


# --- what needs no part ---------------------------------------------------------------------------------


def _stated(case: Case, known: Known) -> list[ProofFinding]:
    """Checks of the words, the places and the speeds of the programs."""
    findings = [
        *statements.check_reading(case),
        *_reworded(statements.check_units(case), known, "units are stated before the first motion"),
        *(statements.check_cutters(case) if known.cutters else [_tools_called(case)]),
        *_reworded(machine_limits.check_spindle(case), known, _spindle_text(case)),
        *_reworded(machine_limits.check_feeds(case), known, "every feed is set before it is needed"),
        *statements.check_start_and_end(case),
        *statements.check_clearance(case),
        *(f for check in modes.CHECKS for f in check(case)),
        *_extents(case, known),
    ]
    if known.bed is not None:
        placed = known.cutters is not None and known.words.height is not None and known.words.zero is not None
        findings += machine_limits.check_reach(case) if placed else _span(case)
        findings += check_throat(case) if known.words.zero is not None else []
    findings += _obstacles(case, known)
    return findings


def _reworded(findings: list[ProofFinding], known: Known, text: str) -> list[ProofFinding]:
    """Findings with their good word put so that it claims nothing of a bed that is not known."""
    if known.bed is not None:
        return findings
    return [
        passed(f.check, text, f.value if f.check == "feed" else None, None, f.unit)
        if f.verdict is Verdict.GO
        else f
        for f in findings
    ]


def _spindle_text(case: Case) -> str:
    rpm = case.moves.rpm[~case.moves.rapid]
    speeds = f", at {rpm.min():.0f} to {rpm.max():.0f} rpm" if rpm.size else ""
    return f"the spindle turns clockwise in every feed motion{speeds}"


def _tools_called(case: Case) -> ProofFinding:
    called = ", ".join(f"T{t}" if t else "none named" for t in np.unique(case.moves.tool[~case.moves.rapid]))
    return passed(
        "cutter", f"cutters called: {called or 'none'}. No table of cutters is given to look them up in"
    )


def _extents(case: Case, known: Known) -> list[ProofFinding]:
    """Where the programs go at all, and how deep they feed, in their own coordinates."""
    moves, zero = case.moves, zero_of(known)
    low, high = (places - zero for places in case.extents.box())
    names = ", ".join(f"{a} {lo:.2f} to {hi:.2f}" for a, lo, hi in zip("XYZ", low, high, strict=True))
    found = [_within(known, f"the programs go from {names} mm, in their own coordinates", (high - low)[:2])]
    feeding = np.flatnonzero(~moves.rapid)
    if len(feeding):
        depth = case.extents.along(2)[0][feeding]
        k, lowest = int(feeding[depth.argmin()]), float(depth.min())
        program, line = case.line_of(k)
        text = f"the lowest cut is at Z{lowest - zero[2]:.3f}"
        room = _room(known)
        found.append(
            ProofFinding(
                "depth",
                Verdict.GO,
                text,
                "",
                program,
                line,
                case.end_of(k),
                -lowest,
                room if room >= -lowest else None,
                "mm",
            )
        )
    return found


def _within(known: Known, text: str, span: np.ndarray) -> ProofFinding:
    """The extents, with the span in X or Y that comes nearest to the travel where that is known and not passed."""
    if known.bed is None or (span > known.bed.reach[:2]).any():
        return passed("extents", text)
    axis = int((np.asarray(known.bed.reach[:2]) - span).argmin())
    return passed("extents", text, float(span[axis]), known.bed.reach[axis], "mm")


def _room(known: Known) -> float:
    """How deep under the stock's top a cut may go: to the bed's surface, or the stock's underside; else no limit, -inf."""
    if known.words.height is not None:
        return known.words.height
    return stock_box(known.words.stock, known.section)[3] if known.words.stock is not None else -np.inf


def _span(case: Case) -> list[ProofFinding]:
    """Whether the programs fit into the travel by their size, where their place in it is not known."""
    reach = np.asarray(case.job.bed.reach)
    span = np.column_stack([high - low.min() for low, high in map(case.extents.along, (0, 1))])
    miss = span - reach[:2]
    axis, most = miss.argmax(axis=1), miss.max(axis=1)
    bad = np.flatnonzero(most > 1e-3)
    if len(bad):
        return blame_moves(
            case,
            "reach",
            bad,
            Verdict.NO_GO,
            lambda k: (
                f"goes {span[k, axis[k]]:.1f} mm from the programs' lowest {'XY'[axis[k]]}. The travel is "
                f"{reach[axis[k]]:g} mm: shorten the move, or cut in stations"
            ),
            value=most,
            limit=0.0,
            unit="mm",
        )
    size = span.max(axis=0)
    text = (
        f"the programs span {size[0]:.1f} x {size[1]:.1f} mm of a travel of {reach[0]:g} x {reach[1]:g} mm. Where they "
        "lie in it is not known"
    )
    return [passed("reach", text, float((reach[:2] - size[:2]).min()), 0.0, "mm")]


def _obstacles(case: Case, known: Known) -> list[ProofFinding]:
    findings = check_obstacles(case) if known.cutters else []
    if known.words.height is None:
        findings = [f for f in findings if f.verdict is not Verdict.GO]
        if known.cutters and known.words.clamp and not findings:
            findings.append(
                passed("obstacles", "cutters, shanks and holders stay clear of the clamps stated")
            )
    return findings


def _unknown(known: Known) -> list[ProofFinding]:
    """What could not be judged for want of knowing it, as one finding."""
    words = known.words
    missing = []
    if words.part is None:
        missing.append("the part (wrong cuts, metal left)")
    if words.stock is None:
        missing.append("the stock (rapids, plunges, shank and holder in metal; force, power, deflection)")
    if known.cutters is None:
        missing.append("the cutters (all cutting, force, power, deflection)")
    if known.bed is None:
        missing.append("the bed (reach, uprights, speeds, feeds, the spindle's power)")
    elif words.zero is None or words.height is None:
        missing.append("where the zero lies in the reach and how high the stock (the ends of the travel)")
    if known.bed is not None and (words.zero is None or words.stock is None):
        missing.append("where stock and zero lie in the reach (whether the uprights pass the stock)")
    if words.height is None:
        missing.append("the stock's height (cuts into the bed)")
    if not missing:
        return []
    text = "not known, so not judged: " + "; ".join(missing) + ". State them in a case file"
    return [ProofFinding("not judged", Verdict.CAUTION, text)]


# --- what needs stock and cutters -----------------------------------------------------------------------


def _met(case: Case, known: Known, cut: Cutaway) -> list[ProofFinding]:
    findings = [f for check in contact.CHECKS for f in check(case, cut)]
    stock = known.words.stock
    assert stock is not None
    if cut.removed_mm3 <= 0:
        findings.append(
            ProofFinding(
                "not cut",
                Verdict.NO_GO,
                "the programs never touch the stock. Check its at, angle and top, and the programs' zero",
            )
        )
    findings += check_loose(case, cut)
    findings += _below(case, stock_box(stock, known.section)[3], known)
    if known.part is not None:
        findings += _unit_doubt(known)
        findings += check_shape(case, cut, known.part, known.words.tolerance.left)
    return [*findings, _volume(case, known, cut.removed_mm3)]


def _volume(case: Case, known: Known, removed: float) -> ProofFinding:
    """Metal cut away of the stock; or, with a part, metal left, which may be more than the part but hardly less."""
    tops, bottoms = case.scene.tops, case.scene.bottoms
    rows = float((np.where(tops > AIR, tops - bottoms, 0)).sum())
    whole = rows * case.scene.grid.cell**2 * case.scene.before.shape[1]
    text = f"{removed:.0f} mm³ cut away, {whole - removed:.0f} mm³ left"
    if known.mesh is None:
        return replace(passed("metal removed", text, removed, whole, "mm3"), margin=whole - removed)
    part = known.mesh.volume
    margin = whole - removed - (1 - VOLUME_SHARE) * part
    text += f". The part has {part:.0f} mm³"
    verdict = Verdict.GO if margin >= 0 else Verdict.CAUTION
    return ProofFinding(
        "metal removed", verdict, text, value=whole - removed, limit=part, unit="mm3", margin=margin
    )


def _borne(case: Case, known: Known, loads: Loads) -> list[ProofFinding]:
    """What cutters and spindle bear; where no material is stated, the message on the force says for which it holds."""
    findings = check_loads(case, loads, known.bed is not None)
    if known.material is not None:
        return findings
    assumed = f" No material is stated, so forces are taken for {case.job.material.name}."
    return [replace(f, message=f.message + assumed) if f.check == "force" else f for f in findings]


def _unit_doubt(known: Known) -> list[ProofFinding]:
    words = known.words
    if known.mesh is None or words.part is None or words.stock is None:
        return []
    unit = likely_unit(known.mesh, words.part, words.stock, known.section)
    if not unit:
        return []
    text = (
        f"the part is only {size_text(known.mesh.size)}. In units of {unit} it would fill the stock. If it was drawn so "
        f'write units = "{unit}" in [part]'
    )
    return [ProofFinding("part size", Verdict.CAUTION, text)]


def _below(case: Case, deep: float, known: Known) -> list[ProofFinding]:
    """Cuts past the stock's underside, where the bed's own check does not see them."""
    if known.words.height is not None:
        return []
    low, _ = case.extents.along(2)
    bad = np.flatnonzero(~case.moves.rapid & (low < -deep - 1e-3))
    return blame_moves(
        case,
        "underside",
        bad,
        Verdict.CAUTION,
        lambda k: (
            f"cuts {-deep - low[k]:.2f} mm past the stock's underside. What lies below is not known: state the stock's height over the bed, or cut less deep"
        ),
        value=-deep - low,
        limit=0.0,
        unit="mm",
    )


def _proof(case: Case, known: Known, findings: Sequence[ProofFinding], cut: Cutaway | None) -> Proof:
    figures = {"moves": float(len(case.moves.line))}
    if len(case.moves.line):
        for name, low, high in zip("XYZ", *case.extents.box(), strict=True):
            figures |= {f"{name}_low_mm": float(low), f"{name}_high_mm": float(high)}
    if cut is not None:
        figures |= {"cell_mm": case.scene.grid.cell, "sweeps": float(len(case.move_of))}
    return Proof(
        side="part",
        verdict=worst(f.verdict for f in findings),
        findings=digest_order([with_margin(f, case.job.file.cutting) for f in findings]),
        digests={
            name: hashlib.sha256(text.encode()).hexdigest()
            for name, text in zip(case.names, case.texts, strict=True)
        },
        removed_mm3=cut.removed_mm3 if cut else 0.0,
        seconds=nominal_seconds(case.moves, case.job.bed) + sum(r.dwell_seconds for r in case.readings),
        figures=figures,
    )
