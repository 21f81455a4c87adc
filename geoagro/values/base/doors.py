"""The door of each public step: what comes in must lie in one CRS, and layers must hold the columns they declare."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass
from functools import wraps
from typing import ParamSpec, TypeVar

from pyproj import CRS

from geoagro.frames import gpd
from geoagro.values.base.one_crs import refuse_other_crs
from geoagro.values.base.value import Value

P = ParamSpec("P")
R = TypeVar("R")

_WORDS = {
    "site": "field",
    "source": "ground",
    "ground": "plantable ground",
    "laid": "layout",
    "earlier": "earlier marks",
}


def door(step: Callable[P, R]) -> Callable[P, R]:
    """Have a step look at its arguments before it begins.

    The step then raises CrsError where two of them, or two parts of one, lie in different CRS, and LayoutError where a
    layer lacks columns or holds geometry of another type.
    """
    signature = inspect.signature(step)

    @wraps(step)
    def guarded(*args: P.args, **kwargs: P.kwargs) -> R:
        given = signature.bind(*args, **kwargs).arguments
        refuse_other_crs(
            [(_WORDS.get(n, n.replace("_", " ")), crs) for n, value in given.items() for crs in crs_in(value)]
        )
        for value in given.values():
            check_layers(value)
        return step(*args, **kwargs)

    return guarded


def crs_in(value: object) -> Iterator[CRS]:
    """Give the CRS of a value and of all that it holds; nothing of what has none."""
    if isinstance(value, CRS):
        yield value
    elif isinstance(value, gpd.GeoDataFrame | gpd.GeoSeries):
        if value.crs is not None:
            yield value.crs
    elif is_dataclass(value) and not isinstance(value, type):
        for field in fields(value):
            yield from crs_in(getattr(value, field.name))


def check_layers(value: object) -> None:
    """Raise LayoutError where a layer in a value doesn't hold what the value declares of it."""
    if not is_dataclass(value) or isinstance(value, type):
        return
    declared = value.LAYERS if isinstance(value, Value) else {}
    for field in fields(value):
        inner = getattr(value, field.name)
        if field.name in declared and inner is not None:
            declared[field.name].check(inner)
        elif isinstance(inner, Value):
            check_layers(inner)
