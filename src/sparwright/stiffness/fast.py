"""Constants of a reworked member in a fraction of a second, by the cheapest model that can be believed for it."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

from sparwright.job.models import Material
from sparwright.stiffness.bay import bay_properties
from sparwright.stiffness.model import BeamProperties
from sparwright.stiffness.pattern import BayError
from sparwright.stiffness.section import section_properties
from sparwright.stiffness.wall import wall_properties
from sparwright.stock.model import Member, Section

# A stiffness model: constants of the reworked member, and a sentence on why it was not the first choice ("" if it was).
Model = Callable[[Member], tuple[BeamProperties, str]]
STAND_IN_ORDER = 2  # of the bay's elements where it stands in for the wall model: half the time, error stated


def fast_model(member: Member) -> tuple[BeamProperties, str]:
    """The wall model, or the bay where the wall model says it must not be believed. Raises BayError where both fail."""
    try:
        return wall_properties(member), ""
    except BayError as reason:
        return bay_properties(member, order=STAND_IN_ORDER), str(reason)


def bay_model(member: Member) -> tuple[BeamProperties, str]:
    """The bay as the plan's question 1 has it, to confirm a choice."""
    return bay_properties(member), ""


@lru_cache(maxsize=8)
def intact_properties(section: Section, material: Material) -> BeamProperties:
    """The plain section's constants, kept for the next candidate."""
    return section_properties(section, material)
