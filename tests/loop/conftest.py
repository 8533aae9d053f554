"""Small machines by their files, and members of one section, for tests by hand."""

from __future__ import annotations

import copy
from dataclasses import replace
from typing import Any

import pytest

from sparwright.job.expanding import expand
from sparwright.job.machine_parts import ServedMachine
from sparwright.job.models import Served
from sparwright.loop.elements import Stretch
from sparwright.loop.inertia import Inertia
from sparwright.loop.machine import Loaded
from sparwright.stiffness.model import BeamProperties

STIFF = 1e9  # N/mm, as good as rigid beside what is tested
LENGTH = 1000.0
MASS = 3e-6  # t/mm


def properties(**more: Any) -> BeamProperties:
    given: dict[str, Any] = {
        "method": "section",
        "mass_kg_per_m": MASS * 1e6,
        "EA": 7e7,
        "EIy": 9e10,
        "EIz": 4e10,
        "EIyz": 0.0,
        "GJ": 2e10,
        "GAy": 8e6,
        "GAz": 1.2e7,
        "centroid": (0.0, 0.0),
        "shear_centre": (0.0, 0.0),
    }
    return BeamProperties(**(given | more))


def stretch(p: BeamProperties | None = None, length: float = LENGTH) -> tuple[Stretch, ...]:
    return (
        Stretch(0.0, length, p or properties(), Inertia(MASS, (0.0, 0.0), (MASS * 700, MASS * 700, 0.0))),
    )


STIFF_BLOCKS = {
    "contacts": "blocks",
    "along": [-40, 40],
    "across": [-30, 30],
    "laid": "up",
    "radial": STIFF,
    "axial": STIFF,
    "width": 100,
}
FILES: dict[str, dict[str, Any]] = {
    "moving bridge": {
        "name": "m",
        "kind": "moving bridge",
        "part": "bridge",
        "uprights": {"at": [0, LENGTH], "height": 0},
        "cross": {
            "carriage": STIFF_BLOCKS,
            "drive": {"kind": "fixed", "stiffness": STIFF},
        },
        "long": {
            "rail_length": 800,
            "carriage": STIFF_BLOCKS | {"laid": "level"},
            "drive": {"kind": "fixed", "stiffness": STIFF},
        },
        "tool": {"offset": [0, 0, 0], "mass": 1.0},
        "service": {"force": 30, "directions": ["Z"]},
    },
}
FILES["portal"] = FILES["moving bridge"] | {"kind": "portal", "table": {"height": 0, "mass": 5}}
FILES["cantilever arm"] = FILES["moving bridge"] | {
    "kind": "cantilever arm",
    "part": "arm",
    "uprights": {"at": [0], "height": 0},
    "long": None,
}
FILES["general"] = {
    "name": "m",
    "kind": "general",
    "service": {"force": 30, "directions": ["Z"]},
    "point": [
        {"name": "left", "at": [0, 0, 0]},
        {"name": "right", "at": [LENGTH, 0, 0]},
        {"name": "tool", "at": [LENGTH / 2, 0, 0]},
        {"name": "left ground", "at": [0, 0, 0], "held": True},
        {"name": "right ground", "at": [LENGTH, 0, 0], "held": True},
    ],
    "strut": [{"name": "beam", "between": ["left", "right"], "through": ["tool"], "member": True}],
    "fixing": [
        {"name": "left foot", "between": ["left", "left ground"], "linear": 500, "tilting": 1},
        {"name": "right foot", "between": ["right", "right ground"], "linear": 500, "tilting": 1},
    ],
}


def _put(data: dict[str, Any], path: str, value: Any) -> None:
    *way, last = path.split(".")
    for key in way:
        data = data[int(key)] if isinstance(data, list) else data[key]
    if isinstance(data, list):
        data[int(last)] = value
    else:
        data[last] = value


@pytest.fixture(scope="session")
def file_of():
    """The data of a small machine file of a kind, changed at dotted paths: file_of("portal", {"tool.mass": 2})."""

    def made(kind: str, changes: dict[str, Any] | None = None) -> dict[str, Any]:
        data = copy.deepcopy(FILES[kind])
        for path, value in (changes or {}).items():
            _put(data, path, value)
        return {k: v for k, v in data.items() if v is not None}

    return made


@pytest.fixture(scope="session")
def machine_of(file_of):
    """The machine of such a file, expanded with a member of LENGTH."""

    def made(kind: str, changes: dict[str, Any] | None = None, length: float = LENGTH) -> ServedMachine:
        return expand(Served.model_validate(file_of(kind, changes)), length)

    return made


@pytest.fixture(scope="session")
def loaded_of(machine_of):
    """That machine with a uniform member in it; keyword arguments change the member's constants."""

    def made(kind: str, changes: dict[str, Any] | None = None, **more: Any) -> Loaded:
        parts = stretch(properties(**more))
        return Loaded(machine_of(kind, changes), parts, parts, (0.0, 0.0))

    return made


@pytest.fixture(scope="session")
def member_stretches():
    """Stretches of a uniform member of LENGTH with changed constants; mass in t/mm."""

    def made(mass: float = MASS, **more: Any) -> tuple[Stretch, ...]:
        (one,) = stretch(properties(**more))
        return (replace(one, inertia=one.inertia.scaled(mass)),)

    return made


@pytest.fixture(scope="session")
def bridge_loaded(bridge_job, bridge_member) -> Loaded:
    """The bridge beam's own machine with a uniform member of made-up constants."""
    p = properties(centroid=(25.0, 50.0), shear_centre=(25.0, 50.0))
    (one,) = stretch(p, bridge_member.length)
    return Loaded(bridge_job.served, (one,), (one,), (25.0, 50.0))
