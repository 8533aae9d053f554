"""Holes and notches laid out on their faces, with their sizes from the thread table and the metal below."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely.geometry import Polygon

from sparwright.job.models import HoleGroup, Job, Notch
from sparwright.job.reading import job_error
from sparwright.stock.faults import face_of
from sparwright.stock.model import Face, Hole, NotchCut, Section
from sparwright.stock.outlines import fillet
from sparwright.stock.pockets import CHORD, ROOM_TO_TURN
from sparwright.stock.section import metal_below, wall_range
from sparwright.stock.threads import thread

OVERRUN = 5.0  # mm, how far a notch's outline runs past the end it opens to
LEAST_SEAT = 1.0  # mm of metal left under a counterbore: common practice, no source
UNEVEN = 0.05  # mm, greatest difference of thickness under a hole or notch through a wall
NOTCH_SHARE = 1 / 3  # greatest cutter diameter over a notch's width, for a radius not stated
Keys = tuple[str | int, ...]


# --- holes ----------------------------------------------------------------------------------------------


def lay_holes(job: Job, section: Section, length: float) -> tuple[Hole, ...]:
    """Every hole of the job on a member `length` mm long.

    Raises JobError, at its line, for a hole off its face, one whose depth does not suit the metal below,
    and one that cuts into another.
    """
    holes: list[Hole] = []
    for i, group in enumerate(job.file.hole):
        face = face_of(job, section, group.face, ("hole", i, "face"))
        for j, _ in enumerate(group.at):
            hole = _hole(job, section, face, length, i, j)
            for other in holes:
                _apart(job, section, hole, other, ("hole", i, "at", j))
            holes.append(hole)
    return tuple(holes)


def rim_radius(hole: Hole) -> float:
    """Radius of the hole where it meets the face, its counterbore counted, mm."""
    return max(hole.diameter, hole.counterbore[0] if hole.counterbore else 0.0) / 2


def hole_diameter(group: HoleGroup) -> float:
    """Diameter of the drill or bore, mm: as stated, the tap drill, or the clearance of ISO 273."""
    if group.diameter is not None:
        return group.diameter
    assert group.thread is not None
    row = thread(group.thread)
    return row.tap_drill if group.kind == "tapped" else row.clearance[group.fit]


def _hole(job: Job, section: Section, face: Face, length: float, i: int, j: int) -> Hole:
    group = job.file.hole[i]
    x, s = group.at[j]
    counterbore = None
    if group.kind == "counterbored":
        assert group.thread is not None
        row = thread(group.thread)
        counterbore = (row.counterbore, row.counterbore_depth)
    diameter = hole_diameter(group)
    rim = max(diameter, counterbore[0] if counterbore else 0.0) / 2
    _on_face(job, face, length, (x, s), rim, ("hole", i, "at", j))
    depth = _hole_depth(job, section, face, s, rim, i)
    if counterbore:
        wall = wall_range(section, face, s - rim, s + rim)[0]
        end = min(wall, depth)
        if counterbore[1] > end - LEAST_SEAT:
            raise job_error(
                job,
                ("hole", i, "kind"),
                f"a counterbore {counterbore[1]:g} mm deep for {group.thread} leaves {end - counterbore[1]:.2f} mm under the head "
                f"in {end:g} mm of metal",
                allowed=f"at least {LEAST_SEAT:g} mm",
                remedy="take a smaller thread or a plain clearance hole",
            )
    _edge_break_fits(
        job, ("hole", i, "edge_break"), group.edge_break, counterbore[1] if counterbore else depth
    )
    return Hole(
        id=f"{group.name}/{j + 1}",
        face=face.name,
        kind=group.kind,
        at=(x, s),
        diameter=diameter,
        depth=depth,
        through="blind" if group.depth is not None else group.through,
        thread=group.thread,
        counterbore=counterbore,
        clear=group.clear,
        edge_break=group.edge_break,
    )


def _edge_break_fits(job: Job, keys: Keys, edge_break: float, depth: float) -> None:
    if edge_break >= depth:
        raise job_error(
            job,
            keys,
            f"an edge break of {edge_break:g} mm is as deep as what it breaks, {depth:g} mm",
            allowed=f"less than {depth:g} mm",
            remedy="make it smaller",
        )


def _on_face(job: Job, face: Face, length: float, at: tuple[float, float], rim: float, keys: Keys) -> None:
    x, s = at
    half = face.width / 2
    if abs(s) + rim > half + 1e-9:
        raise job_error(
            job,
            keys,
            f"a hole {2 * rim:g} mm across at s = {s:g} runs over the edge of {face.name}, whose flat is {face.width:g} mm wide",
            allowed=f"s from {rim - half:.3f} to {half - rim:.3f} mm",
            remedy="move it in from the edge",
        )
    if x - rim < -1e-9 or x + rim > length + 1e-9:
        raise job_error(
            job,
            keys,
            f"a hole {2 * rim:g} mm across at x = {x:g} runs over the end of the member, {length:g} mm long",
            allowed=f"x from {rim:.3f} to {length - rim:.3f} mm",
            remedy="move it in from the end; x is measured from the datum end as sawn",
        )


def _hole_depth(job: Job, section: Section, face: Face, s: float, rim: float, i: int) -> float:
    group = job.file.hole[i]
    least, most, _ = wall_range(section, face, s - rim, s + rim)
    if group.depth is not None:
        if group.depth >= least - 1e-9:
            raise job_error(
                job,
                ("hole", i, "depth"),
                f"a blind hole {group.depth:g} mm deep goes through the {least:g} mm of metal at s = {s:g}",
                allowed=f"less than {least:g} mm",
                remedy="leave depth out for a hole through the wall",
            )
        return group.depth
    if group.through == "all":
        across = (s - rim, s - rim / 2, s, s + rim / 2, s + rim)
        return max(-below[-1][1] for below in (metal_below(section, face, t) for t in across) if below)
    if most - least > UNEVEN:
        raise job_error(
            job,
            ("hole", i, "through"),
            f"the metal under the hole at s = {s:g} on {face.name} is {least:.2f} to {most:.2f} mm thick: it stands over a web or a fillet",
            remedy='give a depth, say through = "all", or move it clear of the web',
        )
    return most


def _apart(job: Job, section: Section, hole: Hole, other: Hole, keys: Keys) -> None:
    """Raises JobError where two holes of one face, or of opposite faces and meeting in the metal, overlap.

    Holes that share an axis from opposite faces may meet.
    """
    face, other_face = section.face(hole.face), section.face(other.face)
    x, s, n = face.from_member(other_face.to_member(np.array([[*other.at, 0.0]])))[0]
    between = math.dist(hole.at, (x, s))
    if hole.face != other.face:
        opposite = float(face.normal @ other_face.normal) < -1 + 1e-9
        if not opposite or between < 1e-6 or hole.depth + other.depth <= -n:
            return
    wanted = rim_radius(hole) + rim_radius(other)
    if between <= wanted:
        raise job_error(
            job,
            keys,
            f"{hole.id} cuts into {other.id}: their edges overlap by {wanted - between:.3f} mm",
            allowed=f"centres at least {wanted:.3f} mm apart",
            remedy="move one of them",
        )


# --- notches --------------------------------------------------------------------------------------------


def lay_notches(job: Job, section: Section, length: float, holes: tuple[Hole, ...]) -> tuple[NotchCut, ...]:
    """Every notch of the job.

    Raises JobError for a notch off its face, longer than the member, over a web, into a hole, or with
    corners no flat cutter can leave.
    """
    notches: list[NotchCut] = []
    for i, notch in enumerate(job.file.notch):
        face = face_of(job, section, notch.face, ("notch", i, "face"))
        cut = _notch(job, section, face, length, i)
        for hole in holes:
            gap = shapely.distance(cut.outline, shapely.Point(hole.at)) - rim_radius(hole)
            if hole.face == face.name and gap <= 0:
                raise job_error(
                    job,
                    ("notch", i, "name"),
                    f"notch {notch.name} cuts into hole {hole.id}",
                    remedy="move one of them",
                )
        for other in notches:
            if other.face == face.name and cut.outline.intersects(other.outline):
                raise job_error(
                    job,
                    ("notch", i, "name"),
                    f"notch {notch.name} cuts into notch {other.id}",
                    remedy="move one of them",
                )
        notches.append(cut)
    return tuple(notches)


def _notch(job: Job, section: Section, face: Face, length: float, i: int) -> NotchCut:
    notch = job.file.notch[i]
    left, right = notch.at - notch.width / 2, notch.at + notch.width / 2
    half = face.width / 2
    if left < -half - 1e-9 or right > half + 1e-9:
        raise job_error(
            job,
            ("notch", i, "at" if notch.at else "width"),
            f"notch {notch.name} runs over the edge of {face.name}, whose flat is {face.width:g} mm wide",
            allowed=f"s from {-half:g} to {half:g} mm",
            remedy="make it narrower or move it",
        )
    if notch.depth >= length:
        raise job_error(
            job,
            ("notch", i, "depth"),
            f"notch {notch.name} reaches {notch.depth:g} mm into a member {length:g} mm long",
            allowed=f"less than {length:g} mm",
        )
    least, most, _ = wall_range(section, face, left, right)
    if most - least > UNEVEN:
        raise job_error(
            job,
            ("notch", i, "at" if notch.at else "width"),
            f"the metal under notch {notch.name} is {least:.2f} to {most:.2f} mm thick: it stands over a web or a fillet",
            remedy="make it narrower or move it clear of the web",
        )
    _edge_break_fits(job, ("notch", i, "edge_break"), notch.edge_break, most)
    radius = _notch_radius(job, notch, i)
    inner = notch.depth if notch.end == "datum" else length - notch.depth
    outer = -OVERRUN if notch.end == "datum" else length + OVERRUN
    corners = shapely.get_coordinates(
        shapely.box(min(inner, outer), left, max(inner, outer), right, ccw=True)
    )
    radii = [radius if abs(x - inner) < 1e-9 else 0.0 for x, _ in corners[:-1]]
    outline = Polygon(fillet(corners[:-1], radii, CHORD))
    return NotchCut(
        id=notch.name,
        face=face.name,
        end=notch.end,
        outline=outline,
        corner_radius=radius,
        depth=most,
        edge_break=notch.edge_break,
    )


def _notch_radius(job: Job, notch: Notch, i: int) -> float:
    """As stated, or 1.3 times the radius of the largest flat cutter within a third of the width."""
    flats = sorted(c.diameter for c in job.cutters if c.kind == "flat")
    if not flats:
        raise job_error(
            job,
            ("job", "cutters"),
            f"no flat cutter is at hand to cut notch {notch.name}",
            remedy="add a flat cutter to the cutters file",
        )
    room = min(notch.width / 2, notch.depth)
    least = flats[0] / 2
    if room < least:
        raise job_error(
            job,
            ("notch", i, "width" if notch.width / 2 < least else "depth"),
            f"notch {notch.name} is too small for the smallest flat cutter, {flats[0]:g} mm",
            allowed=f"width at least {flats[0]:g} mm, depth at least {least:g} mm",
            remedy="make the notch larger or add a smaller flat cutter",
        )
    if notch.corner_radius is None:
        fitting = [d for d in flats if d <= NOTCH_SHARE * notch.width] or flats[:1]
        return min(ROOM_TO_TURN * fitting[-1] / 2, room)
    if not least - 1e-9 <= notch.corner_radius <= room + 1e-9:
        raise job_error(
            job,
            ("notch", i, "corner_radius"),
            f"a corner radius of {notch.corner_radius:g} mm cannot be cut in notch {notch.name}",
            allowed=f"{least:g} (smallest flat cutter) to {room:g} mm",
            remedy="choose a radius in that range, or leave it out",
        )
    return notch.corner_radius
