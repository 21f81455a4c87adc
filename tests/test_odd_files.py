"""Odd files in every place where a design names one: refused in one line and class that names the file, or worked with."""

import shutil

import pytest
from input_files import slope_north, write_raster, write_vector
from odd_rasters import RASTERS
from odd_vectors import FIELD, VECTORS
from test_odd_designs import failed

ODD_FILES = [*VECTORS, *RASTERS]


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    folder = tmp_path_factory.mktemp("sound")
    write_vector(folder / "field.gpkg", [FIELD])
    write_raster(folder / "dem.tif", slope_north(shape=(80, 90)), units="m")
    return folder


@pytest.mark.parametrize("odd", ODD_FILES, ids=lambda odd: odd.name[:60])
def test_an_odd_file_is_refused_with_its_name_or_worked_with(odd, sound, tmp_path, monkeypatch, capsys):
    for name in ("field.gpkg", "dem.tif"):
        shutil.copy(sound / name, tmp_path / name)
    odd.make(tmp_path)
    (tmp_path / "design.yaml").write_text(odd.design())
    monkeypatch.chdir(tmp_path)
    before = sorted(path.name for path in tmp_path.iterdir())
    failure = failed(odd.command)
    told = failure.words() if failure else capsys.readouterr().out
    assert (failure.kind if failure else "fine") == odd.kind, told
    for word in odd.says:
        assert word in told, told
    assert sorted(path.name for path in tmp_path.iterdir()) == before
    for problem in failure.problems if failure else ():
        assert len(problem.text) < 1000
        assert problem.file or failure.kind == "ground"
        assert problem.cause
        assert problem.remedy
