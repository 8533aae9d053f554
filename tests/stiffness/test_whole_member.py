"""The bay against whole members: solids between rigid ends, no periodicity, difference of two lengths.

The difference of two lengths takes the ends' restraint out; both sides use the same elements and mesh size.
"""

import importlib.util
import time
from pathlib import Path

import pytest

from sparwright.stiffness.bay import mesh_options, pattern_properties
from sparwright.stiffness.pattern import field_pattern

_spec = importlib.util.spec_from_file_location("whole_member", Path(__file__).with_name("whole.py"))
whole = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(whole)


def two_lengths(member, counts, order):
    """Flexibility gained by the longer member, its extra length, and the bay at the same size and order."""
    pattern = field_pattern(member.section, member.bays, windows=False)
    bay = pattern_properties(member.section, member.material, pattern, order=order)
    options = mesh_options(member.section, pattern, 1.0, False)
    found = []
    for count in counts:
        begun = time.perf_counter()
        long = whole.many_periods(pattern, count)
        flexibility, nodes = whole.end_flexibility(member.section, long, member.material, options, order)
        print(f"{long.period:.0f} mm: {nodes} nodes, {time.perf_counter() - begun:.0f} s")
        found.append(flexibility)
    return found[1] - found[0], (counts[1] - counts[0]) * pattern.period, bay


@pytest.mark.slow
def test_bridge_beam(bridge_member):
    """The bridge beam's tube and fields, 528 and 704 mm between rigid ends: GJ and EA within 2 %."""
    gain, length, bay = two_lengths(bridge_member, (12, 16), order=2)
    print(f"GJ whole {length / gain[whole.TWIST, whole.TWIST]:.4e}, bay {bay.GJ:.4e} N mm²")
    print(f"EA whole {length / gain[whole.ALONG, whole.ALONG]:.4e}, bay {bay.EA:.4e} N")
    assert length / gain[whole.TWIST, whole.TWIST] == pytest.approx(bay.GJ, rel=0.02)
    assert length / gain[whole.ALONG, whole.ALONG] == pytest.approx(bay.EA, rel=0.02)


@pytest.mark.slow
def test_shear_centre_of_a_pattern_on_one_face(kit):
    """A force on the member's middle line twists it: the turn over the turn a torque gives is the shear centre's
    distance, here with round pockets on one face, 200 and 300 mm between rigid ends."""
    tube = kit.section(width=100, height=50, wall=3)
    member = kit.member(tube, [kit.field_on(tube, "top", 3, pocket="round", cell=25, rib=5, rows=3, skin=1)])
    gain, length, bay = two_lengths(member, (8, 12), order=2)
    # A force along +y over the shear centre turns the member from z toward y: against +x.
    below = -gain[whole.TWIST, whole.Y] / gain[whole.TWIST, whole.TWIST]
    print(f"shear centre whole {below:.3f}, bay {25 - bay.shear_centre[1]:.3f} mm below the middle")
    assert below == pytest.approx(25 - bay.shear_centre[1], rel=0.03)
    assert length / gain[whole.TWIST, whole.TWIST] == pytest.approx(bay.GJ, rel=0.03)
