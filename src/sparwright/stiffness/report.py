"""The member's stiffness, intact and reworked, side by side."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sparwright.answers import BadInput
from sparwright.stiffness.bay import bay_properties
from sparwright.stiffness.model import BeamProperties, kept
from sparwright.stiffness.pattern import BayError
from sparwright.stiffness.section import SectionFigures, section_with_figures
from sparwright.stock.model import Member


@dataclass(frozen=True)
class StiffnessResult:
    """What the rework leaves of the member's stiffness.

    intact: the plain section. reworked: the section with its pocket fields. kept: reworked over intact, keys mass,
    EA, EIy, EIz, GJ, GAy, GAz. windows, kept_windows: the same pattern with the skins taken out too; None where no
    field has a skin, or where it could not be computed, which `notes` then says. figures: of the plain section.
    The bay of a member without pockets equals its section within 0.3 %, so the ratios need no correction.
    """

    method: str
    intact: BeamProperties
    reworked: BeamProperties
    kept: dict[str, float]
    windows: BeamProperties | None
    kept_windows: dict[str, float] | None
    figures: SectionFigures
    notes: tuple[str, ...] = ()

    @property
    def spread(self) -> dict[str, float]:
        """Relative half-width of each reworked stiffness by the method's own error estimate."""
        return self.reworked.spread

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
            "notes": list(self.notes),
        }


def member_stiffness(member: Member, method: str = "bay") -> StiffnessResult:
    """Stiffness of the member, intact and reworked; the result can be pickled.

    method: "bay", one period of the pattern in solid finite elements.
    Raises BadInput for another method, BayError where the pattern has no period or no mesh could be made.
    """
    if method != "bay":
        raise BadInput(f'no stiffness method "{method}"; the one there is, is "bay"')
    intact, figures = section_with_figures(member.section, member.material)
    reworked = bay_properties(member)
    windows, notes = _windows(member)
    return StiffnessResult(
        method=method,
        intact=intact,
        reworked=reworked,
        kept=kept(reworked, intact),
        windows=windows,
        kept_windows=None if windows is None else kept(windows, intact),
        figures=figures,
        notes=notes,
    )


def _windows(member: Member) -> tuple[BeamProperties | None, tuple[str, ...]]:
    """The comparison with windows, which the answer can do without: a failure becomes a note."""
    if not any(bay.skin > 0 for bay in member.bays):
        return None, ()
    try:
        return bay_properties(member, windows=True), ()
    except BayError as fault:
        return None, (f"the comparison with windows is left out: {fault}",)


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
