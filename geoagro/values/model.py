"""The base of everything that a user writes in a design file: strict, frozen, with lengths in metres."""

from __future__ import annotations

import re
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

_METRES = {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "in": 0.0254, "yd": 0.9144}


def metres(value: Any) -> Any:
    """Read 4.5, "4.5 m", "450 cm" or "15 ft" as metres; leave anything else for the caller to refuse.

    >>> metres("15 ft")
    4.572
    """
    if not isinstance(value, str):
        return value
    match = re.fullmatch(r"\s*([-+]?[0-9.]+(?:e[-+]?\d+)?)\s*([a-z]+)\s*", value.lower())
    if not match or match[2] not in _METRES:
        raise ValueError(f"'{value}' is not a length; write 4.5, '4.5 m', '450 cm' or '15 ft'")
    return round(float(match[1]) * _METRES[match[2]], 9)


Metres = Annotated[float, BeforeValidator(metres), Field(allow_inf_nan=False)]
Length = Annotated[Metres, Field(gt=0)]
Distance = Annotated[Metres, Field(ge=0)]
Share = Annotated[float, Field(ge=0, le=1)]
Percent = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Bearing = Annotated[float, Field(ge=0, lt=360)]


class Model(BaseModel):
    """A frozen record that refuses unknown keys."""

    model_config = ConfigDict(extra="forbid", frozen=True, validate_default=True)
