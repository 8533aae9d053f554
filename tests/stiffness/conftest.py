"""Sections, materials and pocket fields for the stiffness tests."""

from pathlib import Path

import pytest
from pydantic import TypeAdapter

from sparwright.job.models import AnySection, Material, PocketField
from sparwright.stock.model import FieldBay, Member
from sparwright.stock.pockets import field_size, lay_out, pocket_form
from sparwright.stock.section import make_section, section_from_polygon

LENGTH = 1200.0


def metal(poisson=0.33, modulus=69500.0):
    return Material(
        name="test metal",
        modulus=modulus,
        poisson=poisson,
        density=2700,
        proof_strength=160,
        tensile_strength=205,
        cutting_force=750,
        cutting_exponent=0.23,
        source="made up for the tests",
    )


def section(shape="rectangular tube", **measures):
    spec = TypeAdapter(AnySection).validate_python({"shape": shape, **measures})
    return make_section(spec, Path("."))


def field_on(a_section, face, wall, radius=0.0, **spec):
    """The regular part of a field laid out by the house's own layout; radius 0 keeps corners sharp."""
    field = PocketField(name=f"{spec['pocket']}s", faces=(face,), **spec)
    layout = lay_out(field, a_section.face(face).width, LENGTH)
    forms = {
        half: pocket_form(field.pocket, field_size(field), field.width, 180.0 * half, radius)
        for half in (False, True)
    }

    def placed(sharp):
        from shapely.affinity import translate

        return tuple(
            translate(forms[s.half_turned].sharp if sharp else forms[s.half_turned].outline, *s.at)
            for s in layout.period_sites
        )

    return FieldBay(
        field=field.name,
        face=face,
        pitch=layout.pitch,
        rows=layout.rows,
        outlines=placed(False),
        sharp_outlines=placed(True),
        depth=wall - field.skin,
        skin=field.skin,
        span=layout.span,
    )


def member(a_section, bays=(), material=None):
    return Member("test member", a_section, LENGTH, material or metal(), bays=tuple(bays))


@pytest.fixture(scope="session")
def kit():
    """The helpers above, and section_from_polygon, as one namespace."""
    from types import SimpleNamespace

    return SimpleNamespace(
        metal=metal,
        section=section,
        drawn=lambda shape: section_from_polygon(shape, "drawn", 0.01),
        field_on=field_on,
        member=member,
    )
