"""Which CRS is worked in, why, and how well another one joins it, in words."""

from __future__ import annotations

import math

from pyproj import CRS

from geoagro.crs import FORCED, Unfit, WorkingCrs, joining_accuracy_m, name_of
from geoagro.values.words import Sentence, say

_OWN = {
    "the boundary": say("that of the boundary"),
    "the elevation raster": say("that of the elevation raster"),
    "the slope raster": say("that of the slope raster"),
    "the contours": say("that of the contours"),
    FORCED: say("set by inputs.working_crs"),
}
"""Why a CRS was chosen, by what is in it."""
_FILES = {
    "the boundary": say("the boundary"),
    "the elevation raster": say("the elevation raster"),
    "the slope raster": say("the slope raster"),
    "the contours": say("the contours"),
}


def crs_words(chosen: WorkingCrs) -> Sentence:
    """Say which CRS is worked in, why, and what lengths, areas and north are on its plane."""
    scale = chosen.scale
    middle = (scale.smallest + scale.largest) / 2
    why = tuple(_unfit_words(one) for one in chosen.refused)
    reason = Sentence(_OWN[chosen.whose]) if chosen.whose else Sentence("the UTM zone here, as {why}", why=why)
    return Sentence(
        "{crs} ({reason}); point scale factor {factor:.5f} ({drift:.1f} cm per km), areas {areas:.3f} % against the ellipsoid, "
        "grid north {north:.2f} degrees from true north",
        crs=name_of(chosen.crs), reason=reason, factor=middle, drift=(middle - 1) * 1e5,
        areas=(scale.areal - 1) * 100, north=scale.convergence_deg,
    )  # fmt: skip


def _unfit_words(unfit: Unfit) -> Sentence:
    told = {"what": Sentence(_FILES[unfit.what]), "crs": name_of(unfit.crs)}
    if unfit.unit == "degrees":
        return Sentence("{what} is in {crs}, which is in degrees", **told)
    if unfit.unit:
        return Sentence("{what} is in {crs}, which is in {unit}, not metres", **told, unit=unfit.unit)
    return Sentence("{what} is in {crs}, which is out of scale by {error:.2f} % here", **told, error=unfit.error * 100)


def datum_doubt(source: CRS, target: CRS, *, lon: float, lat: float) -> Sentence | None:
    """Say how well the datums of two CRSs can be joined here, where it is worse than 1 m or unknown; else None."""
    accuracy_m = joining_accuracy_m(source, target, lon=lon, lat=lat)
    told = {"source": name_of(source), "target": name_of(target)}
    if math.isinf(accuracy_m):
        return Sentence("no exact way from {source} to {target} is known here; positions may be off by 100 m", **told)
    if accuracy_m > 1.0:
        return Sentence(
            "from {source} to {target} positions are good to about {accuracy:g} m", **told, accuracy=accuracy_m
        )
    return None
