"""The page: which way it lies, where the map stands on it, and how large a metre is drawn."""

from __future__ import annotations

import math
from dataclasses import dataclass

_LONG_IN, _SHORT_IN = 420 / 25.4, 297 / 25.4  # A3
_MARGIN_MM, _TITLE_MM, _LEGEND_MM = 10.0, 26.0, 92.0
_ROOM_AROUND = 0.02  # of the field's larger side, left free on each side at least
_ROUND = (1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.5, 10.0)  # scales that a ruler or a reckoning head can follow

Bounds = tuple[float, float, float, float]


@dataclass(frozen=True)
class Page:
    """An A3 page with a map; all measures on paper in millimetres.

    Attributes
    ----------
    lying
        Long side across; the legend then stands at the right, else below the map.
    extent
        West, south, east, north of the map, metres in the working CRS.
    mm_per_m
        Millimetres on paper for a metre in the field.
    """

    lying: bool
    extent: Bounds
    mm_per_m: float

    @property
    def size_in(self) -> tuple[float, float]:
        """Width and height in inches."""
        return (_LONG_IN, _SHORT_IN) if self.lying else (_SHORT_IN, _LONG_IN)

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height in millimetres."""
        return self.size_in[0] * 25.4, self.size_in[1] * 25.4

    @property
    def map_rectangle(self) -> tuple[float, float, float, float]:
        """Left, bottom, width, height of the map as shares of the page."""
        width, height = self.size_mm
        left, bottom, map_width, map_height = _map_mm(self.lying)
        return left / width, bottom / height, map_width / width, map_height / height

    @property
    def legend_rectangle(self) -> tuple[float, float, float, float]:
        """Left, bottom, width, height of the legend as shares of the page."""
        width, height = self.size_mm
        if self.lying:
            left = width - _MARGIN_MM - _LEGEND_MM + 4
            return left / width, _MARGIN_MM / height, (_LEGEND_MM - 4) / width, _map_mm(True)[3] / height
        return (
            _MARGIN_MM / width,
            _MARGIN_MM / height,
            (width - 2 * _MARGIN_MM) / width,
            (_LEGEND_MM - 4) / height,
        )

    def points(self, metres: float) -> float:
        """Printer's points (1/72 inch) that a length in the field takes on paper."""
        return metres * self.mm_per_m / 25.4 * 72


def fit_page(bounds: Bounds, *, standing: bool = False) -> Page:
    """Lay the page the way that shows the field larger, at a round scale, and centre the field on the map.

    A page that is bound into a report, whose pages stand, is asked for `standing`: lying it would come out much smaller.

    >>> fit_page((0, 0, 300, 100)).lying, fit_page((0, 0, 100, 300)).lying
    (True, False)
    >>> round(1000 / fit_page((0, 0, 300, 100)).mm_per_m, 6)
    1250.0
    """
    return max(
        (_fit(bounds, lying) for lying in ((False,) if standing else (True, False))),
        key=lambda page: (page.mm_per_m, _largest(bounds, page.lying)),
    )


def round_scale(denominator: float) -> float:
    """Give the next round scale that is no larger on paper: 1:1,029 becomes 1:1,250.

    >>> round_scale(1029), round_scale(860), round_scale(1598), round_scale(1000)
    (1250.0, 1000.0, 2000.0, 1000.0)
    """
    power = 10.0 ** math.floor(math.log10(denominator))
    return next(step * power for step in _ROUND if step * power >= denominator * (1 - 1e-9))


def _fit(bounds: Bounds, lying: bool) -> Page:
    west, south, east, north = bounds
    _, _, map_width, map_height = _map_mm(lying)
    scale = 1000.0 / round_scale(1000.0 / _largest(bounds, lying))
    x, y = (west + east) / 2, (south + north) / 2
    half_x, half_y = map_width / scale / 2, map_height / scale / 2
    return Page(lying, (x - half_x, y - half_y, x + half_x, y + half_y), scale)


def _largest(bounds: Bounds, lying: bool) -> float:
    """Millimetres on paper to a metre, at most."""
    west, south, east, north = bounds
    room = 2 * _ROOM_AROUND * max(east - west, north - south)
    _, _, map_width, map_height = _map_mm(lying)
    return min(map_width / (east - west + room), map_height / (north - south + room))


def _map_mm(lying: bool) -> tuple[float, float, float, float]:
    """Left, bottom, width, height of the map, millimetres."""
    width, height = (_LONG_IN * 25.4, _SHORT_IN * 25.4) if lying else (_SHORT_IN * 25.4, _LONG_IN * 25.4)
    beside, below = (_LEGEND_MM, 0.0) if lying else (0.0, _LEGEND_MM)
    return (
        _MARGIN_MM,
        _MARGIN_MM + below,
        width - 2 * _MARGIN_MM - beside,
        height - 2 * _MARGIN_MM - below - _TITLE_MM,
    )
