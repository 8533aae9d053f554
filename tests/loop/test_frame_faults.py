"""Frames that hang together badly: one plain message each, and mechanisms named by node and direction."""

import math
from dataclasses import replace

import numpy as np
import pytest

from sparwright.loop.elements import Stretch
from sparwright.loop.frame import (
    BeamLink,
    Frame,
    FrameError,
    Hold,
    Mass,
    Node,
    Rigid,
    Spring,
    compliance,
    frame_modes,
    solve,
)
from sparwright.loop.inertia import Inertia
from sparwright.stiffness.model import BeamProperties

P = BeamProperties("section", 3.0, 7e7, 9e10, 4e10, 0.0, 1e10, 1e7, 2e7, (0.0, 0.0), (0.0, 0.0))
I = Inertia(3e-6, (0.0, 0.0), (2e-3, 2e-3, 0.0))  # noqa: E741
A, B = Node("a", (0, 0, 0)), Node("b", (500, 0, 0))
BEAM = BeamLink("bridge", "a", "b", properties=P, inertia=I)
GOOD = Frame((A, B), (BEAM,), held=("a",))


@pytest.mark.parametrize(
    ("frame", "words"),
    [
        (
            replace(GOOD, springs=(Spring("belt", "b", "motor", (1, 1, 1, 1, 1, 1)),)),
            r'spring "belt" leads to node "motor", which is not there; nodes: a, b\. Name one of these, or add the node',
        ),
        (replace(GOOD, held=("foot",)), r'what is held leads to node "foot"'),
        (replace(GOOD, nodes=(A, B, A)), r'"a" names more than one node; give each a name of its own'),
        (replace(GOOD, masses=(Mass("bridge", "b", 1.0),)), r'"bridge" names more than one part'),
        (
            replace(GOOD, nodes=(A, Node("b", (0, 0, 0)))),
            r'beam "bridge" has no length: its nodes lie on one point',
        ),
        (
            replace(GOOD, nodes=(A, Node("b", (0, 0, 0.001)))),
            r'beam "bridge" has no length: its nodes lie on one point; move one of them',
        ),
        (
            replace(GOOD, beams=(replace(BEAM, up=(2, 0, 0)),)),
            r"up \(2, 0, 0\) runs along the beam; give a direction across it",
        ),
        (
            replace(GOOD, nodes=(A, B, Node("c", (200, 5, 0))), beams=(replace(BEAM, between=("c",)),)),
            r'node "c" does not lie on its line between "a" and "b"; put it there, or tie it on with a rigid link',
        ),
        (
            replace(GOOD, beams=(replace(BEAM, properties=None, stretches=(Stretch(0, 400, P, I),)),)),
            r"its stretches are 400 mm long together, its nodes 500 mm apart; make them agree",
        ),
        (
            replace(
                GOOD,
                beams=(
                    replace(
                        BEAM, properties=None, stretches=(Stretch(0, 200, P, I), Stretch(210, 500, P, I))
                    ),
                ),
            ),
            r"one stretch ends at x = 200 mm and the next starts at 210; let them follow one another",
        ),
        (
            replace(GOOD, beams=(replace(BEAM, properties=None),)),
            r"give either its stretches, or the properties of a uniform beam",
        ),
        (
            replace(GOOD, beams=(replace(BEAM, properties=replace(P, GJ=0.0)),)),
            r'beam "bridge": GJ is 0 from x = 0 mm; it must be above 0',
        ),
        (
            replace(GOOD, springs=(Spring("block", "a", "b", (1, math.inf, 1, 1, 1, 1)),)),
            r'spring "block" is infinitely stiff; allowed: 0 and above, finite\. Use a rigid link instead',
        ),
        (
            replace(GOOD, springs=(Spring("block", "a", "b", (1, -2, 1, 1, 1, 1)),)),
            r'spring "block" has a stiffness of -2; allowed: 0 \(free\) and above',
        ),
        (
            replace(GOOD, springs=(Spring("block", "a", "b", tuple(map(tuple, (-np.eye(6)).tolist()))),)),
            r"its 6 x 6 stiffness must be symmetric and give no energy away",
        ),
        (
            replace(GOOD, springs=(Spring("block", "a", None, (1,) * 6, ((1, 0, 0), (0, 1, 0), (0, 1, 1))),)),
            r"its axes are not three unit directions square to each other, right-handed",
        ),
        (replace(GOOD, springs=(Spring("block", "a", "a", (1,) * 6),)), r'ties node "a" to itself'),
        (replace(GOOD, rigids=(Rigid("plate", "b", "b"),)), r'rigid link "plate" ties node "b" to itself'),
        (
            replace(GOOD, masses=(Mass("spindle", "b", -1.0),)),
            r'mass "spindle" is -1 kg; allowed: 0 and above',
        ),
        (
            replace(GOOD, masses=(Mass("spindle", "b", 1.0, inertia=((1, 0, 0), (0, -1, 0), (0, 0, 1))),)),
            r'mass "spindle": its inertia is negative about some axis',
        ),
        (
            replace(GOOD, held=("a", "b", Hold("a"))[:2], beams=()),
            r"every node is held: nothing of the machine can move",
        ),
    ],
)
def test_one_plain_message(frame, words):
    with pytest.raises(FrameError, match=words):
        compliance(frame, "b")


