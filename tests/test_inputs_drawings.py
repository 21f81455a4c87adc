"""Exclusions, tracks, guides, outlet and contour lines."""

import numpy as np
import pandas as pd
import pytest
from input_files import EAST, FIELD, NORTH, UTM, design, write_vector
from shapely import LineString, MultiLineString, Point, Polygon, box

from geoagro.crs import WGS84, to_lonlat, transform_geometries
from geoagro.errors import InputError
from geoagro.inputs.raster.ground_source import read_ground_source
from geoagro.inputs.site import read_site


def texts(findings, level=None):
    return [f.text for f in findings if level in (None, f.level)]


def site_with(tmp_path, **inputs):
    return read_site(design(tmp_path, **inputs))


def test_points_and_lines_keep_their_buffer_free(tmp_path):
    write_vector(
        tmp_path / "wells.geojson", transform_geometries(np.array([Point(EAST + 50, NORTH + 40)]), UTM, WGS84), WGS84
    )
    write_vector(tmp_path / "pipe.gpkg", [LineString([(EAST, NORTH + 20), (EAST + 100, NORTH + 20)])])
    site = site_with(
        tmp_path,
        exclusions=[
            {"file": "wells.geojson", "name": "well", "buffer_m": 5},
            {"file": "pipe.gpkg", "name": "pipe", "buffer_m": "150 cm"},
        ],
    )
    well, pipe = site.exclusions
    assert (well.name, well.kind, well.buffer_m) == ("well", "exclusion", 5.0)
    assert well.area.area == pytest.approx(np.pi * 25, rel=0.002)
    assert well.area.covers(Point(EAST + 50, NORTH + 40).buffer(4.9))
    assert pipe.area.intersection(FIELD).area == pytest.approx(300, abs=0.5)


def test_polygons_are_kept_free_as_drawn_or_with_their_buffer(tmp_path):
    write_vector(tmp_path / "pond.gpkg", [box(EAST + 10, NORTH + 10, EAST + 20, NORTH + 20)])
    plain, wide = (
        site_with(tmp_path, exclusions=[{"file": "pond.gpkg", "buffer_m": buffer}]).exclusions[0].area
        for buffer in (0, 2)
    )
    assert plain.area == pytest.approx(100)
    assert wide.area == pytest.approx(100 + 80 + np.pi * 4, rel=0.002)


def test_points_of_a_csv_list_are_places_not_corners(tmp_path):
    lon, lat = to_lonlat([EAST + 20, EAST + 60], [NORTH + 20, NORTH + 60], UTM)
    pd.DataFrame({"lat": lat, "lon": lon, "what": ["well", "mast"]}).to_csv(tmp_path / "p.csv", index=False)
    site = site_with(tmp_path, exclusions=[{"file": "p.csv", "crs": "EPSG:4326", "buffer_m": 1}])
    assert len(site.exclusions[0].area.geoms) == 2


def test_lines_and_points_without_a_buffer_are_refused(tmp_path):
    write_vector(tmp_path / "p.gpkg", [Point(EAST + 50, NORTH + 40)])
    with pytest.raises(
        InputError, match=r"inputs.exclusions\[1\] \(p.gpkg\): lines and points cover no ground .*buffer_m"
    ):
        site_with(tmp_path, exclusions=[{"file": "p.gpkg"}])


def test_an_exclusion_outside_the_field_is_left_out_with_a_warning(tmp_path):
    write_vector(tmp_path / "p.gpkg", [Point(EAST + 500, NORTH + 40)])
    site = site_with(tmp_path, exclusions=[{"file": "p.gpkg", "name": "far", "buffer_m": 3}])
    assert site.exclusions == ()
    assert "'far' lies outside the field and keeps nothing free" in texts(site.findings, "warning")


def test_a_track_is_a_line_with_its_width_or_a_polygon(tmp_path):
    write_vector(tmp_path / "t.gpkg", [LineString([(EAST - 10, NORTH + 40), (EAST + 110, NORTH + 40)])], layer="line")
    write_vector(tmp_path / "t.gpkg", [box(EAST, NORTH, EAST + 100, NORTH + 6)], layer="road")
    site = site_with(
        tmp_path, tracks=[{"file": "t.gpkg", "layer": "line", "width_m": 4}, {"file": "t.gpkg", "layer": "road"}]
    )
    line, road = site.exclusions
    assert line.kind == road.kind == "track"
    assert line.area.intersection(FIELD).area == pytest.approx(400)
    assert (line.buffer_m, road.buffer_m) == (2.0, 0.0)
    assert road.area.area == pytest.approx(600)
    write_vector(tmp_path / "p.gpkg", [Point(EAST, NORTH)])
    with pytest.raises(InputError, match=r"inputs.tracks\[1\] \(p.gpkg\): a track is a line or a polygon"):
        site_with(tmp_path, tracks=[{"file": "p.gpkg"}])


def test_guides_are_joined_flat_lines_in_the_order_of_the_file(tmp_path):
    pieces = MultiLineString(
        [[(EAST, NORTH, 1), (EAST + 50, NORTH, 2)], [(EAST + 50, NORTH, 2), (EAST + 90, NORTH + 9, 3)]]
    )
    other = LineString([(EAST, NORTH + 50), (EAST + 90, NORTH + 50)])
    write_vector(tmp_path / "g.gpkg", [pieces, other])
    site = site_with(tmp_path, guides=[{"file": "g.gpkg"}], rows={"method": "guide"})
    assert [line.geom_type for line in site.guides] == ["LineString", "LineString"]
    assert not site.guides[0].has_z
    assert site.guides[0].length == pytest.approx(50 + np.hypot(40, 9))
    assert site.guides[1].equals(other)
    write_vector(tmp_path / "p.gpkg", [Point(EAST, NORTH)])
    with pytest.raises(InputError, match=r"inputs.guides\[1\] \(p.gpkg\): a guide is a line"):
        site_with(tmp_path, guides=[{"file": "p.gpkg"}])


