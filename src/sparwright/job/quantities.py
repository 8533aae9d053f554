"""What every table of a job is made of: quantities with their units, and a table that refuses what it does not know."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from sparwright.units import to_canonical


class KeyFault(ValueError):
    """A table whose keys are each in range but do not go together; `keys` is the path of the one to change."""

    def __init__(self, what: str, *keys: str | int) -> None:
        super().__init__(what)
        self.keys = keys


def _no_truth(value: Any) -> Any:
    """True and false are numbers to Python; in a job they are not."""
    if isinstance(value, bool):
        raise ValueError("a number is wanted, not true or false")
    return value


def _quantity(kind: str) -> BeforeValidator:
    return BeforeValidator(partial(to_canonical, kind=kind))


Length = Annotated[float, _quantity("length"), Field(json_schema_extra={"unit": "mm"})]
Angle = Annotated[float, _quantity("angle"), Field(json_schema_extra={"unit": "degree"})]
Speed = Annotated[float, _quantity("speed"), Field(json_schema_extra={"unit": "mm/min"})]
Acceleration = Annotated[float, _quantity("acceleration"), Field(json_schema_extra={"unit": "mm/s²"})]
SpindleSpeed = Annotated[float, _quantity("spindle speed"), Field(json_schema_extra={"unit": "rpm"})]
Power = Annotated[float, _quantity("power"), Field(json_schema_extra={"unit": "W"})]
Force = Annotated[float, _quantity("force"), Field(json_schema_extra={"unit": "N"})]
Stress = Annotated[float, _quantity("stress"), Field(json_schema_extra={"unit": "MPa"})]
Mass = Annotated[float, _quantity("mass"), Field(json_schema_extra={"unit": "kg"})]
Density = Annotated[float, _quantity("density"), Field(json_schema_extra={"unit": "kg/m³"})]
Stiffness = Annotated[float, _quantity("stiffness"), Field(json_schema_extra={"unit": "N/mm"})]
Frequency = Annotated[float, _quantity("frequency"), Field(json_schema_extra={"unit": "Hz"})]
Ratio = Annotated[float, _quantity("ratio"), Field(json_schema_extra={"unit": "ratio"})]
Place = tuple[Length, Length]
Number = Annotated[float, BeforeValidator(_no_truth)]
Count = Annotated[int, BeforeValidator(_no_truth)]
Size = Annotated[Length, Field(gt=0)]
PositiveSpeed = Annotated[Speed, Field(gt=0)]
PositiveAcceleration = Annotated[Acceleration, Field(gt=0)]


class Table(BaseModel):
    """A table of the job file: frozen, and refusing keys it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


def refuse_twins(tables: Iterable[Any], array: str, key: str) -> None:
    """KeyFault at the second of two tables of one array that have the same value for a key."""
    seen: set[Any] = set()
    for place, table in enumerate(tables):
        value = getattr(table, key)
        if value in seen:
            raise KeyFault(
                f"another {array} has the {key} {value!r} already; give each its own", array, place, key
            )
        seen.add(value)
