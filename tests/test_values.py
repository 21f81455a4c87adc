"""Values that hold frames, arrays and geometry: how they print, show themselves and compare."""

import importlib
import inspect
import pkgutil
import re
import sys
from dataclasses import fields, is_dataclass, replace
from typing import Literal, get_origin

import numpy as np
import pytest
from builders import UTM, plane, square_ground, square_site, straight_rows
from pyproj import CRS

import geoagro
from geoagro import (
    beds_of,
    crops_of,
    example_field,
    ground_of,
    lay_out,
    plants_of,
    read_crop_library,
    stakes_of,
    terrain_of,
    tree_rows_of,
)
from geoagro.errors import CrsError
from geoagro.values.base.value import Value

OTHER = CRS.from_epsg(32634)


@pytest.fixture(scope="module")
def laid():
    return lay_out(*example_field(), read_crop_library())


def every_value(value):
    """The value and all values inside it."""
    yield value
    for field in fields(value):
        inner = getattr(value, field.name)
        if isinstance(inner, Value):
            yield from every_value(inner)


def test_a_layout_prints_in_a_few_lines(laid):
    assert len(repr(laid)) < 500
    assert "Example field, 0.16 ha, EPSG:32633" in repr(laid)
    assert "6, 0.32 km, every 5 m" in repr(laid)


def test_everything_in_a_layout_prints_in_a_few_lines(laid):
    for value in every_value(laid):
        assert len(repr(value).splitlines()) <= 6
        assert len(repr(value)) <= 700
    assert len(repr(laid.design).splitlines()) <= 3


def test_a_notebook_shows_a_summary_and_a_map(laid):
    page = laid._repr_html_()
    assert page.count("<svg") == 1
    assert "EPSG:32633" in page
    assert len(page) < 300_000


def test_a_notebook_escapes_names():
    assert "<script>" not in replace(square_site(), name="<script>")._repr_html_()


def test_comparing_values_compares_what_they_hold(laid):
    again = lay_out(*example_field(), read_crop_library())
    assert again == laid
    for mine, other in zip(every_value(laid), every_value(again), strict=True):
        assert mine == other
    moved = replace(laid, rows=replace(laid.rows, frame=laid.rows.frame.assign(length_m=1.0)))
    assert moved != laid
    assert laid != "something else"


def test_grids_with_gaps_and_other_shapes_compare_without_raising():
    slope = plane().slope
    gaps = slope.with_values(np.where(slope.values > 0, np.nan, slope.values))
    assert gaps == gaps.with_values(gaps.values.copy())
    assert gaps != slope
    assert replace(slope, values=slope.values[:5]) != slope
    assert replace(slope, crs=OTHER) != slope


def test_ground_in_another_crs_is_refused_at_the_door_of_the_terrain():
    design, site, source = example_field()
    with pytest.raises(CrsError, match="field in EPSG:32634 can't go with ground in EPSG:32633"):
        terrain_of(design, replace(site, crs=OTHER), source)


def test_terrain_in_another_crs_is_refused_at_the_door_of_the_ground():
    design, site, source = example_field()
    with pytest.raises(CrsError, match="EPSG:32634"):
        ground_of(design, replace(site, crs=OTHER), terrain_of(design, site, source))


def test_ground_in_another_crs_is_refused_at_the_door_of_the_rows():
    ground = square_ground()
    ground = replace(ground, unplanted=ground.unplanted.set_crs(OTHER, allow_override=True))
    with pytest.raises(CrsError, match="EPSG:32634"):
        tree_rows_of(example_field().design, square_site(), plane(), ground)


def test_rows_in_another_crs_are_refused_at_the_door_of_the_beds():
    rows = straight_rows()
    rows = replace(rows, frame=rows.frame.set_crs(OTHER, allow_override=True))
    with pytest.raises(CrsError, match="can't go with rows in EPSG:32634"):
        beds_of(example_field().design, square_ground(), rows)


def test_terrain_in_another_crs_is_refused_at_the_door_of_the_plants(laid):
    design = laid.design
    terrain = replace(laid.terrain, slope=replace(laid.terrain.slope, crs=OTHER))
    with pytest.raises(CrsError, match="Parts of terrain lie in EPSG:32634"):
        plants_of(design, terrain, laid.beds, crops_of(design, read_crop_library()))


def test_terrain_in_another_crs_is_refused_at_the_door_of_the_stakes(laid):
    terrain = replace(laid.terrain, slope=replace(laid.terrain.slope, crs=OTHER))
    with pytest.raises(CrsError, match="can't go with terrain in EPSG:32634"):
        stakes_of(laid.design, laid.site, laid.rows, laid.beds, terrain)
    assert laid.site.crs == UTM


def dataclasses_of_the_package():
    """Every dataclass that a module of the package defines."""
    for _, name, _ in pkgutil.walk_packages(geoagro.__path__, "geoagro."):
        if name.endswith("__main__"):
            continue
        module = importlib.import_module(name)
        yield from (
            thing
            for thing in vars(module).values()
            if inspect.isclass(thing) and is_dataclass(thing) and thing.__module__ == name
        )


PLAIN = {
    *["str", "int", "float", "bool", "bytes", "None", "object", "date", "datetime", "Path", "Literal", "ClassVar"],
    *[
        "tuple",
        "dict",
        "list",
        "set",
        "frozenset",
        "Mapping",
        "Sequence",
        "Iterable",
        "Iterator",
        "Counter",
        "Callable",
        "slice",
        "Look",
        "Artist",
        "Progress",
    ],
    *["complex", "CRS", "Affine", "Point", "LineString", "Polygon", "MultiPolygon", "BaseGeometry"],
}
"""What can be compared without raising, beside other classes of the package."""


def may_hold_an_array(cls, known):
    """Whether a field's annotation names anything that isn't known to compare to one truth value."""
    words = " ".join(re.sub(r"['\"][^'\"]*['\"]", "", str(field.type)) for field in fields(cls))
    return [word for word in re.findall(r"[A-Za-z_][\w.]*", words) if word not in PLAIN | known]


def test_comparing_any_two_values_of_the_package_never_raises():
    every = list(dataclasses_of_the_package())
    assert len(every) > 200
    own = {
        name
        for module in list(sys.modules)
        if module.startswith("geoagro.")
        for name, thing in vars(sys.modules[module]).items()
        if (inspect.isclass(thing) and thing.__module__.startswith("geoagro.")) or get_origin(thing) in {Literal, tuple}
    }
    raising = {
        cls.__name__: may_hold_an_array(cls, own) for cls in every if cls.__eq__ not in (object.__eq__, Value.__eq__)
    }
    assert {name: words for name, words in raising.items() if words} == {}


def test_two_values_with_arrays_compare_without_raising():
    for cls in dataclasses_of_the_package():
        one, other = object.__new__(cls), object.__new__(cls)
        arrays = may_hold_an_array(cls, set())
        for value in (one, other):
            for field in fields(cls):
                holds = np.array([1.0, np.nan]) if arrays else 1
                object.__setattr__(value, field.name, holds)
        if cls.__eq__ in (object.__eq__, Value.__eq__):
            assert (one == other) in (True, False), cls


def test_every_public_value_that_holds_layers_prints_in_a_few_lines():
    wordy = [
        name
        for name in geoagro.__all__
        if is_dataclass(thing := getattr(geoagro, name))
        and not issubclass(thing, Value)
        and may_hold_an_array(thing, set())
    ]
    assert {name for name in wordy if len(fields(getattr(geoagro, name))) > 3} == set()
