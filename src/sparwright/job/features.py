"""What is cut into the member: fields of pockets, single pockets, holes, notches, ends; and zones kept clear."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from sparwright.job.quantities import Angle, Count, KeyFault, Length, Place, Table

PocketShape = Literal["triangle", "hexagon", "square", "diamond", "round", "slot"]
Conflict = Literal["drop", "refuse"]


def _refuse_pocket(pocket: PocketField | SinglePocket) -> None:
    """KeyFault where a pocket's depth is said twice or never, or its width does not go with its shape."""
    if pocket.skin is None and pocket.depth is None:
        raise KeyFault("neither skin nor depth is said; add one of the two", "skin")
    if pocket.skin is not None and pocket.depth is not None:
        raise KeyFault("skin and depth are both said; take one of the two out", "depth")
    if pocket.pocket == "slot" and pocket.width is None:
        raise KeyFault("slot pockets need a width; add it", "width")
    if pocket.pocket != "slot" and pocket.width is not None:
        raise KeyFault("width goes with slot pockets only; take it out", "width")


class PocketField(Table):
    """A regular array of pockets on one or more faces."""

    name: str = Field(min_length=1, description="name, used in pocket names and findings")
    faces: tuple[str, ...] = Field(min_length=1, description="faces it is laid out on")
    pocket: PocketShape = Field(description="outline of the pockets")
    cell: Length = Field(
        gt=0,
        le=500,
        description="size of the cell, mm: side of the triangle's cell, across flats of the hexagon's cell, "
        "side of the square's or diamond's cell, pitch of round pockets, length pitch of slots",
    )
    rib: Length = Field(gt=0, le=200, description="metal between neighbouring pockets, mm")
    width: Length | None = Field(default=None, gt=0, description="slots only: width across the member, mm")
    skin: Length | None = Field(
        default=None, ge=0, le=50, description="metal left under the pocket, mm; 0 is a window"
    )
    depth: Length | None = Field(
        default=None, gt=0, le=200, description="depth of the pocket, mm, instead of a skin"
    )
    corner_radius: Length | None = Field(
        default=None,
        gt=0,
        description="inside corner radius, mm; the least the finishing cutter allows if not said",
    )
    end_margin: Length = Field(default=0, ge=0, description="metal kept whole at each end of the member, mm")
    edge_margin: Length = Field(default=0, ge=0, description="metal kept whole at each edge of the face, mm")
    edge_break: Length = Field(
        default=0, ge=0, le=5, description="width of the edge break on the pockets' rims, mm"
    )
    stagger: bool = Field(default=True, description="hexagon and round: rows staggered by half a pitch")
    rows: Count | None = Field(
        default=None, ge=1, le=200, description="number of rows; as many as fit if not said"
    )
    on_conflict: Conflict = Field(
        default="drop",
        description="drop pockets that meet a hole, notch, keep-clear zone or web, or refuse the job",
    )

    @model_validator(mode="after")
    def _depth(self) -> PocketField:
        _refuse_pocket(self)
        return self


class SinglePocket(Table):
    """One pocket at a place of its own."""

    name: str = Field(min_length=1, description="name of the pocket")
    face: str = Field(description="face it is cut from")
    pocket: PocketShape = Field(description="outline of the pocket")
    at: Place = Field(description="centre [x, s] on the face, mm")
    size: Length = Field(
        gt=0,
        le=1000,
        description="side of a triangle, square or diamond; across flats; diameter; slot length, mm",
    )
    width: Length | None = Field(default=None, gt=0, description="slots only: width, mm")
    turn: Angle = Field(default=0, description="turn about its centre, degrees, from x toward s")
    skin: Length | None = Field(
        default=None, ge=0, le=50, description="metal left under it, mm; 0 is a window"
    )
    depth: Length | None = Field(default=None, gt=0, le=200, description="depth, mm, instead of a skin")
    corner_radius: Length | None = Field(
        default=None, gt=0, description="inside corner radius, mm; as the cutter allows if not said"
    )
    edge_break: Length = Field(default=0, ge=0, le=5, description="width of the edge break, mm")
    on_conflict: Conflict = Field(
        default="refuse", description="drop it where it meets something, or refuse the job"
    )

    @model_validator(mode="after")
    def _depth(self) -> SinglePocket:
        _refuse_pocket(self)
        return self


class HoleGroup(Table):
    """Holes of one kind at one or more places on a face."""

    name: str = Field(min_length=1, description="name, used in hole names and findings")
    face: str = Field(description="face they are drilled from")
    kind: Literal["drilled", "tapped", "clearance", "counterbored"] = Field(description="kind of hole")
    at: tuple[Place, ...] = Field(min_length=1, description="list of places [x, s] on the face, mm")
    thread: Literal["M2", "M2.5", "M3", "M4", "M5", "M6", "M8", "M10", "M12"] | None = Field(
        default=None, description="thread of tapped, clearance and counterbored holes, coarse series"
    )
    diameter: Length | None = Field(default=None, gt=0, le=200, description="drilled holes: diameter, mm")
    fit: Literal["fine", "medium", "coarse"] = Field(
        default="medium", description="series of clearance holes (ISO 273)"
    )
    depth: Length | None = Field(default=None, gt=0, le=500, description="depth of a blind hole, mm")
    through: Literal["wall", "all"] = Field(
        default="wall", description="through the first wall or through the whole section"
    )
    clear: Length = Field(default=3, ge=0, le=100, description="metal kept whole round the hole's edge, mm")
    edge_break: Length = Field(default=0, ge=0, le=5, description="width of the edge break, mm")

    @model_validator(mode="after")
    def _size(self) -> HoleGroup:
        wanted, other = ("diameter", "thread") if self.kind == "drilled" else ("thread", "diameter")
        if getattr(self, wanted) is None:
            raise KeyFault(f"a {self.kind} hole needs a {wanted}; add it", wanted)
        if getattr(self, other) is not None:
            raise KeyFault(f"a {self.kind} hole takes its {wanted} and no {other}; take it out", other)
        return self


class Notch(Table):
    """A rectangular notch cut through one wall from an end of the member."""

    name: str = Field(min_length=1, description="name of the notch")
    face: str = Field(description="face it is cut from")
    end: Literal["datum", "far"] = Field(description="end of the member it opens to")
    width: Length = Field(gt=0, description="width across the face, mm")
    depth: Length = Field(gt=0, description="how far it reaches in from the end, mm")
    at: Length = Field(default=0, description="centre across the face, s, mm")
    corner_radius: Length | None = Field(
        default=None, gt=0, description="inside corner radius, mm; as the cutter allows if not said"
    )
    edge_break: Length = Field(default=0, ge=0, le=5, description="width of the edge break, mm")


class EndCut(Table):
    """An end sawn off before anything else."""

    end: Literal["datum", "far"] = Field(description="end that is cut")
    remove: Length = Field(gt=0, description="length taken off, measured on the member's axis, mm")


class KeepClear(Table):
    """A rectangle on a face that pockets must stay out of."""

    name: str = Field(min_length=1, description="name of the zone")
    face: str = Field(description="face it lies on")
    x: Place = Field(description="from and to along the member, mm")
    s: Place = Field(description="from and to across the face, mm")

    @model_validator(mode="after")
    def _in_order(self) -> KeepClear:
        for key in ("x", "s"):
            low, high = getattr(self, key)
            if low >= high:
                raise KeyFault("the first of the two must be the smaller one; swap them", key)
        return self
