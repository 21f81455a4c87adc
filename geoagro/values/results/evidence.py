"""What a claim rests on beside the layout: parcels, photos, a list of native kinds, and who surveyed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, ClassVar

from geoagro.frames import gpd
from geoagro.values.base.value import Value
from geoagro.values.layers import Field, LayerSpec

PARCELS_GIVEN = LayerSpec(
    "parcels_given",
    "Parcels as given",
    "MultiPolygon",
    (Field("parcel", "text", "Id of the parcel, from the attribute of the boundary that report.parcels names."),),
)

PHOTOS = LayerSpec(
    "account_photos",
    "Photos",
    "Point",
    (
        Field("photo", "text", "Number or name of the photo."),
        Field("date", "text", "Day, where known."),
        Field("bearing_deg", "float", "Direction that the camera looks, clockwise from north; empty where unknown.", "deg"),
        Field("x", "float", "Easting in the working CRS; empty where nobody measured it.", "m"),
        Field("y", "float", "Northing in the working CRS; empty where nobody measured it.", "m"),
        Field("lon", "float", "Longitude, WGS 84.", "deg"),
        Field("lat", "float", "Latitude, WGS 84.", "deg"),
        Field("shows", "text", "What it shows, or the plant or stake it was noted at."),
        Field("source", "text", "Photo table, or the survey that noted it."),
    ),
    placed=False,
)  # fmt: skip


@dataclass(frozen=True, eq=False, repr=False)
class Evidence(Value):
    """What a claim rests on beside the layout.

    Attributes
    ----------
    parcels
        Layer PARCELS_GIVEN in the working CRS, one feature per id; None where the design names no attribute.
    photos
        Layer PHOTOS.
    native
        Scientific names (genus and species, small letters) of the user's list; None where there is no list.
    """

    LAYERS: ClassVar[Mapping[str, LayerSpec]] = {"photos": PHOTOS}

    parcels: gpd.GeoDataFrame | None = None
    photos: Any = field(default_factory=lambda: PHOTOS.empty(None))
    native: frozenset[str] | None = None


def binomial(name: str) -> str:
    """Genus and species of a scientific name in small letters, without author, variety or hybrid sign; "" if it is none.

    >>> binomial("Alnus glutinosa (L.) Gaertn."), binomial("Musa x paradisiaca"), binomial("oak")
    ('alnus glutinosa', 'musa paradisiaca', '')
    """
    words = [word for word in name.replace("×", " ").split() if word.lower() != "x"]
    if len(words) < 2 or not words[0][:1].isupper() or not words[1].replace("-", "").isalpha():
        return ""
    return f"{words[0]} {words[1]}".lower()