def test_the_outlet_is_a_point_or_a_line(tmp_path):
    write_vector(tmp_path / "o.gpkg", [Point(EAST, NORTH)])
    rows = {"fall_toward": "outlet", "target_grade_pct": 1, "outlet": {"file": "o.gpkg"}}
    site = site_with(tmp_path, rows=rows)
    assert site.outlet.equals(Point(EAST, NORTH))
    assert [s.path for s in site.sources if s.role == "rows.outlet"] == ["o.gpkg"]
    assert site_with(tmp_path).outlet is None


# ------------------------------------------------------------------ contour lines


def contours(tmp_path, heights=(200, 205, 210), *, keys=None, crs=UTM, lines=None, **columns):
    lines = lines or [
        LineString([(EAST - 40, NORTH + 20 * i), (EAST + 140, NORTH + 20 * i)]) for i in range(len(heights))
    ]
    if crs is not UTM:
        lines = transform_geometries(np.array(lines), UTM, crs)
    write_vector(tmp_path / "c.gpkg", lines, crs, **(columns or {"ELEV": list(heights)}))
    wanted = design(tmp_path, contours={"file": "c.gpkg", **(keys or {})})
    return read_ground_source(wanted, read_site(wanted))


@pytest.mark.parametrize("name", ["ELEV", "elevation", "Cota", "HOEHE", "contour"])
def test_the_field_of_heights_is_known_by_its_usual_names(tmp_path, name):
    source = contours(tmp_path, **{"id": [7, 8, 9], name: [200, 205, 210]})
    assert source.contours["elevation_m"].tolist() == [200, 205, 210]
    assert f"field '{name}'" in source.description


def test_the_field_of_heights_may_be_named_and_in_feet(tmp_path):
    source = contours(tmp_path, keys={"height_field": "v", "unit": "ft"}, v=["100", "110", "120"])
    assert source.contours["elevation_m"].to_numpy() == pytest.approx([30.48, 33.528, 36.576])


def test_heights_may_stand_in_the_lines_themselves(tmp_path):
    lines = [LineString([(EAST, NORTH + 9 * i, 200 + i), (EAST + 90, NORTH + 9 * i, 200 + i)]) for i in range(3)]
    source = contours(tmp_path, lines=lines, note=["a", "b", "c"])
    assert source.contours["elevation_m"].tolist() == [200, 201, 202]
    assert not source.contours.geometry.has_z.any()
    lines[1] = LineString([(EAST, NORTH, 200), (EAST + 90, NORTH, 230)])
    with pytest.raises(InputError, match="1 of 3 lines change their z along the way"):
        contours(tmp_path, lines=lines, note=["a", "b", "c"])


def test_contours_in_degrees_come_into_the_working_crs(tmp_path):
    frame = contours(tmp_path, crs=WGS84).contours
    assert frame.crs.to_epsg() == 32633
    assert frame.geometry.iloc[0].distance(LineString([(EAST - 40, NORTH), (EAST + 140, NORTH)])) < 0.01


def test_only_lines_near_the_field_are_kept_and_unknown_heights_told(tmp_path):
    lines = [LineString([(EAST, NORTH + y), (EAST + 90, NORTH + y)]) for y in (0, 40, 80, 2000)]
    source = contours(tmp_path, lines=lines, elev=[200.0, None, 210.0, 400.0])
    assert source.contours["elevation_m"].tolist() == [200, 210]
    assert "1 line without a height left out" in texts(source.findings, "repair")


@pytest.mark.parametrize(
    ("columns", "keys", "message"),
    [
        (
            {"a": [1, 2, 3], "b": [1, 2, 3]},
            {},
            "which field holds the height. Set inputs.contours.height_field to one of: a, b",
        ),
        ({"a": [1, 2, 3]}, {"height_field": "elev"}, "has no field 'elev'. Set .* to one of: a"),
        ({"elev": [5, 5, 5]}, {}, r"only one level \(5 m\) near the field"),
        ({"elev": [1e5, 2e5, 3e5]}, {}, "aren't land"),
    ],
)
def test_contours_that_tell_no_ground(tmp_path, columns, keys, message):
    with pytest.raises(InputError, match=r"inputs.contours \(c.gpkg\): .*" + message):
        contours(tmp_path, keys=keys, **columns)


def test_contours_elsewhere_or_polygons_and_points(tmp_path):
    far = [LineString([(EAST + 9000, NORTH + y), (EAST + 9090, NORTH + y)]) for y in (0, 9)]
    with pytest.raises(
        InputError, match=r"no contour with a height near the field. The lines cover x 509000 to 509090"
    ):
        contours(tmp_path, lines=far, elev=[1, 2])
    with pytest.raises(InputError, match=r"contour lines are needed, but it holds 2 Point"):
        contours(tmp_path, lines=[Point(EAST, NORTH), Point(EAST, NORTH + 9)], elev=[1, 2])
    rings = [Polygon(FIELD.buffer(-10 * i).exterior) for i in (1, 2)]
    outlines = contours(tmp_path, lines=rings, elev=[1, 2]).contours
    assert set(outlines.geom_type) == {"LineString"}
