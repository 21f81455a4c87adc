"""Very large files and numbers: worked with from their window, or refused in words with the figure, and quickly."""

import resource
import time

import numpy as np
import pytest
import rasterio
import shapely
from affine import Affine
from input_files import EAST, NORTH, UTM, design, write_raster, write_vector
from rasterio.windows import Window
from shapely import Polygon, box
from test_odd_designs import failed

from geoagro.errors import InputError
from geoagro.inputs.raster.ground_source import read_ground_source
from geoagro.inputs.site import read_site
from geoagro.inputs.vector.tangles import _edges, crossings_of

RUNS = """name: invented
inputs: {{boundary: {{file: field.gpkg}}, elevation: {{file: dem.tif, unit: m}}}}
rows: {{method: straight, spacing_m: {spacing}}}
{more}"""


def sparse(path, size: int, *, cell=1.0, window=None):
    """A tiled raster of size x size cells of which only a window is written; its file stays small."""
    place = Affine(cell, 0, EAST - size * cell / 2, 0, -cell, NORTH + size * cell / 2)
    with rasterio.open(
        path, "w", driver="GTiff", dtype="float32", count=1, width=size, height=size, crs=UTM, transform=place, nodata=-9999,
        tiled=True, blockxsize=512, blockysize=512, compress="deflate", SPARSE_OK="TRUE", BIGTIFF="YES",
    ) as file:  # fmt: skip
        if window is not None:
            row, column, side = window
            y, x = np.mgrid[0:side, 0:side]
            file.write((300 + 0.05 * y + np.sin(x / 50)).astype("float32"), 1, window=Window(column, row, side, side))


def test_a_field_of_10_ha_is_read_from_its_window_of_10_thousand_million_cells(tmp_path):
    sparse(tmp_path / "dem.tif", 100_000, window=(49_650, 49_900, 640))
    write_vector(tmp_path / "field.gpkg", [box(EAST, NORTH - 50, EAST + 320, NORTH + 265)])
    asked = design(tmp_path, boundary={"file": "field.gpkg"}, elevation={"file": "dem.tif"})
    before, start = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, time.process_time()
    source = read_ground_source(asked, read_site(asked))
    assert time.process_time() - start < 5
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 200_000  # kB
    assert np.isfinite(source.heights.values).all()
    assert source.heights.values.shape == (439, 444)


def test_a_field_of_40_km_is_refused_with_the_figure_and_the_key(tmp_path, monkeypatch):
    sparse(tmp_path / "dem.tif", 60_000)
    write_vector(tmp_path / "field.gpkg", [box(EAST - 20_000, NORTH - 20_000, EAST + 20_000, NORTH + 20_000)])
    (tmp_path / "design.yaml").write_text(RUNS.format(spacing=4.5, more=""))
    monkeypatch.chdir(tmp_path)
    start = time.process_time()
    for command in ("check", "rows", "layout"):
        failure = failed((command, "design.yaml"))
        assert failure.kind == "design"
        assert "rows.spacing_m" in failure.words()
        assert "160,000.0 ha" in failure.words()
    assert time.process_time() - start < 10


def test_more_cells_than_can_be_read_are_refused_with_their_number(tmp_path):
    sparse(tmp_path / "dem.tif", 60_000, cell=0.05)
    write_vector(tmp_path / "field.gpkg", [box(EAST - 1400, NORTH - 1400, EAST + 1400, NORTH + 1400)])
    asked = design(tmp_path, boundary={"file": "field.gpkg"}, elevation={"file": "dem.tif"})
    with pytest.raises(InputError, match=r"holds 3,\d\d\d million cells over the field"):
        read_ground_source(asked, read_site(asked))


@pytest.mark.parametrize(
    ("spacing", "more", "words"),
    [
        (0.2, "", "rows.spacing_m"),
        (4.5, "plantings:\n  - {crop: bean, bed: vegetable, name: p0}\n" + "".join(
            f"  - {{crop: bean, bed: vegetable, name: p{k}, after: p{k - 1}}}\n" for k in range(1, 600)), "500"),
        (4.5, "plantings:\n  - {crop: bean, bed: vegetable, lines: 30, spacing_m: 0.02}\n", "million plants"),
    ],
)  # fmt: skip
def test_numbers_that_no_field_bears_are_refused_by_check_and_layout_alike(tmp_path, monkeypatch, spacing, more, words):
    write_vector(tmp_path / "field.gpkg", [box(EAST, NORTH, EAST + 500, NORTH + 400)])
    y, _ = np.mgrid[0:140, 0:160] * 5.0
    write_raster(tmp_path / "dem.tif", 200 + 0.05 * y, west=EAST - 150, north=NORTH + 550, cell=5.0)
    (tmp_path / "design.yaml").write_text(RUNS.format(spacing=spacing, more=more))
    monkeypatch.chdir(tmp_path)
    start = time.process_time()
    told = [failed((command, "design.yaml")) for command in ("check", "layout")]
    assert [one.kind for one in told] == ["design", "design"]
    assert told[0].words() == told[1].words()
    assert words in told[0].words()
    assert time.process_time() - start < 10


