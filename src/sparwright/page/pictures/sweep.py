"""What a sweep of the job may vary, with ranges proposed; what one found comes from `sweeping`."""

from __future__ import annotations

from sparwright.job.models import Job
from sparwright.page.fields import Control, controls
from sparwright.page.pictures import PictureData
from sparwright.page.sweeping import KEYS, MOST
from sparwright.stock.model import Member

VALUES = 5
"""Proposed of every key."""
SPAN = (0.6, 1.6)
"""Proposed range about the value there is, as shares of it."""
MOST_ROWS = 5
MOST_SHARE = 0.8
"""Of the wall, for the thickest skin or the deepest pocket that is proposed."""


def build(job: Job, member: Member) -> PictureData:
    """meta: most, candidates of a sweep; keys, each with its field, key, label, unit, value (None where it is left out), and
    low, high and count as proposed."""
    numbers = [
        c
        for c in controls(job, member.section, ("job",))
        if c.kind == "number" and c.path[0] == "field" and c.path[-1] in KEYS
    ]
    return PictureData({"most": MOST, "keys": [_key(c, _wall(member, c.group)) for c in numbers]})


def _wall(member: Member, field: str) -> float | None:
    """The thinnest wall the field's pockets are in, mm; None where it has no pockets."""
    return min((p.depth + p.skin for p in member.pockets if p.field == field), default=None)


def _key(control: Control, wall: float | None) -> dict[str, object]:
    """A control as something to vary."""
    assert control.low is not None
    assert control.high is not None
    assert control.step is not None
    key, value = control.path[-1], control.value
    if key == "rows":
        low, high = 1.0, float(max(MOST_ROWS, value or 0))
    else:
        low, high = (share * value for share in SPAN)
        if key in ("skin", "depth") and wall is not None:
            high = MOST_SHARE * wall if value == 0 else min(high, MOST_SHARE * wall)
        low, high = max(low, control.low), min(max(high, value), control.high)
    steps = [round(control.step * round(end / control.step), 6) for end in (low, high)]
    return {
        "field": control.group,
        "key": key,
        "label": control.label,
        "unit": control.unit,
        "value": value,
        "low": steps[0],
        "high": max(steps[1], steps[0] + control.step),
        "count": VALUES,
    }
