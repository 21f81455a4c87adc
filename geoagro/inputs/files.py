"""Find the files that a design names, and take their checksums."""

from __future__ import annotations

import difflib
import hashlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path

from geoagro.errors import CrsError, GeoagroError, InputError
from geoagro.values.site import SourceFile

_NO_MEMORY = ("bad_alloc", "bad allocation", "cannot allocate", "out of memory")
_ARGUMENTS = ("survey", "SOURCE")
_LARGE_BYTES = 2**24  # writing one takes longer than the clock of its file needs to move on
_SHAPEFILE_PARTS = (".shp", ".shx", ".dbf", ".prj", ".cpg", ".qix", ".sbn", ".sbx")


@contextmanager
def reading(where: str, *, but: tuple[type[Exception], ...] = ()) -> Iterator[None]:
    """Tell whatever a library raises over the content of a file as one InputError that names the file.

    What is raised in words, shortage of memory, and what the caller tells himself (`but`) pass through; coordinates that
    no CRS knows get the file's name.
    """
    passed: tuple[type[Exception], ...] = (GeoagroError, MemoryError, *but)
    try:
        yield
    except CrsError as error:
        if str(error).startswith((where, "inputs.", "rows.", "survey", "--")):
            raise
        raise CrsError(f"{where}: {error}") from error
    except passed:
        raise
    except Exception as error:  # readers raise errors of some forty kinds over damaged files
        cause = " ".join(str(error).split()).rstrip(".")[:160] or "no further words"
        if any(word in cause.lower() for word in _NO_MEMORY):
            raise MemoryError(cause) from error
        raise InputError(
            f"{where}: can't be read ({type(error).__name__}: {cause}). It looks damaged, or isn't what it is taken for; "
            "save it again with the program that it comes from."
        ) from error


def is_given_to_command(key: str) -> bool:
    """Tell whether a file is named by an argument of a command, and so by no key of a design.

    >>> is_given_to_command("survey"), is_given_to_command("inputs.boundary")
    (True, False)
    """
    return key in _ARGUMENTS


def find_file(file: Path, *, folder: Path, key: str) -> Path:
    """Path of a file that a design names, or an argument of a command; relative paths count from `folder`.

    Raises InputError where it is missing, empty or a folder; `key` names the place in the design file, or the argument.
    """
    name = key if key.startswith("recipes") or is_given_to_command(key) else f"{key}.file"
    try:
        return _found(folder / file.expanduser(), file, name)
    except (OSError, ValueError, RuntimeError) as error:
        raise InputError(f"{name}: {unusable_name(file, error)}") from error


def unusable_name(path: Path, error: Exception) -> InputError:
    """Words for a name that the system won't take (too long, a zero byte), and for any other refusal of it."""
    shown = str(path).encode("utf-8", "replace").decode().replace("\0", "?")
    shown = shown if len(shown) <= 80 else f"{shown[:77]}..."
    cause = (error.strerror or str(error)) if isinstance(error, OSError) else str(error)
    return InputError(f"{shown} can't be read: {cause.lower().rstrip('.')}. Look at its name and rights.")


def _found(path: Path, file: Path, name: str) -> Path:
    if "\0" in str(path):
        raise ValueError("a file's name can't hold a zero byte")
    if path.is_dir() and path.suffix.lower() != ".gdb":
        raise InputError(f"{name}: {file} is a folder; name the file in it.")
    if not path.exists():
        start = "where the command is run" if is_given_to_command(name) else "the design file's folder"
        raise InputError(
            f"{name}: {file} isn't there (looked in {path.parent}){_nearest(path)} Relative paths count from {start}."
        )
    if not (path.is_file() or path.is_dir()):
        raise InputError(f"{name}: {file} is a device or pipe, not a file. Name the file itself.")
    if path.is_file() and path.stat().st_size == 0:
        raise InputError(f"{name}: {file} is empty (0 bytes); copy it again.")
    return path


def _nearest(path: Path) -> str:
    if not path.parent.is_dir():
        return "."
    names = [other.name for other in path.parent.iterdir()]
    close = difflib.get_close_matches(path.name, names, n=1)
    return f"; did you mean {close[0]}?" if close else "."


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
        told.append(SourceFile(role, name.as_posix(), sha256_of(part)))
    return tuple(told)


def sha256_of(path: Path) -> str:
    """Checksum of a file; a large one, such as a raster that thousands of fields share, is read once until it is changed."""
    found = path.stat()
    if found.st_size < _LARGE_BYTES:
        return _read_sha256(path)
    return _large_sha256(path.resolve(), found.st_size, found.st_mtime_ns)


@lru_cache(maxsize=256)
def _large_sha256(path: Path, _size: int, _changed_ns: int) -> str:
    return _read_sha256(path)


def _read_sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