def test_check_takes_time_in_step_with_the_corners_of_a_jittery_outline(tmp_path, monkeypatch, capsys):
    rng, spent = np.random.default_rng(1), {}
    y, x = np.mgrid[0:180, 0:180] * 2.0
    write_raster(tmp_path / "dem.tif", 200 - 0.06 * y + 2 * np.sin(x / 40), west=EAST - 180, north=NORTH + 180)
    (tmp_path / "design.yaml").write_text(RUNS.format(spacing=4.5, more=""))
    monkeypatch.chdir(tmp_path)
    assert failed(("check", "design.yaml")) is not None  # what is loaded once is loaded now
    for count in (3000, 30_000):
        angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
        reach = 90 + 10 * np.sin(3 * angle) + rng.normal(0, 0.3, count)
        (tmp_path / "field.gpkg").unlink(missing_ok=True)
        write_vector(
            tmp_path / "field.gpkg", [Polygon(np.c_[EAST + reach * np.cos(angle), NORTH + reach * np.sin(angle)])]
        )
        start = time.process_time()
        assert failed(("check", "design.yaml")) is None
        spent[count] = time.process_time() - start
    assert spent[30_000] < 14 * spent[3000] + 1.0


def tangled(count: int, noise: float) -> Polygon:
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    ring = np.c_[EAST + 90 * np.cos(angle), NORTH + 90 * np.sin(angle)]
    return Polygon(ring + np.random.default_rng(2).normal(0, noise, ring.shape))


@pytest.mark.parametrize("role", ["boundary", "exclusion", "water"])
def test_an_outline_tangled_beyond_repair_is_refused_with_its_number_before_the_repair(tmp_path, role):
    write_vector(tmp_path / "field.gpkg", [box(EAST - 100, NORTH - 100, EAST + 100, NORTH + 100)])
    sparse(tmp_path / "dem.tif", 400, cell=1.0)
    write_vector(
        tmp_path / "tangle.gpkg",
        [shapely.LineString(tangled(40_000, 3.0).exterior.coords) if role == "water" else tangled(40_000, 3.0)],
    )
    drawn = {
        "boundary": {"boundary": {"file": "tangle.gpkg"}},
        "exclusion": {"exclusions": [{"file": "tangle.gpkg", "name": "pond"}]},
        "water": {"water_bodies": [{"file": "tangle.gpkg", "name": "brook"}]},
    }[role]
    asked = design(tmp_path, **{"boundary": {"file": "field.gpkg"}, "elevation": {"file": "dem.tif"}} | drawn)
    start = time.process_time()
    with pytest.raises(InputError, match=r"tangle\.gpkg.*crosses itself about [\d,]{7,} times.*thin its corners"):
        read_site(asked)
    assert time.process_time() - start < 5


def test_the_number_of_crossings_from_a_sample_is_near_the_true_one():
    shapes = np.array([tangled(6000, 0.5), tangled(300, 5.0)], dtype=object)
    tree = shapely.STRtree(_edges(shapes))
    true = len(tree.query(_edges(shapes), predicate="crosses")[0]) / 2
    assert true > 1000
    assert crossings_of(shapes) == pytest.approx(true, rel=0.15)


def test_a_track_of_very_many_corners_is_widened_in_seconds(tmp_path):
    x = np.linspace(0, 180, 60_000)
    line = np.c_[EAST - 90 + x, NORTH + np.random.default_rng(4).normal(0, 0.2, len(x))]
    write_vector(tmp_path / "field.gpkg", [box(EAST - 100, NORTH - 100, EAST + 100, NORTH + 100)])
    write_vector(tmp_path / "way.gpkg", [shapely.LineString(line)])
    sparse(tmp_path / "dem.tif", 400, cell=1.0)
    ways = [{"file": "way.gpkg", "name": "way", "width_m": 4.0}]
    asked = design(tmp_path, boundary={"file": "field.gpkg"}, elevation={"file": "dem.tif"}, tracks=ways)
    start = time.process_time()
    area = read_site(asked).exclusions[0].area
    assert time.process_time() - start < 5
    assert area.contains(shapely.box(EAST - 89, NORTH - 1.9, EAST + 89, NORTH + 1.9))
    assert area.area == pytest.approx(184 * 5.4, rel=0.06)
