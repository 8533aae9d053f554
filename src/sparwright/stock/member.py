"""From a job to the member: section, length, holes, notches, pockets, and what had to be left out."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from pydantic import ValidationError
from shapely.geometry import Polygon

from sparwright.answers import BadInput
from sparwright.job.models import Job, PocketField, RectangularTube, RoundTube, SinglePocket
from sparwright.job.reading import JobError, job_error
from sparwright.stock.conflicts import (
    LEAST_RIB,
    Obstacle,
    hole_obstacle,
    meetings,
    notch_obstacle,
    pocket_obstacle,
    zone_obstacle,
)
from sparwright.stock.faults import face_of, unique_names
from sparwright.stock.holes import UNEVEN, lay_holes, lay_notches
from sparwright.stock.model import Dropped, Face, FieldBay, Member, Pocket, Section
from sparwright.stock.outlines import copies
from sparwright.stock.pockets import (
    Layout,
    LayoutError,
    PocketForm,
    corner_radius_for,
    field_size,
    lay_out,
    pocket_form,
)
from sparwright.stock.section import make_section, wall_range

EVEN_SHARE = 0.5  # least share of a pocket's width over the wall's least thickness
Keys = tuple[str | int, ...]


def build_member(job: Job) -> Member:
    """The member a job describes, every feature laid out in its face's (x, s).

    Raises JobError, at the line of the job file, for whatever cannot be laid out; pockets that meet
    something are listed in `dropped` where the job lets them drop.
    """
    unique_names(job)
    section = _section(job)
    length, sawn = _length(job)
    holes = lay_holes(job, section, length)
    notches = lay_notches(job, section, length, holes)
    fixed = [hole_obstacle(h) for h in holes]
    fixed += [notch_obstacle(n) for n in notches]
    fixed += _zones(job, section)
    laid = _lay_pockets(job, section, length, fixed)
    return Member(
        title=job.title,
        section=section,
        length=length,
        material=job.material,
        pockets=laid.pockets,
        holes=holes,
        notches=notches,
        dropped=laid.dropped,
        bays=laid.bays,
        sawn=sawn,
        notes=laid.notes,
    )


# --- stock ----------------------------------------------------------------------------------------------


def _section(job: Job) -> Section:
    stock = job.file.stock
    spec = stock.section
    if stock.measured_wall is not None:
        if not isinstance(spec, RectangularTube | RoundTube):
            raise job_error(
                job,
                ("stock", "measured_wall"),
                f"measured_wall is for tubes, and the section is a {spec.shape}",
                remedy="leave it out and state the section with its measures as measured",
            )
        try:
            spec = type(spec).model_validate({**spec.model_dump(), "wall": stock.measured_wall})
        except ValidationError as fault:
            raise job_error(job, ("stock", "measured_wall"), fault.errors()[0]["msg"]) from None
    try:
        return make_section(spec, job.folder)
    except JobError:
        raise
    except BadInput as fault:
        raise job_error(job, ("stock", "section", *getattr(fault, "keys", ())), str(fault)) from None


def _length(job: Job) -> tuple[float, tuple[str, ...]]:
    length = job.file.stock.length
    seen: set[str] = set()
    sawn = []
    for i, cut in enumerate(job.file.end_cut):
        if cut.end in seen:
            raise job_error(
                job, ("end_cut", i, "end"), f"the {cut.end} end is sawn twice", remedy="state one cut an end"
            )
        seen.add(cut.end)
        if cut.remove >= length:
            raise job_error(
                job,
                ("end_cut", i, "remove"),
                f"sawing {cut.remove:g} mm off the {cut.end} end leaves nothing of {length:g} mm",
                allowed=f"less than {length:g} mm",
            )
        length -= cut.remove
        sawn.append(f"{cut.end} end: {cut.remove:g} mm off")
    return length, tuple(sawn)


def _zones(job: Job, section: Section) -> list[Obstacle]:
    zones = []
    for i, zone in enumerate(job.file.keep_clear):
        face_of(job, section, zone.face, ("keep_clear", i, "face"))
        for key, (a, b) in (("x", zone.x), ("s", zone.s)):
            if a == b:
                raise job_error(
                    job,
                    ("keep_clear", i, key),
                    f"keep-clear zone {zone.name} has no extent along {key}",
                    remedy="give two different places, from and to",
                )
        zones.append(zone_obstacle(zone.name, zone.face, zone.x, zone.s))
    return zones


# --- pockets --------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Group:
    """Pockets laid out together: a single pocket, or one field on one face.

    keys: where the job states it. rib, floor: metal promised beside and under them.
    """

    keys: Keys
    name: str
    face: Face
    pockets: tuple[Pocket, ...]
    uneven: dict[int, str]
    rib: float
    floor: float
    on_conflict: Literal["drop", "refuse"]
    bay: FieldBay | None

    @property
    def field(self) -> bool:
        """Whether it is a field."""
        return self.keys[0] == "field"


@dataclass(frozen=True)
class _Laid:
    pockets: tuple[Pocket, ...]
    dropped: tuple[Dropped, ...]
    bays: tuple[FieldBay, ...]
    notes: tuple[str, ...]


def _lay_pockets(job: Job, section: Section, length: float, fixed: Sequence[Obstacle]) -> _Laid:
    kept: list[Pocket] = []
    obstacles = list(fixed)
    dropped: list[Dropped] = []
    bays: list[FieldBay] = []
    notes: list[str] = []
    for group in _groups(job, section, length):
        met = meetings(section, group.face, group.pockets, obstacles, group.rib, group.floor)
        reasons = {**met.reasons, **group.uneven}
        if reasons and group.on_conflict == "refuse":
            raise _refusal(job, group, reasons)
        if group.field and len(reasons) == len(group.pockets):
            raise _nothing_left(job, group, reasons)
        thinned = list(group.pockets)
        for i, number, metal in met.floors:
            if i not in reasons:
                thinned[i] = replace(thinned[i], skin=min(thinned[i].skin, metal))
                behind = number - len(fixed)
                if behind >= 0:
                    kept[behind] = replace(kept[behind], skin=min(kept[behind].skin, metal))
        for i, pocket in enumerate(thinned):
            if i in reasons:
                dropped.append(Dropped(pocket.id, pocket.face, pocket.origin, reasons[i]))
            else:
                kept.append(pocket)
                obstacles.append(pocket_obstacle(pocket, group.rib, group.floor))
        if group.bay is not None:
            bays.append(group.bay)
        if group.field:
            left = len(group.pockets) - len(reasons)
            notes.append(f"{group.name} on {group.face.name}: {left} of {len(group.pockets)} pockets kept")
    return _Laid(tuple(kept), tuple(dropped), tuple(bays), tuple(notes))


def _groups(job: Job, section: Section, length: float) -> Iterator[_Group]:
    for i, single in enumerate(job.file.pocket):
        face = face_of(job, section, single.face, ("pocket", i, "face"))
        yield _single_group(job, section, face, length, i, single)
    for i, field in enumerate(job.file.field):
        if len(set(field.faces)) < len(field.faces):
            raise job_error(
                job, ("field", i, "faces"), "a face is named twice", remedy="name every face once"
            )
        for j, name in enumerate(field.faces):
            face = face_of(job, section, name, ("field", i, "faces", j))
            yield _field_group(job, section, face, length, i, field)


def _refusal(job: Job, group: _Group, reasons: dict[int, str]) -> JobError:
    i = min(reasons)
    pocket = group.pockets[i]
    more = f"; {len(reasons) - 1} more meet something" if len(reasons) > 1 else ""
    return job_error(
        job,
        group.keys,
        f"pocket {pocket.id} at x = {pocket.origin[0]:.2f}, s = {pocket.origin[1]:.2f} cannot stay: {reasons[i]}{more}",
        remedy='move one of them, or say on_conflict = "drop"',
    )


def _nothing_left(job: Job, group: _Group, reasons: dict[int, str]) -> JobError:
    commonest, _ = Counter(reasons.values()).most_common(1)[0]
    return job_error(
        job,
        group.keys,
        f"no pocket of {group.name} on {group.face.name} can stay; the commonest reason: {commonest}",
        remedy="move it, or make the pockets smaller",
    )


def _single_group(
    job: Job, section: Section, face: Face, length: float, i: int, single: SinglePocket
) -> _Group:
    keys: Keys = ("pocket", i)
    try:
        radius = corner_radius_for(
            single.pocket, single.size, single.width, single.corner_radius, job.cutters
        )
        form = pocket_form(single.pocket, single.size, single.width, single.turn, radius)
    except LayoutError as fault:
        raise _told(job, keys, fault, single.corner_radius) from None
    walls = _Walls(job, section, face, keys, single.skin, single.depth)
    (outline,) = copies(form.outline, [single.at])
    pocket, uneven = walls.pocket(single.name, "", form, single.at, outline, single.edge_break)
    walls.check_edge_break(single.edge_break, pocket.depth, math.inf)
    reasons = {0: uneven} if uneven else {}
    x0, _, x1, _ = pocket.outline.bounds
    if x0 < -1e-9 or x1 > length + 1e-9:
        reasons[0] = f"runs over the end of the member, {length:g} mm long"
    floor = single.skin if single.skin is not None else LEAST_RIB
    return _Group(keys, single.name, face, (pocket,), reasons, LEAST_RIB, floor, single.on_conflict, None)


def _field_group(job: Job, section: Section, face: Face, length: float, i: int, field: PocketField) -> _Group:
    keys: Keys = ("field", i)
    try:
        size = field_size(field)
        radius = corner_radius_for(field.pocket, size, field.width, field.corner_radius, job.cutters)
        forms = {
            half: pocket_form(field.pocket, size, field.width, 180.0 if half else 0.0, radius)
            for half in (False, True)
        }
        layout = lay_out(field, face.width, length)
    except LayoutError as fault:
        raise _told(job, keys, fault, field.corner_radius) from None
    walls = _Walls(job, section, face, keys, field.skin, field.depth)
    pockets, uneven = [], {}
    placed = {
        half: iter(copies(form.outline, [s.at for s in layout.sites if s.half_turned == half]))
        for half, form in forms.items()
    }
    for k, site in enumerate(layout.sites):
        name = f"{field.name}/{face.name}/r{site.row}c{site.column:02d}"
        form, outline = forms[site.half_turned], next(placed[site.half_turned])
        pocket, reason = walls.pocket(name, field.name, form, site.at, outline, field.edge_break)
        pockets.append(pocket)
        if reason:
            uneven[k] = reason
    walls.check_edge_break(field.edge_break, min(p.depth for p in pockets), field.rib)
    bay = _bay(field, face, layout, forms, {k: p for k, p in enumerate(pockets) if k not in uneven})
    floor = field.skin if field.skin is not None else LEAST_RIB
    return _Group(keys, field.name, face, tuple(pockets), uneven, field.rib, floor, field.on_conflict, bay)


def _told(job: Job, keys: Keys, fault: LayoutError, stated_radius: float | None) -> JobError:
    """A layout fault with the line of the key at fault."""
    key = fault.key
    if key == "pocket" or (key == "corner_radius" and stated_radius is None):
        key = "pocket"
    table = job.file.field if keys[0] == "field" else job.file.pocket
    if key == "size" and keys[0] == "field":
        key = "cell"
    name = table[int(keys[1])].name
    return job_error(job, (*keys, key), f"{name}: {fault.what}", allowed=fault.allowed, remedy=fault.remedy)


def _bay(
    field: PocketField,
    face: Face,
    layout: Layout,
    forms: dict[bool, PocketForm],
    pockets: dict[int, Pocket],
) -> FieldBay | None:
    """One period of a field; `pockets` are those the section allows, by their place in the layout."""
    if not pockets:
        return None
    allowed = {(layout.sites[k].row, layout.sites[k].half_turned) for k in pockets}
    period = [s for s in layout.period_sites if (s.row, s.half_turned) in allowed]
    depth, skin = Counter((p.depth, p.skin) for p in pockets.values()).most_common(1)[0][0]

    def placed(sharp: bool) -> tuple[Polygon, ...]:
        shapes = {half: form.sharp if sharp else form.outline for half, form in forms.items()}
        return tuple(copies(shapes[s.half_turned], [s.at])[0] for s in period)

    return FieldBay(
        field=field.name,
        face=face.name,
        pitch=layout.pitch,
        rows=len({s.row for s in period}),
        outlines=placed(False),
        sharp_outlines=placed(True),
        depth=depth,
        skin=skin,
        span=layout.span,
    )


class _Walls:
    """Depth and skin of pockets on one face, from the wall under them."""

    def __init__(
        self,
        job: Job,
        section: Section,
        face: Face,
        keys: Keys,
        skin: float | None,
        depth: float | None,
    ) -> None:
        self.job, self.face, self.keys, self.skin, self.depth = job, face, keys, skin, depth
        self.under = lru_cache(maxsize=None)(lambda a, b: wall_range(section, face, a, b))

    def pocket(
        self,
        name: str,
        field: str,
        form: PocketForm,
        at: tuple[float, float],
        outline: Polygon,
        edge_break: float,
    ) -> tuple[Pocket, str]:
        """The pocket whose outline is the form's moved to `at`, and why it cannot stay ("" where it can)."""
        _, left, _, right = outline.bounds
        half = self.face.width / 2
        reason = ""
        if left < -half - 1e-9 or right > half + 1e-9:
            reason = f"runs over the edge of {self.face.name}, whose flat is {self.face.width:g} mm wide"
            left, right = max(left, -half), min(right, half)
        if right - left < 1e-3:
            left, right = -half, half
        least, most, share = self.under(round(left, 6), round(right, 6))
        depth, skin = self._depth(least)
        if not reason and skin <= 0 and most - least > UNEVEN:
            reason = (
                f"a window over metal {least:.2f} to {most:.2f} mm thick: a web or a fillet lies behind it"
            )
        if not reason and share < EVEN_SHARE:
            reason = (
                f"the wall under it is {least:.2f} to {most:.2f} mm thick, even over {share:.0%} of its width"
            )
        pocket = Pocket(
            id=name,
            face=self.face.name,
            field=field,
            shape_key=form.key,
            origin=at,
            outline=outline,
            corners=tuple((x + at[0], s + at[1]) for x, s in form.corners),
            corner_radius=form.corner_radius,
            depth=depth,
            skin=skin,
            edge_break=edge_break,
        )
        return pocket, reason

    def check_edge_break(self, edge_break: float, depth: float, rib: float) -> None:
        """Raises JobError where an edge break is deeper than its pocket or takes a rib's whole top."""
        limit = min(depth, rib / 2)
        if edge_break >= limit - 1e-9:
            raise job_error(
                self.job,
                (*self.keys, "edge_break"),
                f"an edge break of {edge_break:g} mm leaves no flat on ribs of {rib:g} mm"
                if rib / 2 <= depth
                else f"an edge break of {edge_break:g} mm is as deep as its pocket, {depth:g} mm",
                allowed=f"less than {limit:g} mm",
                remedy="make it smaller",
            )

    def _depth(self, wall: float) -> tuple[float, float]:
        """Depth and skin in a wall so thick."""
        key = "skin" if self.skin is not None else "depth"
        if self.skin is not None and self.skin < wall - 1e-9:
            return round(wall - self.skin, 9), self.skin
        if self.depth is not None and self.depth < wall - 1e-9:
            return self.depth, round(wall - self.depth, 9)
        stated = self.skin if self.skin is not None else self.depth
        what = "leaves nothing to cut of" if self.skin is not None else "goes through"
        raise job_error(
            self.job,
            (*self.keys, key),
            f"a {key} of {stated:g} mm {what} the {wall:g} mm wall of {self.face.name}",
            allowed=f"less than {wall:g} mm",
            remedy="make it smaller" + ("" if key == "skin" else ", or say skin = 0 for a window"),
        )
