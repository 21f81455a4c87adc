"""Several files that are one survey: what each is called, what it is called altogether, and no file twice."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from geoagro.errors import InputError
from geoagro.inputs.files import sha256_of, vector_parts

_MOST_NAMED = 3
_BOTH_NAMED = 60  # letters up to which both of two names fit well into the name of a file


def labels_of(paths: Sequence[Path]) -> list[str]:
    """Name of each file; with as many of its folders as tell it from others of that name.

    >>> labels_of([Path("a/walk.csv"), Path("b/walk.csv"), Path("b/rtk.gpx")])
    ['a/walk.csv', 'b/walk.csv', 'rtk.gpx']
    """
    full = [path.absolute() for path in paths]
    return [_label(path, [other for other in full if other.name == path.name and other != path]) for path in full]


def _label(path: Path, alike: Sequence[Path]) -> str:
    for count in range(1, len(path.parts)):
        tail = path.parts[-count:]
        if all(other.parts[-count:] != tail for other in alike):
            return "/".join(tail)
    return path.as_posix()


def where_of(label: str) -> str:
    """How messages name a file of a survey."""
    return f"survey ({label})"


def where_all(labels: Sequence[str]) -> str:
    """How messages name several files, the first of them if there are many.

    >>> where_all(["a.csv"]), where_all(["a.csv", "b.csv", "c.csv", "d.csv"])
    ('survey (a.csv)', 'survey (a.csv, b.csv, c.csv, ...)')
    """
    more = [", ..."] if len(labels) > _MOST_NAMED else []
    return where_of("".join([", ".join(labels[:_MOST_NAMED]), *more]))


def above(path: Path, label: str) -> Path:
    """Folder that a label counts from."""
    parts = len(Path(label).parts)
    return path.parent if parts == 1 else [*path.absolute().parents][:parts][-1]


def refuse_twice(paths: Sequence[Path], labels: Sequence[str]) -> None:
    """Raise InputError where two of the files are one, or hold the same: each note would count twice.

    All parts of a shapefile are compared: the same places may come with other names and states.
    """
    first: dict[tuple[str, ...], int] = {}
    for k, (path, label) in enumerate(zip(paths, labels, strict=True)):
        other = first.setdefault(tuple(sha256_of(part) for part in vector_parts(path)), k)
        if other == k:
            continue
        if path.samefile(paths[other]):
            raise InputError(f"{where_of(label)}: is named twice. Name each file of a survey once.")
        raise InputError(
            f"{where_of(label)}: holds the very same as {labels[other]}, so it is a copy of it. Leave one of them out."
        )


def survey_name(paths: Sequence[Path]) -> str:
    """Name of the survey: its file's, that of both files, or of the first and how many more.

    >>> survey_name([Path("walk.csv")]), survey_name([Path("walk.csv"), Path("rtk.gpx")])
    ('walk', 'walk_and_rtk')
    >>> survey_name([Path("plants_A1.csv"), Path("plants_A2.csv"), Path("plants_B1.csv")])
    'plants_A1_and_2_more'
    """
    first, *others = (path.stem for path in paths)
    if not others:
        return first
    if len(others) == 1 and others[0] != first and len(first) + len(others[0]) <= _BOTH_NAMED:
        return f"{first}_and_{others[0]}"
    return f"{first[:_BOTH_NAMED]}_and_{len(others)}_more"
