"""Over 150 odd designs and calls: each refused in one line, in its own class, or worked with; none ends in a traceback."""

import shutil

import pytest
from input_files import EAST, NORTH, slope_north, write_raster, write_vector
from odd_designs import ODD_DESIGNS
from shapely import box

from geoagro.cli.failures import Failure, failure_of
from geoagro.cli.main import group


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    folder = tmp_path_factory.mktemp("sound")
    write_vector(folder / "field.gpkg", [box(EAST, NORTH, EAST + 40, NORTH + 36)])
    write_raster(folder / "dem.tif", slope_north(shape=(80, 90)), units="m")
    return folder


def failed(arguments) -> Failure | None:
    try:
        group(args=list(arguments), prog_name="geoagro", standalone_mode=False)
    except BaseException as error:
        return failure_of(error, arguments=arguments)
    return None


@pytest.mark.parametrize("odd", ODD_DESIGNS, ids=lambda odd: odd.name[:60])
def test_an_odd_design_is_refused_in_its_class_or_worked_with(odd, sound, tmp_path, monkeypatch, capsys):
    for name in ("field.gpkg", "dem.tif"):
        shutil.copy(sound / name, tmp_path / name)
    for name in ("design.yaml", "design.toml", "design.txt"):
        (tmp_path / name).write_bytes(odd.design())
    before = sorted(path.name for path in tmp_path.iterdir())
    monkeypatch.chdir(tmp_path)
    failure = failed(odd.command)
    if odd.kind == "fine":
        assert failure is None, failure.words()
        return
    assert failure is not None
    assert failure.kind == odd.kind, failure.words()
    assert odd.says in failure.words()
    for problem in failure.problems:
        assert "\n" not in problem.text
        assert len(problem.text) < 1000
        assert problem.cause
        assert problem.remedy
    assert sorted(path.name for path in tmp_path.iterdir()) == before  # a refusal writes nothing


def test_there_are_enough_of_them():
    assert len({odd.name for odd in ODD_DESIGNS}) == len(ODD_DESIGNS) >= 150
