"""Findings on a member's screws and clamps: threads in thin walls, heads on walls, walls pulled or pressed in."""

from __future__ import annotations

from sparwright.answers import Finding, Verdict
from sparwright.stiffness.fastening import (
    TORQUE_DRY,
    TORQUE_OILED,
    head_pressure,
    side_wall_load,
    strip_load,
    torque_for,
    usual_preload,
    wall_bending,
    wall_give,
)
from sparwright.stiffness.local_walls import HollowWall, hollow_walls
from sparwright.stock.model import Face, Hole, Member
from sparwright.stock.section import metal_below
from sparwright.stock.threads import Thread, thread

# Thread counted as lost at a blind hole's end, in pitches, for the tap's lead: common practice, no source.
LEAD = 2.0
# Pitches below which a thread holds nothing worth the name, and that a sound one has: common practice, no source.
LEAST_PITCHES, SOUND_PITCHES = 2.0, 3.0
# Strip load over the usual preload from which a thread needs no care; strip load over the force a torque may give where it does:
# common practice, no source.
FULL, HALF = 1.5, 2.0
# Share of the usual preload under which a screw holds too little to be of use: common practice, no source.
USEFUL = 0.25
# Contact of a clamp's foot, mm: a strap 20 wide that touches over 8 of its length; along the side wall, and radius of equal area.
FOOT_LENGTH, FOOT_RADIUS = 8.0, 7.1


def screw_findings(member: Member) -> list[Finding]:
    """One finding for the worst hole of each group of tapped holes, of clearance holes and counterbores, and of screws through all."""
    groups: dict[str, list[Hole]] = {}
    for hole in member.holes:
        if hole.thread:
            groups.setdefault(hole.id.rsplit("/", 1)[0], []).append(hole)
    out = []
    for name, holes in groups.items():
        first = holes[0]
        if first.kind == "tapped":
            out.append(_thread(member, name, holes))
            continue
        if first.kind in ("clearance", "counterbored"):
            out.append(_head(member, name, first))
        if first.through == "all":
            out += _pulled_in(member, name, holes)
    return out


def engaged_length(member: Member, hole: Hole) -> float:
    """Length of full thread a tapped hole has, mm: the metal at the face, less the broken edge and a blind hole's lead."""
    face = member.section.face(hole.face)
    below = metal_below(member.section, face, hole.at[1])
    # Metal off the hole's own axis may begin deeper: the thinner side counts.
    metal = min(hole.depth, -below[0][1]) if below else hole.depth
    lead = LEAD * thread(hole.thread or "").pitch if hole.through == "blind" else 0.0
    return max(metal - lead - hole.edge_break, 0.0)


def _thread(member: Member, name: str, holes: list[Hole]) -> Finding:
    hole = min(holes, key=lambda h: engaged_length(member, h))
    row = thread(hole.thread or "")
    engaged = engaged_length(member, hole)
    pitches = engaged / row.pitch
    strips, usual = strip_load(row, engaged, member.material), usual_preload(row)
    sound = max(FULL * usual, strip_load(row, SOUND_PITCHES * row.pitch, member.material))
    torque = torque_for(strips / HALF, row, TORQUE_OILED)
    why = (
        f"{engaged:.1f} mm of {row.name} thread, {pitches:.1f} pitches, strips at {strips / 1000:.1f} kN. An 8.8 screw is usually tightened to "
        f"{usual / 1000:.1f} kN, and a sound thread holds {sound / 1000:.1f} kN."
    )
    if pitches < LEAST_PITCHES:
        verdict = Verdict.NO_GO
        why += f" Fewer than {LEAST_PITCHES:g} pitches hold nothing: {_instead(member, hole, row, engaged)}"
    elif strips < sound:
        verdict = Verdict.CAUTION
        why += f" Tighten to at most {torque:.1f} N m. For more, {_instead(member, hole, row, engaged)}"
    else:
        verdict = Verdict.GO
        why += f" The usual torque of {torque_for(usual, row, TORQUE_DRY):.1f} N m is fine."
    return Finding(f"thread, {name}", verdict, strips, "N", sound, strips - sound, 0.2 * strips, why, hole.id)


def _instead(member: Member, hole: Hole, row: Thread, engaged: float) -> str:
    """What to do about a thread that is too short."""
    wanted = (
        engaged * FULL * usual_preload(row) / max(strip_load(row, engaged, member.material), 1e-9)
        if engaged
        else 0.0
    )
    length = max(wanted, SOUND_PITCHES * row.pitch)
    if hole.through == "blind":
        return f"tap {length - engaged:.1f} mm deeper, or set a threaded insert."
    if _over(member, hole):
        return (
            f"set a press-in or threaded insert, put a plate nut {length:.0f} mm thick behind the wall, "
            "or screw through both walls with a spacer tube between them."
        )
    return f"leave {length:.0f} mm of metal there, or set a threaded insert."


