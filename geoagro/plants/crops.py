"""The crops that a recipe uses: the library's values, changed by the design's own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from typing import Any

from pydantic import ValidationError

from geoagro.errors import DesignError
from geoagro.values.crop_rules import RULE, completed
from geoagro.values.recipe import OWN_VALUE, Crop, Planting


def choose_crops(
    library: Mapping[str, Crop], own: Mapping[str, Crop], plantings: Sequence[Planting]
) -> dict[str, Crop]:
    """Crops named by `plantings` or changed in `own`, complete, in order of code.

    A value given in `own` replaces the library's and takes "design file" as its source; null is no value. A code that the
    library doesn't hold is taken from the crop named in `like`, or must be given whole.

    Raises DesignError for an unknown code, with the nearest names.
    """
    planted = {code for planting in plantings for code in planting.crops}
    crops = {code: _crop(code, library, own) for code in sorted(planted | set(own))}
    lacking = [told for code in sorted(planted - set(library)) if (told := _lacking(code, crops[code], plantings))]
    if lacking:
        raise DesignError(" ".join(lacking))
    return crops


def _crop(code: str, library: Mapping[str, Crop], own: Mapping[str, Crop]) -> Crop:
    change = own.get(code)
    if change is None:
        return _known(code, library, own, f"crop '{code}'")
    base: dict[str, Any] = {"name": code.replace("_", " "), "sources": {}}
    if change.like is not None:
        base = _as_in(change.like, _known(change.like, library, {}, f"crops.{code}.like: crop '{change.like}'"))
    elif code in library:
        base = library[code].model_dump()
    # what is written down as nothing counts as left out
    changed = {key: value for key, value in change.model_dump(exclude_unset=True).items() if value not in (None, {})}
    sources = dict.fromkeys(changed, OWN_VALUE) | changed.get("sources", {})
    try:
        return completed(Crop.model_validate(base | changed | {"sources": base["sources"] | sources}))
    except ValidationError as error:
        reasons = "; ".join(str(item["ctx"]["error"] if "ctx" in item else item["msg"]) for item in error.errors())
        raise DesignError(f"crops.{code}: {reasons}.") from error


def _as_in(code: str, crop: Crop) -> dict[str, Any]:
    """Values of the crop that another one is like, each said to come from there."""
    sources = {k: s if s.startswith(RULE) else f"as in {code}: {s}" for k, s in crop.sources.items()}
    return crop.model_dump() | {"sources": sources}


_LAYOUT_KEYS = ("stratum", "spacing_m", "harvest_weeks", "full_size_weeks", "canopy_width_m", "height_m")
_SEASON_KEYS = ("habit", "harvest", "material", "yield_kg", "usual_per_m2")


def _lacking(code: str, crop: Crop, plantings: Sequence[Planting]) -> str:
    """Say in one sentence everything that a planted crop of the user's own leaves out; empty if it is whole."""
    own = [planting for planting in plantings if code in planting.crops]
    given = {
        "spacing_m": all(planting.spacing_m is not None or planting.beside is not None for planting in own),
        "harvest_weeks": all(planting.harvest_weeks is not None for planting in own),
    }
    missing = [key for key in _LAYOUT_KEYS if getattr(crop, key) is None and not given.get(key, False)]
    if not missing:
        return ""
    later = [key for key in _SEASON_KEYS if getattr(crop, key) is None]
    also = f" A season plan asks besides for {', '.join(later)}." if later else ""
    return (
        f"crops.{code} is no library crop and leaves out {', '.join(missing)}; give them, or name a library crop that it "
        f"resembles under crops.{code}.like.{also}"
    )


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
