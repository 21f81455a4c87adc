"""What reports say about a crop beside its counts."""

from __future__ import annotations

from geoagro.values.recipe import Crop
from geoagro.values.report import CropFacts
from geoagro.values.rules.crop_notes import notes_of


def facts_of(code: str, crop: Crop) -> CropFacts:
    """Take the facts from a crop of the recipe; its name is the code in words where it has none.

    >>> facts_of("sweet_potato", Crop()).name
    'sweet potato'
    """
    return CropFacts(
        name=crop.name or code.replace("_", " "),
        scientific=crop.scientific,
        habit=crop.habit,
        stratum=crop.stratum,
        canopy_width_m=crop.canopy_width_m,
        caution=crop.caution,
        notes=notes_of(crop),
        full_size_weeks=crop.full_size_weeks,
        pruned_width_m=crop.pruned_width_m,
    )