def test_a_load_on_no_node():
    with pytest.raises(FrameError, match=r'there is no node "tip"; nodes: a, b'):
        solve(GOOD, {"tip": (1, 0, 0, 0, 0, 0)})
    with pytest.raises(FrameError, match=r'there is no node "tip"'):
        compliance(GOOD, "b", "tip")


@pytest.mark.parametrize(
    ("frame", "words"),
    [
        (
            replace(GOOD, held=(Hold("a", (True, True, True, True, False, True)),)),
            r'the machine is a mechanism: node "a" is free to turn about y\. Hold that node, tie it to another part',
        ),
        (replace(GOOD, held=(Hold("a", (False, *(True,) * 5)),)), r'node "[ab]" is free to move along x\.'),
        (replace(GOOD, held=()), r'node "[ab]" is free to .*; 5 more motions are free'),
        (
            replace(
                GOOD,
                nodes=(A, B, Node("carriage", (250, 0, 0))),
                springs=(Spring("blocks", "carriage", "b", (0, 500, 500, 1e6, 1e6, 1e6)),),
            ),
            r'node "carriage" is free to move along x\.',
        ),
        (replace(GOOD, nodes=(A, B, Node("lost", (0, 9, 0)))), r'node "lost" is free to .*; 5 more motions'),
        (
            # Two pins on a line at 45 degrees leave one turn about it: no node moves along or about an axis alone.
            Frame(
                (A, Node("b", (300, 300, 0))),
                (BeamLink("bar", "a", "b", properties=P),),
                held=(Hold("a", (True,) * 3 + (False,) * 3), Hold("b", (True,) * 3 + (False,) * 3)),
            ),
            r'node "[ab]" is free to turn about \((0\.71, 0\.71, |-0\.71, -0\.71, )-?0\.00\)',
        ),
    ],
    ids=["hinge", "slide", "afloat", "carriage without drive", "tied to nothing", "oblique"],
)
def test_mechanisms_are_named(frame, words):
    with pytest.raises(FrameError, match=words):
        solve(frame, {"b": (1, 0, 0, 0, 0, 0)})
    with pytest.raises(FrameError, match="the machine is a mechanism"):
        frame_modes(frame, 2)


def test_soft_is_not_loose():
    # A belt a hundred million times softer than the beam is along itself still holds.
    soft = replace(
        GOOD,
        held=(Hold("a", (False, *(True,) * 5)),),
        springs=(Spring("s", "a", None, (1e-2, 0, 0, 0, 0, 0)),),
    )
    assert solve(soft, {"b": (1, 0, 0, 0, 0, 0)}).motions["b"][0] == pytest.approx(100.0, rel=1e-5)
