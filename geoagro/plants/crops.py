"""The crops that a recipe uses: the library's values, changed by the design's own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from typing import Any

from geoagro.errors import DesignError
from geoagro.values.recipe import OWN_VALUE, Crop, Planting


def choose_crops(
    library: Mapping[str, Crop], own: Mapping[str, Crop], plantings: Sequence[Planting]
) -> dict[str, Crop]:
    """Crops named by `plantings` or changed in `own`, complete, in order of code.

    A value given in `own` replaces the library's and takes "design file" as its source. A code that the
    library doesn't hold is taken from the crop named in `like`, or must be given whole.

    Raises DesignError for an unknown code, with the nearest names.
    """
    codes = {code for planting in plantings for code in planting.crops} | set(own)
    return {code: _crop(code, library, own) for code in sorted(codes)}


def _crop(code: str, library: Mapping[str, Crop], own: Mapping[str, Crop]) -> Crop:
    change = own.get(code)
    if change is None:
        return _known(code, library, own, f"crop '{code}'")
    base: dict[str, Any] = {"name": code.replace("_", " ")}
    if change.like is not None:
        base = _known(change.like, library, {}, f"crops.{code}.like: crop '{change.like}'").model_dump()
    elif code in library:
        base = library[code].model_dump()
    changed = change.model_dump(exclude_unset=True)
    sources = dict.fromkeys(changed, OWN_VALUE) | changed.get("sources", {})
    return Crop.model_validate(base | changed | {"sources": base.get("sources", {}) | sources})


def _known(code: str, library: Mapping[str, Crop], own: Mapping[str, Crop], what: str) -> Crop:
    if code in library:
        return library[code]
    near = get_close_matches(code, [*library, *own], n=3, cutoff=0.5)
    hint = f"Did you mean {', '.join(near)}? " if near else ""
    raise DesignError(
        f"{what} is neither in the crop library nor under `crops`. {hint}"
        f"Describe it under crops.{code} (spacing_m, stratum, harvest_weeks, ...) or correct the code."
    )


def need(crop: Crop, code: str, key: str, what_for: str) -> Any:
    """Return a crop's value; raise DesignError where it was never given."""
    value = getattr(crop, key)
    if value is None:
        raise DesignError(f"crops.{code}.{key} is missing; {what_for} needs it. Give it in the design file.")
    return value
