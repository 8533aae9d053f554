"""The page's state in the units of the job: millimetres, or inches and pounds.

The state is kept in metric units; bands hold what differs in inches beside it, so that older answers too are shown in
other units at once.
"""

from __future__ import annotations

import math
from typing import Any

from sparwright.packet.inches import LEAST_DECIMALS, UNITS, sentence
from sparwright.page.board import State

DIGITS = 5
"""Significant digits of a control's value in inch units: a thousandth of an inch of any length under 100 in."""
_WRITTEN = {"mm": "in", "N": "lbf", "mm/min": "in/min"}
"""Unit of a control: what is written behind a value given in its inch unit, so that the file says what was meant."""


def in_units(state: State, units: str) -> State:
    """The state, or the answer to a try, in the units the job is shown in ("mm" or "inch"). Changes `state`."""
    inch = units == "inch"
    if "bands" in state:
        state["bands"] = [_band(band, inch) for band in state["bands"]]
    if "controls" in state:
        state["controls"] = [_control(c) if inch else c for c in state["controls"]]
        table = {unit: [f, sign, LEAST_DECIMALS.get(sign, 0)] for unit, (f, sign) in UNITS.items()}
        state["units"] = {"shown": units, "table": table if inch else {}}
    return state


def sweep_in_units(result: dict[str, Any], units: str) -> dict[str, Any]:
    """What a sweep found, its sentences in the units the job is shown in; its figures stay metric."""
    if units != "inch":
        return result
    candidates = [
        c
        | {"misses": [sentence(m) for m in c["misses"]], "note": sentence(c["note"])}
        | {"left_out": c["left_out"] and sentence(c["left_out"])}
        for c in result["candidates"]
    ]
    notes = [sentence(n) for n in result["notes"]]
    return result | {"candidates": candidates, "notes": notes, "reason": sentence(result["reason"])}


def _band(band: State, inch: bool) -> State:
    """A band without its inches, or with them in place of the metric words."""
    plain = {key: value for key, value in band.items() if key != "inch"}
    return plain | band["inch"] if inch and band.get("inch") else plain


def _control(control: dict[str, Any]) -> dict[str, Any]:
    """A control whose figures are in the inch unit; `write` is what stands behind a number written into the file, `metric` the value in
    its metric unit."""
    written = _WRITTEN.get(control["unit"])
    if control["kind"] != "number" or written is None:
        return control
    factor, sign = UNITS[control["unit"]]
    step = _round_step(control["step"] * factor)
    value = control["value"]
    low, high = (
        math.ceil(control["low"] * factor / step - 1e-9),
        math.floor(control["high"] * factor / step + 1e-9),
    )
    ends = [float(f"{end * step:.{DIGITS}g}") for end in (low, high)]
    if value is not None:
        value = float(f"{value * factor:.{DIGITS}g}")
        ends = [min(ends[0], value), max(ends[1], value)]
    return control | {
        "unit": sign,
        "write": written,
        "metric": control["value"],
        "step": step,
        "value": value,
        "low": ends[0],
        "high": ends[1],
    }


def _round_step(size: float) -> float:
    """The greatest of 1, 2 and 5 times a power of ten that is no more than `size`."""
    power = math.floor(math.log10(size))
    first = max(n for n in (1, 2, 5) if n <= size / 10.0**power + 1e-9)
    return float(f"{first}e{power}")
