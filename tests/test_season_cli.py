"""The two commands on a small written layout."""

import dataclasses

import pytest
from click.testing import CliRunner
from outputs_builders import small_layout

from geoagro.cli.season import command as season
from geoagro.errors import DesignError, InputError
from geoagro.inputs.design.file import read_design
from geoagro.outputs.layout.files import write_layout

DESIGN = """
name: NAME
inputs:
  boundary: { file: a.gpkg }
  elevation: { file: b.tif }
crops:
  eucalypt: { like: eucalyptus }
plantings:
  - { crop: banana, bed: tree }
  - { crop: cassava, bed: tree }
  - { crop: eucalypt, bed: tree }
start_date: 2027-03-01
season:
  years: 2
  currency: EUR
  wage_per_hour: 3
  simulation: { runs: 100 }
  crops:
    cassava: { price: [0.2, 0.3, 0.4] }
output: { folder: NAME }
"""


def written(folder, name, size_m=20.0):
    path = folder / f"{name}.yaml"
    path.write_text(DESIGN.replace("NAME", name))
    write_layout(dataclasses.replace(small_layout(size_m), design=read_design(path)), folder / name)
    return path


@pytest.fixture(scope="module")
def two(tmp_path_factory):
    """Two designs with their layouts."""
    folder = tmp_path_factory.mktemp("designs")
    return written(folder, "first"), written(folder, "second", size_m=30.0)


def run(command, *arguments):
    return CliRunner().invoke(command, [str(a) for a in arguments], catch_exceptions=False)


def test_the_season_lands_beside_the_layout_and_the_account_tells_what_matters(two):
    done = run(season, two[0])
    assert done.exit_code == 0
    folder = two[0].parent / "first"
    for name in ("season.pdf", "season.xlsx", "season.ics", "season.gpkg"):
        assert (folder / name).stat().st_size > 1000
        assert str(folder / name) in done.stdout
    assert (folder / "layout.gpkg").exists()
    assert "planting points" in done.stdout
    assert "No price for banana, eucalypt" in " ".join(done.stdout.split())
    assert "season: levelling the work" in done.stderr
    assert "season: levelling" not in done.stdout


def test_a_design_changed_after_its_layout_is_refused(two):
    path = two[0].with_name("changed.yaml")
    path.write_text(two[1].read_text().replace("crop: banana, bed: tree", "crop: banana, bed: tree, spacing_m: 2"))
    with pytest.raises(DesignError, match="plantings changed since the layout"):
        run(season, path)
    assert not (path.parent / "second" / "season.gpkg").exists()


def test_without_a_layout_it_says_what_to_run_first(tmp_path):
    path = tmp_path / "first.yaml"
    path.write_text(DESIGN.replace("NAME", "first"))
    with pytest.raises(InputError, match="Run `geoagro layout DESIGN` first"):
        run(season, path)
