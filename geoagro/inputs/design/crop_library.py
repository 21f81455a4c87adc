"""The crops and trees that come with the package, each value with its source."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import cache
from importlib.resources import files
from typing import Any

from ruamel.yaml import YAML

from geoagro.values.crop_rules import completed
from geoagro.values.recipe import Crop

FILES = ("roots", "grains_and_pulses", "vegetables", "fruit", "fruit_trees", "service_trees", "ground_cover")
_ENTRY = re.compile(r"^(?=\w)", re.MULTILINE)


class CropLibrary(Mapping[str, Crop]):
    """Crops by code, in the files' order, complete by rule where the library holds no value of its own.

    Each is read when it is first asked for: a design uses a dozen of them, and reading YAML is slow. In the files a
    source is named by a key; `Crop.sources` carries it in words.
    """

    def __init__(self) -> None:
        self._texts = {code: text for name in FILES for code, text in _entries(name)}
        self._words = dict(_entries("sources"))
        self._read: dict[str, Crop] = {}

    def __getitem__(self, code: str) -> Crop:
        """Read a crop; raises KeyError where the library doesn't hold it."""
        if code not in self._read:
            entry = _load(self._texts[code])[code]
            sources = {key: _load(self._words[name])[name] for key, name in entry["sources"].items()}
            self._read[code] = completed(Crop.model_validate(entry | {"sources": sources}))
        return self._read[code]

    def __iter__(self) -> Iterator[str]:
        """Go through the codes."""
        return iter(self._texts)

    def __len__(self) -> int:
        """Count the crops."""
        return len(self._texts)

    def __contains__(self, code: object) -> bool:
        """Say whether it holds a crop, without reading it."""
        return code in self._texts

    def __or__(self, more: Mapping[str, Crop]) -> dict[str, Crop]:
        """Join with crops that go before those of the library."""
        return dict(self) | dict(more)


@cache
def read_crop_library() -> CropLibrary:
    """Crops by code; each is read from the package's files when it is first asked for.

    >>> from geoagro import read_crop_library
    >>> read_crop_library()["apple"].habit
    'tree'
    """
    return CropLibrary()


def _entries(name: str) -> Iterator[tuple[str, str]]:
    """Split a file into its entries: each begins at the start of a line with its code and a colon."""
    text = files("geoagro.inputs.design").joinpath("library", f"{name}.yaml").read_text(encoding="utf-8")
    for part in _ENTRY.split(text):
        if part[:1].isalnum() or part[:1] == "_":
            yield part.partition(":")[0], part


@cache
def _load(text: str) -> Any:
    return YAML(typ="safe").load(text)
