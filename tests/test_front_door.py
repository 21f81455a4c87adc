"""The public names of the package."""

import subprocess
import sys

import geoagro


def test_every_public_name_can_be_had_and_none_is_missing_from_the_list():
    assert sorted(geoagro.__all__) == sorted(geoagro._HOMES)
    for name in geoagro.__all__:
        assert getattr(geoagro, name).__name__ == name


def test_help_loads_no_heavy_library():
    told = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "geoagro", "--help"], capture_output=True, text=True, check=True
    )
    assert "layout" in told.stdout
    loaded = {line.rsplit("|", 1)[-1].strip() for line in told.stderr.splitlines() if "|" in line}
    assert not loaded & {"numpy", "geopandas", "shapely", "matplotlib", "scipy"}
