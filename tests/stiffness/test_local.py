"""All local questions together, on the bridge beam of the examples."""

import shutil
import time
from dataclasses import replace
from pathlib import Path

import pytest

from sparwright.answers import BadInput, Verdict
from sparwright.job.reading import load_job
from sparwright.stiffness.local import local_findings
from sparwright.stiffness.local_ends import end_findings
from sparwright.stiffness.model import SectionForces
from sparwright.stock.member import build_member

EXAMPLE = Path(__file__).parents[2] / "examples" / "bridge-beam"
FORCES = tuple(SectionForces(x, Vz=15.0, T=700.0, My=15.0 * min(x, 1180 - x)) for x in (0.0, 590.0, 1180.0))
LOADS = {"clamp_force_N": 800.0, "thrust_N": 40.0, "floor_tolerance": 0.02}


@pytest.fixture(scope="module")
def beam(tmp_path_factory):
    """The example's member; the machine it serves plays no part here."""
    folder = tmp_path_factory.mktemp("beam")
    for file in EXAMPLE.glob("*.toml"):
        shutil.copy(file, folder)
    job = folder / "job.toml"
    text = job.read_text(encoding="utf-8")
    job.write_text(
        "".join(line for line in text.splitlines(True) if not line.startswith("served")), encoding="utf-8"
    )
    return build_member(load_job(job))


@pytest.fixture(scope="module")
def found(beam):
    return {f.name: f for f in local_findings(beam, FORCES, **LOADS, places=(30.0, 1150.0))}


def test_one_finding_for_each_thing(found):
    assert list(found) == [
        "peak stress, isogrid",
        "skin buckling, isogrid",
        "wall buckling",
        "floor left too full, isogrid",
        "thread, head-rail",
        "thread, switch",
        "thread, stop",
        "clamp on the hollow wall",
        "load near pockets, isogrid",
    ]


def test_findings_are_whole(found):
    for f in found.values():
        assert f.unit
        assert f.where
        assert f.why.endswith(".")
        assert f.limit is not None
        more_is_better = f.name.startswith(("skin buckling", "wall buckling", "thread", "load near"))
        assert f.margin == pytest.approx((f.value - f.limit) if more_is_better else (f.limit - f.value))


def test_service_load_is_light(found):
    """15 N on a member of 100 x 50 x 4 is far from everything."""
    assert found["peak stress, isogrid"].value < 3
    assert found["skin buckling, isogrid"].value > 100
    assert found["wall buckling"].value > 100


def test_peak_goes_with_the_load(beam, found):
    tenfold = [
        replace(f, **{k: 10 * getattr(f, k) for k in ("N", "Vy", "Vz", "T", "My", "Mz")}) for f in FORCES
    ]
    more = {f.name: f for f in local_findings(beam, tenfold, **LOADS)}
    name = "peak stress, isogrid"
    assert more[name].value == pytest.approx(10 * found[name].value)
    assert more["skin buckling, isogrid"].value < found["skin buckling, isogrid"].value / 9
    assert "load near pockets, isogrid" not in more


def test_without_forces_strength_is_left_out(beam):
    names = [f.name for f in local_findings(beam, (), **LOADS)]
    assert not any("stress" in n or "buckling" in n for n in names)
    assert "thread, head-rail" in names


def test_loads_near_pockets(beam):
    """The field's pockets start near 60 mm; half the depth of 100 is 50 mm."""
    first = min(p.outline.bounds[0] for p in beam.pockets)
    (near,) = end_findings(beam, (first - 20.0, first - 45.0))
    assert near.value == pytest.approx(20.0)
    assert near.limit == pytest.approx(50.0)
    assert near.where == f"x = {first - 20:.0f} mm"
    assert "where stiffness jumps" in near.why
    (over,) = end_findings(beam, (590.0,))
    assert over.value == 0
    assert "stands over a pocket of isogrid" in over.why
    assert end_findings(beam, (first - 51.0,)) == []
    with pytest.raises(BadInput, match=r"a support at x = 1200 mm is off the member; allowed: 0 to 1180 mm"):
        end_findings(beam, (1200.0,))


def test_fast_enough(beam):
    """A warm process on the example: the patterns are known, under 0.5 s of the processor's own time."""
    start = time.process_time()
    local_findings(beam, FORCES, **LOADS)
    assert time.process_time() - start < 0.5


def test_pattern_that_cannot_be_computed_is_told(kit):
    """Sharp corners have no finite peak; the other findings still come."""
    tube = kit.section(width=80, height=40, wall=4)
    sharp = kit.field_on(tube, "top", 4.0, radius=0.0, pocket="hexagon", cell=26, rib=4, skin=1.0)
    found = local_findings(kit.member(tube, [sharp]), FORCES, **LOADS)
    assert found[0].name == "stress and buckling of patterned walls"
    assert found[0].verdict is Verdict.CAUTION
    assert found[0].why.startswith("Not computed: a pocket with a sharp corner has no finite peak stress")


@pytest.mark.parametrize("key", ["thrust_N", "floor_tolerance"])
def test_bad_measures_are_refused(beam, key):
    with pytest.raises(BadInput, match="both must be above 0"):
        local_findings(beam, (), **(LOADS | {key: 0.0}))
