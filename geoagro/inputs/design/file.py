"""Read a design file (YAML 1.2, or TOML) into a Design; every mistake is told at once, with its line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from geoagro.errors import DesignError
from geoagro.inputs.design.changes import changed
from geoagro.inputs.design.errors import explain
from geoagro.inputs.design.lines import Lines
from geoagro.inputs.files import find_file
from geoagro.inputs.vector.text_tree import load
from geoagro.values.design import Design
from geoagro.values.recipe import Crop, Planting, Recipe
from geoagro.values.rules.turns import in_turns

M = TypeVar("M", bound=BaseModel)


def read_design(path: Path, *, changes: Mapping[str, str] | None = None) -> Design:
    """Read and check a design file and the recipe files that it names.

    Crops and plantings of recipes come before the design's own; a value of a crop that the design gives too is
    the design's.

    Parameters
    ----------
    path
        A `.yaml`/`.yml` or `.toml` file. Relative paths inside it count from the folder it lies in.
    changes
        Values by key, as text, in place of those in the file: `{"rows.spacing_m": "5"}`.

    Raises
    ------
    InputError
        If a file is missing or can't be read.
    DesignError
        One line per mistake: `design.yaml:9: rows.spacing_m: must be above 0 (got 0). ...`. For TOML without
        the line numbers, since the reader of the standard library doesn't tell them.

    >>> from pathlib import Path
    >>> from geoagro import read_design
    >>> read_design(Path("no-such-farm/design.yaml"))
    Traceback (most recent call last):
    geoagro.errors.InputError: no-such-farm/design.yaml isn't there. `geoagro new FOLDER` writes one to start from.
    """
    path = Path(path)
    design = read_alone(path, changes=changes)
    recipes = [
        read_recipe(find_file(r, folder=path.parent, key=f"recipes[{n}]")) for n, r in enumerate(design.recipes, 1)
    ]
    return in_turns(_with_zones(_joined(design, recipes)))


def read_alone(path: Path, *, changes: Mapping[str, str] | None = None) -> Design:
    """Read a design as its own file has it, without what its recipe files add. Errors as in `read_design`."""
    path = Path(path)
    data, lines = _sections(path, "a design file holds sections such as `inputs:` and `rows:`")
    if "folder" in data:  # a field of the record, but set here and by nobody else
        raise DesignError(f"{path.name}{lines.at(('folder',))}: folder: unknown key; take it out.")
    if changes:
        data = changed(data, changes)
    return _checked(Design, data | {"folder": path.parent}, path, lines)


def read_recipe(path: Path) -> Recipe:
    """Read and check a recipe file: crops and plantings that several designs share. Errors as in `read_design`."""
    data, lines = _sections(path, "a recipe file holds `name:`, `crops:` and `plantings:`")
    return _checked(Recipe, data, path, lines).in_its_turn()


def _sections(path: Path, holds: str) -> tuple[dict[str, Any], Lines]:
    data, lines = load(path)
    if not isinstance(data, dict):
        raise DesignError(f"{path.name}: {holds}; found none.")
    return data, lines


def _checked(model: type[M], data: dict[str, Any], path: Path, lines: Lines) -> M:
    try:
        return model.model_validate(data)
    except ValidationError as error:
        raise DesignError(explain(error, file=path.name, lines=lines, root=model)) from error


def _joined(design: Design, recipes: Sequence[Recipe]) -> Design:
    if not recipes:
        return design
    crops: dict[str, Crop] = {}
    for given in (*(recipe.crops for recipe in recipes), design.crops):
        for code, crop in given.items():
            known = crops[code].model_dump(exclude_unset=True, exclude_none=True) if code in crops else {}
            crops[code] = Crop.model_validate(known | crop.model_dump(exclude_unset=True, exclude_none=True))
    plantings = (*(p for recipe in recipes for p in recipe.plantings), *design.plantings)
    return design.model_copy(update={"crops": crops, "plantings": plantings})


def _with_zones(design: Design) -> Design:
    """Add the plantings of zones to the design's own, each with the name of its zone."""
    if not design.zones:
        return design
    found: list[Planting] = []
    crops: list[Recipe] = []
    for number, zone in enumerate(design.zones, 1):
        own = zone.plantings
        if zone.recipe is not None:
            recipe = read_recipe(find_file(zone.recipe, folder=design.folder, key=f"zones[{number}].recipe"))
            crops.append(recipe.model_copy(update={"plantings": ()}))
            own = (*recipe.plantings, *own)
        found += [planting.model_copy(update={"zone": zone.name}) for planting in own]
    joined = _joined(design, crops)
    return joined.model_copy(update={"plantings": (*joined.plantings, *found)})
