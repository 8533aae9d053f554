"""The travel ledger adds up to the rail, and its findings say what is missing."""

import math

import pytest

from sparwright.answers import Verdict
from sparwright.job.models import KeyFault
from sparwright.loop.ledger import ledgers

FULL = {
    "cross.rail_from": 20,
    "cross.rail_length": 960,
    "cross.ends": [11.3, 7.1],
    "cross.stops": [12, 9.7],
    "cross.switch": 16.4,
    "cross.overhang": [15, 5],
    "cross.outside": [10, 40],
    "cross.footprint": 1030,
    "cross.wanted": 840,
}


def test_every_millimetre_is_accounted_for(machine_of):
    machine = machine_of("moving bridge", FULL)
    ledger = ledgers(machine)[0]
    assert math.fsum(mm for _, mm in ledger.entries) == pytest.approx(960, abs=1e-9)
    assert ledger.travel == pytest.approx(960 - 100 - 11.3 - 7.1 - 12 - 9.7 - 16.4 + 15 + 5)
    assert dict(ledger.entries)["hanging over, start"] == -15
    # It is the very travel the machine is computed over.
    axis = machine.axis("X")
    assert axis.high - axis.low == pytest.approx(ledger.travel)
    assert axis.zero + axis.low == pytest.approx(11.3 + 12 + 16.4 + 50 - 15)
    # The carriage hangs further over at the start than anything stands out there.
    assert ledger.stands == pytest.approx(960 + 15 + 40)


def test_findings_against_the_travel_wanted_and_the_room(machine_of):
    travel, room = ledgers(machine_of("moving bridge", FULL))[0].findings("m")
    assert (travel.verdict, room.verdict) == (Verdict.NO_GO, Verdict.GO)
    assert travel.margin == pytest.approx(823.5 - 840)
    assert "16.5 mm of travel are missing: lengthen the rail, or save on the carriage." in travel.why
    assert room.margin == pytest.approx(15)
    tight = ledgers(machine_of("moving bridge", FULL | {"cross.footprint": 1000, "cross.wanted": 800}))[0]
    travel, room = tight.findings("m")
    assert (travel.verdict, room.verdict) == (Verdict.GO, Verdict.NO_GO)
    assert "Shorten the rail or what stands out by 15 mm, or find it more room." in room.why


def test_a_travel_just_wanted_is_enough(machine_of):
    ledger = ledgers(machine_of("moving bridge", {"cross.wanted": 900}))[0]
    assert ledger.findings("m")[0].verdict is Verdict.GO


def test_the_switch_counts_at_its_own_end(machine_of):
    axis = machine_of("moving bridge", {"cross.switch": 20, "cross.switch_at": "end"}).axis("X")
    assert (axis.zero + axis.low, axis.zero + axis.high) == (50, 1000 - 50 - 20)


def test_no_travel_left_is_refused(machine_of):
    with pytest.raises(KeyFault, match=r"no travel is left: the rail is 1000 mm long.*take 1100 mm") as fault:
        machine_of("moving bridge", {"cross.stops": [500, 500]})
    assert fault.value.keys == ("cross", "carriage", "width")


def test_a_general_machine_states_its_travel(machine_of):
    axes = [{"name": "X", "direction": [2, 0, 0], "travel": [-100, 150], "wanted": 260}]
    ledger = ledgers(machine_of("general", {"axis": axes}))[0]
    assert ledger.travel == 250
    (found,) = ledger.findings("m")
    assert (found.verdict, found.margin) == (Verdict.NO_GO, -10)
