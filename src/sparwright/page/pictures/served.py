"""The machine served with the link that gives most, and what every link gives."""

from __future__ import annotations

from functools import partial

from sparwright.loop.serve import ServedResult
from sparwright.packet.figures import Display
from sparwright.packet.machine_picture import machine_picture
from sparwright.page.pictures import PictureData
from sparwright.plan.model import Plan

LEAST = 0.005
"""Share of the tool's give below which a link is not listed."""

NARROW = (96.0, 84.0)
"""Width and height, mm of paper, of the drawing for a narrow screen, on which its words keep their size."""


def build(plan: Plan) -> PictureData:
    """meta: svg, and narrow for a narrow screen, None where the job names no machine; links, [name, share] that give most first; words."""
    served = plan.stiff.served
    if served is None:
        return PictureData(
            {
                "svg": None,
                "narrow": None,
                "links": [],
                "words": "The job names no machine that the member serves.",
            }
        )
    state = served.after
    shares = state.shares[state.direction]
    links = [[name, share] for name, share in shares.items() if share >= LEAST]
    words, narrow = partial(_words, served), machine_picture(served, *NARROW)
    return PictureData({"svg": machine_picture(served), "narrow": narrow, "links": links, "words": words})


def _words(served: ServedResult, show: Display) -> str:
    state = served.after
    shares = state.shares[state.direction]
    return (
        f"{served.name} under {show.number(served.force_N, 'N')} at the tool gives {show.size(state.tip_mm, 3)} in {state.direction}; "
        f"{state.weakest} gives most, {100 * shares[state.weakest]:.0f} % of it. "
        f"Dashed, far too large: how it swings at {state.first_Hz:.1f} Hz, its first frequency."
    )
