"""The member's stiffness, intact and reworked, side by side."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from sparwright.answers import BadInput
from sparwright.stiffness.along import Part, member_along
from sparwright.stiffness.bay import failures, retried, stretch_properties
from sparwright.stiffness.model import BeamProperties, kept, least_of
from sparwright.stiffness.pattern import BayError, Pattern, check_features, field_patterns, stretches
from sparwright.stiffness.racking import Racking, racking
from sparwright.stiffness.section import SectionFigures, section_with_figures, wall_scale
from sparwright.stiffness.wall import wall_pattern, wall_stretch
from sparwright.stock.model import FieldBay, Member

METHODS = ("bay", "wall")
# Order of the solid elements for a hole's or a single pocket's short stretch, where the wall model hands over.
SHORT_ORDER = 2

Bays = tuple[FieldBay, ...]


@dataclass(frozen=True)
class StiffnessResult:
    """What the rework leaves of the member's stiffness.

    method: the one asked for; each set of constants names the one it came from. intact: the plain section. reworked:
    the section with its pocket fields, the least of each stiffness where there are several. kept: reworked over
    intact, keys mass, EA, EIy, EIz, GJ, GAy, GAz. windows, kept_windows: the same pattern with the skins taken out
    too; None where no field has a skin, or where it could not be computed, which `notes` then says. figures: of the
    plain section. parts: the member piecewise along x, holes, single pockets, notches and plain ends included.
    racking: distortion modes of the section weakest in twist, None where it could not be computed.
    The bay of a member without pockets equals its section within 0.3 %, so the ratios need no correction.
    """

    method: str
    intact: BeamProperties
    reworked: BeamProperties
    kept: dict[str, float]
    windows: BeamProperties | None
    kept_windows: dict[str, float] | None
    figures: SectionFigures
    parts: tuple[Part, ...]
    racking: Racking | None = None
    notes: tuple[str, ...] = ()

    @property
    def spread(self) -> dict[str, float]:
        """Relative half-width of each reworked stiffness by the method's own error estimate."""
        return self.reworked.spread

    @property
    def end_to_end(self) -> dict[str, float]:
        """What the whole member keeps of EA, EIy, EIz and GJ from end to end: the parts in series, evenly loaded."""
        length = self.parts[-1].end
        return {
            key: length
            / sum(p.length * getattr(self.intact, key) / getattr(p.properties, key) for p in self.parts)
            for key in ("EA", "EIy", "EIz", "GJ")
        }

    def as_dict(self) -> dict[str, Any]:
        """The result with the stable keys of the command line's JSON."""
        return {
            "method": self.method,
            "intact": _as_dict(self.intact),
            "reworked": _as_dict(self.reworked),
            "kept": dict(self.kept),
            "spread": dict(self.spread),
            "windows": None if self.windows is None else _as_dict(self.windows),
            "kept_windows": None if self.kept_windows is None else dict(self.kept_windows),
            "kept_end_to_end": self.end_to_end,
            "parts": [
                {"from_mm": p.start, "to_mm": p.end, "kind": p.kind, "features": list(p.names)}
                | _as_dict(p.properties)
                for p in self.parts
            ],
            "racking_Hz": None if self.racking is None else float(self.racking.frequencies[0]),
            "notes": list(self.notes),
        }


def member_stiffness(member: Member, method: str = "bay") -> StiffnessResult:
    """Stiffness of the member, intact and reworked; the result can be pickled.

    method: "bay", one period of the fields in solid finite elements; "wall", the fast model, which hands over to
    the bay where it must not be believed. Either way the short stretches at holes and single pockets, and the
    comparison with windows, are the wall model's wherever it may be believed.
    Raises BadInput for another method, BayError where fields share no period or no mesh could be made.
    """
    if method not in METHODS:
        raise BadInput(f'no stiffness method "{method}"; choose {" or ".join(METHODS)}')
    intact, figures = section_with_figures(member.section, member.material)
    models = _Models(member)
    fields = models.bay if method == "bay" else models.wall_or_bay
    found = {_key(bays): fields(bays, windows=False) for bays in stretches(member.bays)}
    reworked = least_of(tuple(found.values())) if found else intact

    def again(bays: Bays) -> BeamProperties:
        if _key(bays) not in found:
            found[_key(bays)] = fields(bays, windows=False)
        return found[_key(bays)]

    parts = member_along(member, intact, models.short, again)
    windows = _windows(member, models)
    weakest = min(stretches(member.bays), key=lambda b: found[_key(b)].GJ, default=())
    return StiffnessResult(
        method=method,
        intact=intact,
        reworked=reworked,
        kept=kept(reworked, intact),
        windows=windows,
        kept_windows=None if windows is None else kept(windows, intact),
        figures=figures,
        parts=parts,
        racking=_racking(member, weakest, models.notes),
        notes=tuple(dict.fromkeys(models.notes)),
    )


@dataclass
class _Models:
    """The two models of one member, and what is to be said of their use."""

    member: Member
    notes: list[str] = field(default_factory=list)

    def bay(self, bays: Bays, *, windows: bool) -> BeamProperties:
        return stretch_properties(self.member.section, self.member.material, bays, windows=windows)

    def wall_or_bay(self, bays: Bays, *, windows: bool) -> BeamProperties:
        try:
            return wall_stretch(self.member.section, self.member.material, bays, windows=windows)
        except BayError as fault:
            reason = str(fault).removesuffix(" Use the bay instead")
            self.notes.append(f"{_named(bays)}: the bay answers, because {reason}")
            return self.bay(bays, windows=windows)

    def short(self, pattern: Pattern) -> BeamProperties:
        check_features(pattern)
        try:
            return wall_pattern(self.member.section, self.member.material, pattern)
        except BayError:
            through = any(c.depth > wall_scale(self.member.section.shape) for c in pattern.cuts)
            return retried(
                self.member.section,
                self.member.material,
                pattern,
                "a stretch with holes or a single pocket",
                order=SHORT_ORDER,
                open_through=through,
            )


def _windows(member: Member, models: _Models) -> BeamProperties | None:
    """The comparison with windows, which the answer can do without: a failure becomes a note."""
    if not any(bay.skin > 0 for bay in member.bays):
        return None
    try:
        return least_of(tuple(models.wall_or_bay(b, windows=True) for b in stretches(member.bays)))
    except BayError as fault:
        models.notes.append(f"the comparison with windows is left out: {fault}")
        return None


def _racking(member: Member, bays: Bays, notes: list[str]) -> Racking | None:
    """Distortion of the section under its weakest fields, which the answer can do without."""
    try:
        pattern = field_patterns(member.section, bays, windows=False)[0][0] if bays else None
        return racking(member.section, member.material, pattern)
    except failures() as fault:
        notes.append(f"racking of the section is left out: {fault}")
        return None


def _key(bays: Bays) -> tuple[int, ...]:
    return tuple(id(b) for b in bays)


def _named(bays: Bays) -> str:
    return ", ".join(f"{b.field} on {b.face}" for b in bays)


def _as_dict(p: BeamProperties) -> dict[str, Any]:
    """Constants with their units in the keys."""
    return {
        "mass_kg_per_m": p.mass_kg_per_m,
        "EA_N": p.EA,
        "EIy_N_mm2": p.EIy,
        "EIz_N_mm2": p.EIz,
        "EIyz_N_mm2": p.EIyz,
        "GJ_N_mm2": p.GJ,
        "GAy_N": p.GAy,
        "GAz_N": p.GAz,
        "centroid_mm": list(p.centroid),
        "shear_centre_mm": list(p.shear_centre),
    }
