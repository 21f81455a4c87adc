"""The crops and trees that come with the package, each value with its source."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import Any

from ruamel.yaml import YAML

from geoagro.values.crop_rules import completed
from geoagro.values.recipe import Crop

FILES = ("roots", "grains_and_pulses", "vegetables", "fruit", "fruit_trees", "service_trees", "ground_cover")


@cache
def read_crop_library() -> dict[str, Crop]:
    """Crops by code, in the files' order, complete by rule where the library holds no value of its own.

    In the files a source is named by a key; here `Crop.sources` carries it in words.
    """
    words = {key: str(text) for key, text in _file("sources").items()}
    return {code: completed(_crop(entry, words)) for name in FILES for code, entry in _file(name).items()}


def _crop(entry: dict[str, Any], words: dict[str, str]) -> Crop:
    return Crop.model_validate(entry | {"sources": {key: words[name] for key, name in entry["sources"].items()}})


def _file(name: str) -> dict[str, Any]:
    text = files("geoagro.inputs.design").joinpath("library", f"{name}.yaml").read_text(encoding="utf-8")
    return dict(YAML(typ="safe").load(text))
