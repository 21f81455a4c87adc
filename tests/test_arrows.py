"""The house's one-way arrows (DEVELOPERS.md, "Rooms and arrows")."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "geoagro"
ROOMS = {"terrain", "ground", "rows", "beds", "plants", "stakeout", "season", "reports"}
BASE = {"errors", "values", "planar"}
ALLOWED = {
    "errors": {"errors"},
    "values": {"errors", "values"},
    "planar": {"errors", "planar"},
    "crs": {"errors", "crs"},
    **{room: BASE | {room} for room in ROOMS},
    "reports": BASE | {"crs", "reports"},  # areas on the ellipsoid
    "inputs": BASE | {"crs", "inputs"},
    "outputs": BASE | {"crs", "outputs"},
    "pipeline": BASE | ROOMS | {"inputs", "pipeline"},
    "cli": BASE | {"crs", "pipeline", "inputs", "outputs", "cli"},
}


def imported_places(path: Path) -> set[str]:
    names = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module)
    return {name.split(".")[1] for name in names if name.startswith("geoagro.")}


@pytest.mark.parametrize("path", sorted(PACKAGE.rglob("*.py")), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_follow_the_arrows(path):
    place = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
    if place in {"__init__", "__main__"}:
        return
    assert imported_places(path) <= ALLOWED[place]
