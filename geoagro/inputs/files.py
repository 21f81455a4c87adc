"""Find the files that a design names, and take their checksums."""

from __future__ import annotations

import difflib
import hashlib
from collections.abc import Iterable
from pathlib import Path

from geoagro.errors import InputError
from geoagro.values.site import SourceFile

_SHAPEFILE_PARTS = (".shp", ".shx", ".dbf", ".prj", ".cpg", ".qix", ".sbn", ".sbx")


def find_file(file: Path, *, folder: Path, key: str) -> Path:
    """Path of a file that a design names; relative paths count from the design's folder.

    Raises InputError where it is missing, empty or a folder; `key` names the place in the design file.
    """
    path = folder / file.expanduser()
    name = key if key.startswith("recipes") else f"{key}.file"
    if path.is_dir() and path.suffix.lower() != ".gdb":
        raise InputError(f"{name}: {file} is a folder; name the file in it.")
    if not path.exists():
        raise InputError(
            f"{name}: {file} isn't there (looked in {path.parent}){_nearest(path)}. Relative paths count from "
            "the design file's folder."
        )
    if path.is_file() and path.stat().st_size == 0:
        raise InputError(f"{name}: {file} is empty (0 bytes); copy it again.")
    return path


def _nearest(path: Path) -> str:
    if not path.parent.is_dir():
        return ""
    names = [other.name for other in path.parent.iterdir()]
    close = difflib.get_close_matches(path.name, names, n=1)
    return f"; did you mean {close[0]}?" if close else ""


def vector_parts(path: Path) -> list[Path]:
    """All the files that a vector source is made of: every part of a shapefile, else the file itself."""
    if path.is_dir():
        return sorted(part for part in path.iterdir() if part.is_file())
    if path.suffix.lower() != ".shp":
        return [path]
    parts = [p for p in path.parent.iterdir() if p.stem == path.stem and p.suffix.lower() in _SHAPEFILE_PARTS]
    return sorted(parts)


def checksums(role: str, named: Path, found: Path, parts: Iterable[Path]) -> tuple[SourceFile, ...]:
    """SHA-256 of every part, under the path as the design names it (so that results don't tell of machines)."""
    told = []
    for part in parts:
        name = named if part == found else named.with_name(part.name)
        with part.open("rb") as file:
            told.append(SourceFile(role, name.as_posix(), hashlib.file_digest(file, "sha256").hexdigest()))
    return tuple(told)