def _over(member: Member, hole: Hole) -> HollowWall | None:
    """The hollow wall a hole goes through."""
    walls = hollow_walls(member.section, member.section.face(hole.face))
    return next((w for w in walls if w.low < hole.at[1] < w.high), None)


def _head(member: Member, name: str, hole: Hole) -> Finding:
    row = thread(hole.thread or "")
    force, limit = usual_preload(row), member.material.proof_strength
    pressure = head_pressure(force, row.head_diameter, hole.diameter)
    ok = pressure <= limit
    why = f"Under the {row.head_diameter:g} mm head of an {row.name} screw over a {hole.diameter:g} mm hole, tightened to {force / 1000:.1f} kN."
    if not ok:
        most = torque_for(force * limit / pressure, row, TORQUE_OILED)
        why += f" The wall is pressed in: put a washer under the head, or tighten to at most {most:.1f} N m."
    return Finding(
        f"pressure under the head, {name}",
        Verdict.GO if ok else Verdict.CAUTION,
        pressure,
        "MPa",
        limit,
        limit - pressure,
        0.25 * pressure,
        why,
        hole.id,
    )


def _pulled_in(member: Member, name: str, holes: list[Hole]) -> list[Finding]:
    """Screws through both walls of a hollow member: what their pull does to the wall under the head."""
    over = [(h, w) for h in holes if (w := _over(member, h)) is not None]
    if not over:
        return []
    hole, wall = max(over, key=lambda p: p[1].width / p[1].thickness)
    row = thread(hole.thread or "")
    force, limit = usual_preload(row), member.material.proof_strength
    radius = min(row.head_diameter / 2, 0.49 * wall.width)
    built_in, hinged = wall_bending(force, wall.width, wall.thickness, radius, member.material.poisson)
    value, spread = (built_in + hinged) / 2, (hinged - built_in) / 2
    share = limit / hinged
    why = (
        f"An 8.8 {row.name} screw tightened to its usual {force / 1000:.1f} kN bends the {wall.thickness:g} mm wall between side walls "
        f"{wall.width:.0f} mm apart."
    )
    if hinged <= limit:
        verdict = Verdict.GO
    else:
        verdict = Verdict.CAUTION if share >= USEFUL else Verdict.NO_GO
        most = torque_for(share * force, row, TORQUE_OILED)
        why += f" Put a spacer tube {wall.depth:.1f} mm long round the screw between the walls, or tighten to at most {most:.1f} N m."
    return [
        Finding(f"walls pulled in, {name}", verdict, value, "MPa", limit, limit - value, spread, why, hole.id)
    ]


def clamp_findings(member: Member, force: float, faces: tuple[str, ...] = ()) -> list[Finding]:
    """What one clamp does to a hollow wall: the worst of the faces (those worked if not said), pressed in the middle of the wall.

    Empty for solid and open profiles: there is no wall between two side walls to bend.
    """
    names = faces or member.worked_faces
    cases = [
        (member.section.face(n), w)
        for n in names
        for w in hollow_walls(member.section, member.section.face(n))
    ]
    if not cases or force <= 0:
        return []
    return [max((_clamp(member, face, wall, force) for face, wall in cases), key=lambda f: f.value or 0.0)]


def _clamp(member: Member, face: Face, wall: HollowWall, force: float) -> Finding:
    material = member.material
    limit = material.proof_strength
    radius = min(FOOT_RADIUS, 0.49 * wall.width)
    built_in, hinged = wall_bending(force, wall.width, wall.thickness, radius, material.poisson)
    gives = wall_give(force, wall.width, wall.thickness, material)
    over = side_wall_load(wall.depth, wall.side, FOOT_LENGTH, material)
    value, spread = (built_in + hinged) / 2, (hinged - built_in) / 2
    why = (
        f"A clamp of {force:.0f} N in the middle of {face.name}, {wall.thickness:g} mm thick between side walls {wall.width:.0f} mm apart. "
        f"The wall gives {gives[0]:.2g} to {gives[1]:.2g} mm. Over a side wall the foot may press with {over / 1000:.1f} kN."
    )
    if hinged > limit:
        why += f" Keep the foot over a side wall, spread it with a plate, or clamp with at most {force * limit / hinged:.0f} N in the middle."
        verdict = Verdict.NO_GO if built_in > limit else Verdict.CAUTION
    else:
        verdict = Verdict.GO
    return Finding(
        "clamp on the hollow wall", verdict, value, "MPa", limit, limit - value, spread, why, face.name
    )
