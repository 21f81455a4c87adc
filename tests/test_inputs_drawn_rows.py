"""Rows drawn by hand, read from files."""

import pytest
from input_files import EAST, NORTH, UTM, design, write_vector
from shapely import LineString, MultiLineString, Point, box

from geoagro.crs import WGS84, transform_geometries
from geoagro.errors import InputError
from geoagro.inputs.site import read_site
from geoagro.values.design import VectorSource


def line(*points):
    return LineString([(EAST + x, NORTH + y) for x, y in points])


ONE, TWO = line((0, 20), (50.123456789, 21)), line((0, 40), (60, 44))


def design_with(folder, file):
    """A design whose `inputs.rows` is a file; `design` takes `rows` for the section of that name."""
    asked = design(folder)
    return asked.model_copy(update={"inputs": asked.inputs.model_copy(update={"rows": VectorSource(file=file)})})


def drawn(folder, geometries, **columns):
    write_vector(folder / "rows.gpkg", geometries, layer="tree_rows", **columns)
    return read_site(design_with(folder, "rows.gpkg"))


def test_rows_come_with_their_numbers_and_names_and_their_coordinates_untouched(tmp_path):
    site = drawn(tmp_path, [ONE, TWO], row=[7, 3], name=["hedge", None])
    assert site.drawn.lines[0].equals_exact(ONE, 0)
    assert site.drawn.numbers == (7, 3)
    assert site.drawn.names == ("hedge", "")
    assert "rows" in {source.role for source in site.sources}


def test_of_lines_with_one_number_the_longest_keeps_it_and_that_is_told(tmp_path):
    site = drawn(tmp_path, [ONE, TWO], row=[7, 7])
    assert site.drawn.numbers == (0, 7)
    assert any("row number 7" in finding.text for finding in site.findings)


def test_numbers_that_are_none_count_as_none(tmp_path):
    site = drawn(tmp_path, [ONE, TWO, line((0, 60), (60, 60))], row=["a", "-2", "1.5"])
    assert site.drawn.numbers == (0, 0, 0)


def test_parts_that_meet_are_one_row_and_others_several(tmp_path):
    meeting = MultiLineString([line((0, 0), (10, 0)), line((10, 0), (20, 1))])
    apart = MultiLineString([line((0, 30), (10, 30)), line((20, 30), (50, 30))])
    site = drawn(tmp_path, [meeting, apart], row=[1, 2])
    assert [round(one.length) for one in site.drawn.lines] == [20, 10, 30]
    assert site.drawn.numbers == (1, 0, 2)


def test_rows_in_degrees_are_brought_over(tmp_path):
    there = transform_geometries([TWO], UTM, WGS84)
    write_vector(tmp_path / "rows.geojson", there, crs=WGS84)
    (row,) = read_site(design_with(tmp_path, "rows.geojson")).drawn.lines
    assert row.equals_exact(TWO, 1e-3)


@pytest.mark.parametrize("wrong", [Point(EAST, NORTH), box(EAST, NORTH, EAST + 5, NORTH + 5)])
def test_what_is_no_line_is_refused_with_the_way_out(tmp_path, wrong):
    with pytest.raises(InputError, match=r"inputs\.rows .*a row is a line"):
        drawn(tmp_path, [ONE, wrong])
