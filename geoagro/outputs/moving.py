"""Move several files over older ones so that all of them are old or all are new, whatever stops the run.

Before the first move the old files are linked aside and a journal is written: from then on the result counts as new,
and whoever finds the journal finishes the moves. A move that the system refuses takes all of them back. A name may lie one
folder down (`map_parts/A1.html`): such a folder is made with its first file, and goes with its last.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path

from geoagro.errors import OutputError

NEW, OLD, JOURNAL = "new", "old", "journal.json"


@dataclass(frozen=True)
class Steps:
    """Names to be moved in, names to be taken away, and those of both that had an old file."""

    names: tuple[str, ...]
    gone: tuple[str, ...]
    had: tuple[str, ...]


def move_all(work: Path, folder: Path, names: Sequence[str], gone: Sequence[str] = ()) -> None:
    """Move `names` from `work/new` into `folder` and take older files `gone` away, all or none.

    Raises OutputError where one of them can't be replaced; what stood there before is back then.
    """
    for name in names:
        _flush(work / NEW / name)
    steps = Steps(tuple(names), tuple(gone), _keep_old(work, folder, [*names, *gone]))
    _write_journal(work, steps)
    _forward(work, folder, steps)


def finish(work: Path, folder: Path) -> None:
    """Finish the moves of a run that was killed between them; does nothing where there is no journal.

    Only the holder of the folder's lock may call this.
    """
    found = _journal(work)
    if found is not None:
        _forward(work, folder, found)
    elif os.path.lexists(work / JOURNAL):
        (work / JOURNAL).unlink()  # no journal of ours says this


def _forward(work: Path, folder: Path, steps: Steps) -> None:
    name = ""
    try:
        for part in below(folder, steps.names):
            name = part.name
            part.mkdir(exist_ok=True)
        for name in steps.gone:
            (folder / name).unlink(missing_ok=True)
        for name in steps.names:
            new = work / NEW / name
            if new.is_file() and not new.is_symlink():
                os.replace(new, folder / name)
    except OSError as error:
        _back(work, folder, steps)
        raise OutputError(
            f"{folder / name} can't be replaced ({error.strerror}); the earlier result is back, whole. Close it in your "
            "viewer, or look at its rights, and run again."
        ) from error
    _remove_empty(folder, steps.gone)
    _flush_all(folder, steps.names)
    (work / JOURNAL).unlink()


def _back(work: Path, folder: Path, steps: Steps) -> None:
    """Put every old file back; a file that wasn't there before goes, if it was moved."""
    for name in (*steps.gone, *steps.names):
        if name in steps.had:
            if os.path.lexists(work / OLD / name):
                os.replace(work / OLD / name, folder / name)
        elif name in steps.names and not (work / NEW / name).exists():
            (folder / name).unlink(missing_ok=True)
    _remove_empty(folder, steps.names)
    _flush_all(folder, steps.had)
    (work / JOURNAL).unlink()


def _keep_old(work: Path, folder: Path, names: Sequence[str]) -> tuple[str, ...]:
    """Link the old files aside (copy them where the disk knows no links); tell which there are."""
    (work / OLD).mkdir()
    had = tuple(name for name in names if (folder / name).is_file())
    for name in had:
        (work / OLD / name).parent.mkdir(exist_ok=True)
        try:
            os.link(folder / name, work / OLD / name, follow_symlinks=False)
        except (OSError, NotImplementedError):
            shutil.copy2(folder / name, work / OLD / name, follow_symlinks=False)
            _flush(work / OLD / name)
    return had


def _write_journal(work: Path, steps: Steps) -> None:
    """Write it whole or not at all; it must not be there before all else is on the disk."""
    _flush_all(work / NEW, steps.names)
    _flush_all(work / OLD, steps.had)
    draft = work / f"{JOURNAL}.part"
    draft.write_text(json.dumps(asdict(steps)), encoding="utf-8")
    _flush(draft)
    os.replace(draft, work / JOURNAL)
    _flush(work)


def _journal(work: Path) -> Steps | None:
    """Read the steps of a journal; None where there is none, or none of ours."""
    place = work / JOURNAL
    if place.is_symlink() or not place.is_file() or (work / NEW).is_symlink() or (work / OLD).is_symlink():
        return None
    try:
        told = json.loads(place.read_text(encoding="utf-8"))
        steps = Steps(*(tuple(str(name) for name in told.get(key, ())) for key in ("names", "gone", "had")))
    except (ValueError, KeyError, TypeError, AttributeError):
        return None
    plain = all(_is_plain(name) for name in (*steps.names, *steps.gone, *steps.had))
    return steps if plain and steps.names else None


def _is_plain(name: str) -> bool:
    """Tell whether it names a file in the folder itself, or one folder down, and nothing elsewhere."""
    parts = name.split("/")
    return len(parts) <= 2 and all(part == Path(part).name and part not in ("", ".", "..") for part in parts)


def below(folder: Path, names: Iterable[str]) -> list[Path]:
    """Give the folders inside `folder` that some of the names lie in."""
    return sorted({folder / name.split("/")[0] for name in names if "/" in name})


def _remove_empty(folder: Path, names: Iterable[str]) -> None:
    for part in below(folder, names):
        with suppress(OSError):
            part.rmdir()  # refused while a file is in it


def _flush_all(folder: Path, names: Iterable[str]) -> None:
    for part in (*below(folder, names), folder):
        if part.is_dir():
            _flush(part)


def _flush(path: Path) -> None:
    """Have the disk keep what was written before it is moved."""
    if path.is_dir() and os.name != "posix":
        return
    handle = os.open(path, os.O_RDONLY if os.name == "posix" else os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
