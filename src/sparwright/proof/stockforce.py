"""How hard the stock is to cut, by the material the job states."""

from __future__ import annotations

from dataclasses import dataclass

from sparwright.proof.case import Case


@dataclass(frozen=True)
class StockForce:
    """Specific cutting force kc1.1, N/mm2, upper end of its spread, and its exponent (after Kienzle)."""

    kc11: float
    exponent: float


SHEET = StockForce(90.0, 0.25)
"""Wood-based sheet of the pads, its upper end: common practice, no source."""


def stock_force(case: Case) -> StockForce:
    """The force of the stock the case's programs cut."""
    if case.scene.side == "pads":
        return SHEET
    material = case.job.material
    return StockForce(material.cutting_force * (1 + material.cutting_spread), material.cutting_exponent)
