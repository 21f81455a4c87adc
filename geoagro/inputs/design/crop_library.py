"""The crops and trees that come with the package, each value with its source."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

from ruamel.yaml import YAML

from geoagro.values.recipe import Crop

FILE = "crop_library.yaml"


@cache
def read_crop_library() -> dict[str, Crop]:
    """Crops by code, in the file's order.

    In the file a source is named by a key; here `Crop.sources` carries it in words.
    """
    text = files("geoagro.inputs.design").joinpath(FILE).read_text(encoding="utf-8")
    data = YAML(typ="safe").load(text)
    words = data["sources"]
    return {
        code: Crop.model_validate(entry | {"sources": {key: words[name] for key, name in entry["sources"].items()}})
        for code, entry in data["crops"].items()
    }
