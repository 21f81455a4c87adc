"""Numbers on the command line that must be finite and within a range."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    _OfFloat = click.ParamType[float]
else:
    _OfFloat = click.ParamType  # takes no type in square brackets before click 8.4


class Finite(_OfFloat):
    """A finite number: above or at least a lower end, at most an upper one. `nan` and `inf` are refused in words."""

    name = "number"

    def __init__(self, *, above: float | None = None, least: float | None = None, most: float) -> None:
        self.above, self.least, self.most = above, least, most

    def convert(self, value: str | float, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Read a number, or say what would be right."""
        try:
            number = float(value)
        except ValueError:
            self.fail(f"'{value}' is not a number; give one {self._range()}", param, ctx)
        low = (self.above is None or number > self.above) and (self.least is None or number >= self.least)
        if not (math.isfinite(number) and low and number <= self.most):
            self.fail(f"'{value}' must be {self._range()}", param, ctx)
        return number

    def _range(self) -> str:
        low = f"above {self.above:g}" if self.above is not None else f"at least {self.least:g}"
        return f"{low} and at most {self.most:g}"
