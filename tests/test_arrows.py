"""The house's one-way arrows (DEVELOPERS.md, "Rooms and arrows")."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "geoagro"
ROOMS = {
    "terrain",
    "ground",
    "rows",
    "beds",
    "places",
    "plants",
    "light",
    "yields",
    "stakeout",
    "season",
    "reports",
    "water",
}
BASE = {"version", "errors", "arrays", "frames", "values", "planar"}
RECORDS = {f"{room}.records" for room in ROOMS}
ALLOWED = {
    "version": set(),
    "errors": {"errors"},
    "arrays": {"arrays"},
    "frames": set(),
    "values": {"errors", "arrays", "frames", "values"},
    "planar": {"errors", "arrays", "planar"},
    "crs": {"errors", "arrays", "crs"},
    **{room: BASE | {room, f"{room}.records"} for room in ROOMS},
    "reports": BASE | {"crs", "reports", "reports.records"},  # areas on the ellipsoid
    "inputs": BASE | {"crs", "inputs"},
    "outputs": BASE | RECORDS | {"crs", "outputs"},
    "pipeline": BASE | ROOMS | RECORDS | {"inputs", "pipeline"},
    "cli": BASE | RECORDS | {"crs", "pipeline", "inputs", "outputs", "cli"},
}


def imported_places(path: Path) -> set[str]:
    names = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module)
    return {_place(name) for name in names if name.startswith("geoagro.")}


def _place(name: str) -> str:
    """Room that a dotted name belongs to; what a room gives to its product is a place of its own."""
    _, room, *rest = name.split(".")
    return f"{room}.records" if rest[:1] == ["records"] else room


@pytest.mark.parametrize("path", sorted(PACKAGE.rglob("*.py")), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_follow_the_arrows(path):
    place = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
    if place in {"__init__", "__main__"}:
        return
    assert imported_places(path) <= ALLOWED[place]


@pytest.mark.parametrize("folder", sorted({path.parent for path in PACKAGE.rglob("*.py")}), ids=lambda p: p.name)
def test_a_room_holds_no_more_than_thirty_modules(folder):
    assert len(list(folder.glob("*.py"))) <= 30
