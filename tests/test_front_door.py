"""The public names of the package."""

import ast
import inspect
import logging
import pydoc
import subprocess
import sys
import warnings
from pathlib import Path

import pytest

import geoagro
from geoagro import pipeline
from geoagro.pipeline import rooms
from geoagro.values.base.findings import tell
from geoagro.values.site import Finding

PUBLIC = sorted(geoagro.__all__)


def loaded_by(code: str) -> set[str]:
    """Names of the modules that a fresh interpreter holds after running the code."""
    told = subprocess.run(
        [sys.executable, "-c", f"{code}\nimport sys; print(*sys.modules)"], capture_output=True, text=True, check=True
    )
    return set(told.stdout.split())


@pytest.mark.parametrize("name", PUBLIC)
def test_every_public_name_can_be_had_and_says_what_it_is(name):
    thing = getattr(geoagro, name)
    assert thing.__name__ == name
    assert ">>>" in (inspect.getdoc(thing) or ""), "give it an example; it is run as a test"


def test_completion_shows_public_names_and_nothing_else():
    assert dir(geoagro) == PUBLIC
    assert not {"Any", "TYPE_CHECKING", "import_module"} & {name for name in vars(geoagro) if name[0] != "_"}


def test_help_tells_the_steps_and_no_machinery():
    text = pydoc.plain(pydoc.render_doc(geoagro))
    assert "terrain_of" in text and "write_layout" in text
    listed = {line.strip().split("(")[0] for line in text.splitlines()}
    assert not listed & {"Any", "TYPE_CHECKING", "import_module", "attach_stub"}


def test_a_name_that_isnt_there_is_refused():
    with pytest.raises(AttributeError):
        geoagro.no_such_step  # noqa: B018


def test_steps_of_the_pipeline_are_all_public():
    assert set(pipeline.__all__) <= set(geoagro.__all__)


def test_a_function_keeps_its_name_whichever_module_was_loaded_first():
    assert "geoagro.pipeline.whole_layout" in loaded_by(
        "import geoagro.pipeline.whole_layout, geoagro; assert callable(geoagro.pipeline.layout); assert callable(geoagro.layout)"
    )


def test_help_loads_no_heavy_library():
    told = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "geoagro", "--help"], capture_output=True, text=True, check=True
    )
    assert "layout" in told.stdout
    loaded = {line.rsplit("|", 1)[-1].strip() for line in told.stderr.splitlines() if "|" in line}
    assert not loaded & {"numpy", "geopandas", "shapely", "matplotlib", "scipy"}


def test_laying_rows_waits_for_no_statistics_reports_or_pictures():
    loaded = loaded_by("import geoagro; geoagro.rows_of, geoagro.read_design, geoagro.read_site")
    rooms = ("reports", "season", "stakeout", "plants.placement", "outputs")
    assert not [name for name in loaded if name.startswith(tuple(f"geoagro.{room}" for room in rooms))]
    assert not loaded & {"scipy.stats", "scipy.optimize", "scipy.signal", "matplotlib"}


def test_importing_a_step_waits_for_no_library_of_tables_before_it_needs_one():
    loaded = loaded_by("import geoagro.pipeline.rows")
    assert not loaded & {"pandas.core", "geopandas.geodataframe", "pyarrow", "scipy.spatial", "rasterio", "numba"}
    assert "pandas.core" in loaded_by("from geoagro.values.rows import TREE_ROWS; TREE_ROWS.empty(None)")


def test_doubts_are_warned_of_and_repairs_are_logged(caplog):
    found = [Finding("warning", "a.gpkg", "Parts overlap."), Finding("repair", "b.gpkg", "A ring was closed.")]
    with (
        caplog.at_level(logging.INFO, logger="geoagro"),
        pytest.warns(geoagro.FindingWarning, match=r"a.gpkg: Parts overlap") as caught,
    ):
        tell(found, stacklevel=1)
    assert len(caught) == 1
    assert Path(caught[0].filename) == Path(__file__)
    assert [record.getMessage() for record in caplog.records] == ["repair: b.gpkg: A ring was closed."]


def test_a_field_without_doubts_lays_out_without_a_warning():
    with warnings.catch_warnings():
        warnings.simplefilter("error", geoagro.FindingWarning)
        geoagro.rows_of(*geoagro.example_field())


def test_steps_import_no_solver_compiler_or_raster_library_before_they_are_used():
    loaded = loaded_by("import geoagro.pipeline.rows, geoagro; geoagro.rows_of, geoagro.terrain_of")
    assert "geopandas" in loaded
    heavy = (
        "numba",
        "scipy.ndimage",
        "scipy.sparse",
        "scipy.spatial",
        "scipy.stats",
        "rasterio",
        "pyogrio",
        "matplotlib",
    )
    assert not [name for name in loaded if name in heavy]


def test_checking_a_design_compiles_nothing():
    loaded = loaded_by("import geoagro; geoagro.read_design, geoagro.read_site, geoagro.crops_of, geoagro.terrain_of")
    assert not {"numba", "geoagro.planar.compiled"} & loaded


def test_every_room_function_that_steps_ask_for_is_there():
    promised = {
        alias.name
        for node in ast.walk(ast.parse(Path(rooms.__file__).read_text()))
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("geoagro.")
        for alias in node.names
    }
    assert promised == set(rooms._HOMES)
    for name in promised:
        assert getattr(rooms, name).__module__ == f"geoagro.{rooms._HOMES[name]}"
    with pytest.raises(AttributeError, match="no attribute nothing"):
        rooms.nothing  # noqa: B018


ON_DISK = {
    "AsBuilt",
    "MapData",
    "Survey",
    "built_of",
    "layout",
    "option_of",
    "option_state",
    "portfolio_from_store",
    "read_ground_source",
    "read_site",
    "read_survey",
    "water_of",
    "write_beds",
    "write_map",
    "write_report",
    "write_survey",
}
"""Names that begin with files of a farm; the guide's page for Python shows them at work."""


@pytest.mark.parametrize("name", sorted(set(PUBLIC) - ON_DISK))
def test_help_shows_an_example(name):
    assert ">>> " in (inspect.getdoc(getattr(geoagro, name)) or "")
