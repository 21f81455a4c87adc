"""Write beside, then move into place: a failed or killed run leaves the earlier result, or the next run finishes the new one.

New files are made in a hidden work folder inside the output folder (so on the same disk) and moved over the
old ones, all or none (`moving`), only when all of them are finished. A lock that the operating system frees when a
process dies keeps two runs apart; whoever holds it may clear away what dead runs left behind.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import stat
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from filelock import FileLock, Timeout
from pyogrio.errors import DataLayerError, DataSourceError, FeatureError, FieldError, GeometryError
from rasterio.errors import RasterioError
from xlsxwriter.exceptions import XlsxWriterException

from geoagro.errors import OutputError
from geoagro.outputs.moving import JOURNAL, NEW, below, finish, move_all

WORK = ".geoagro"
_SIDE_FILES = ("-wal", "-shm", "-journal")
_WRITING = (
    OSError, sqlite3.Error, DataSourceError, DataLayerError, FeatureError, FieldError, GeometryError, RasterioError,
    XlsxWriterException,
)  # fmt: skip


@contextmanager
def claimed(folder: Path, names: Sequence[str] = (), *, patience_s: float = 0.0) -> Iterator[None]:
    """Hold a result folder from before the work until its end, so that a second run is refused at once.

    With `patience_s` it is refused only after waiting so long for the first to end.

    Moves that a killed run left half done are finished first, so that whatever is read from the folder is whole.
    A folder that was made for this and stays empty goes again.

    Raises OutputError as `check_folder`, and where another run holds the folder.
    """
    folder = Path(folder)
    check_folder(folder, names)
    made = not folder.exists()
    work = _work_folder(folder)
    lock = _locked(work, folder, patience_s)
    try:
        _recover(work, folder)
        yield
    finally:
        lock.release()
        if made:
            _remove_if_empty(work, folder)


@contextmanager
def beginning(folder: Path) -> Iterator[Path]:
    """Give a folder beside results for files that are begun before `staged`, to be moved into its folder when they are whole.

    Raises OutputError as `staged`.
    """
    folder = Path(folder)
    work = _work_folder(folder)
    lock = _locked(work, folder)
    begun = work / _begun_here()
    try:
        _recover(work, folder)
        shutil.rmtree(begun, ignore_errors=True)
        begun.mkdir()
        yield begun
    except _WRITING as error:
        raise OutputError(unwritten(folder, error)) from error
    finally:
        shutil.rmtree(begun, ignore_errors=True)
        lock.release()


def _begun_here() -> str:
    """Name the folder of what this very process began, which isn't swept away; that of a dead one is."""
    return f"begun_{os.getpid()}"


@contextmanager
def staged(folder: Path, names: list[str], *, gone: Sequence[str] = ()) -> Iterator[Path]:
    """Give a fresh folder to write `names` into; move them into `folder`, all or none, when the block ends well.

    Files are moved in the order of `names`, so the one that readers rely on goes last. A name may lie one folder down
    (`map_parts/A1.html`). Files of an earlier result that
    the new one hasn't (`gone`) are taken away with the same moves: they would be of something else.

    Raises
    ------
    OutputError
        Where the folder can't be made, another run is writing to it, an old file is open in another
        program or read-only, the disk is full, or a name was not written.
    """
    folder = Path(folder)
    work = _work_folder(folder)
    lock = _locked(work, folder)
    try:
        _recover(work, folder)
        refuse_fixed(folder, [*names, *gone])
        refuse_open(folder, names)
        new = work / NEW
        new.mkdir()
        for part in below(new, names):
            part.mkdir()
        yield new
        _check_written(new, folder, names)
        refuse_fixed(folder, [*names, *gone])
        refuse_open(folder, names)
        move_all(work, folder, names, gone)
    except _WRITING as error:
        raise OutputError(unwritten(folder, error)) from error
    finally:
        with suppress(OSError, OutputError):
            finish(work, folder)  # where the run was interrupted between two moves
        _sweep(work)
        lock.release()


def unwritten(place: Path, error: Exception, *, room: Path | None = None) -> str:
    """Say why a file or folder can't be written, and how much room there is (in `room`, if not in the place itself)."""
    cause = " ".join(str(error).split()).rstrip(".").rpartition(" failed: ")[2] or type(error).__name__
    free = ""
    with suppress(OSError):
        free = f"; {shutil.disk_usage(room or place).free / 1e6:,.0f} MB are free"
    return (
        f"{place}: the result can't be written ({cause[:200]}{free}); what stood there before is untouched. Make room, "
        "look at the limits and rights for files there, or choose another folder."
    )


def check_folder(folder: Path, names: Sequence[str]) -> None:
    """Raise OutputError where `names` couldn't be written into `folder`; touches nothing.

    To be asked before long work, so that it isn't done in vain.
    """
    try:
        standing = next(path for path in (folder, *folder.absolute().parents) if path.exists())
        if "\0" in str(folder):
            raise ValueError("a name can't hold a zero byte")
        for part in folder.parts:
            if len(os.fsencode(part)) > 255:
                raise ValueError(f"'{part[:40]}...' is longer than 255 bytes")
    except (OSError, ValueError, UnicodeError) as error:
        shown = str(folder).replace("\0", "?")[:80]
        raise OutputError(f"{shown}: can't be the name of a folder ({error}). Choose another one.") from error
    if not standing.is_dir():
        raise OutputError(f"{standing} is a file, not a folder. Choose another output folder.")
    if not _writable(standing):
        raise OutputError(f"{standing}: no permission to write here. Choose another output folder.")
    refuse_fixed(folder, names)
    refuse_open(folder, names)


def refuse_fixed(folder: Path, names: Sequence[str]) -> None:
    """Raise OutputError where something that mustn't be replaced stands in the place of a result."""
    for part in below(folder, names):
        if part.is_symlink() or (part.exists() and not part.is_dir()):
            raise OutputError(f"{part} is not a folder; files are to be written into one. Move it away and run again.")
    for name in names:
        path = folder / name
        if path.is_dir() and not path.is_symlink():
            raise OutputError(f"{path} is a folder; a file of this name is to be written. Move it away and run again.")
        if path.is_file() and not _writable(path):
            raise OutputError(
                f"{path} is read-only, so someone means to keep it. Make it writable, or choose another output folder."
            )


def _writable(path: Path) -> bool:
    """Tell whether anyone may write, and we: whoever may do everything is still held by a file set read-only."""
    return bool(path.stat().st_mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH)) and os.access(path, os.W_OK)


def refuse_open(folder: Path, names: Sequence[str]) -> None:
    """Raise OutputError where an old GeoPackage is being edited, or was left half written by a viewer."""
    for name in names:
        for side in _SIDE_FILES:
            beside = folder / f"{name}{side}"
            if beside.exists():
                raise OutputError(
                    f"{folder / name} is open in another program ({beside.name} lies beside it). Close it there and "
                    "run again; if no program has it open, open and close it once in your GIS viewer to finish its "
                    "last edit."
                )


def _work_folder(folder: Path) -> Path:
    """Make the hidden work folder; a link in its place is refused, since what it points to isn't ours to clear."""
    work = folder / WORK
    if work.is_symlink():
        raise OutputError(
            f"{work} is a link; the work folder must be a folder of its own. Remove the link and run again."
        )
    try:
        work.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        cause = error.strerror if isinstance(error, OSError) else error
        raise OutputError(f"{folder}: can't write here ({cause}). Choose another output folder.") from error
    if not _writable(work) or not _writable(folder):
        raise OutputError(f"{folder}: no permission to write here. Choose another output folder.")
    return work


def _locked(work: Path, folder: Path, patience_s: float = 0.0) -> FileLock:
    """Take the folder's lock; within one process it may be taken again by whoever holds it."""
    place = work / "lock"
    if place.is_symlink():
        place.unlink()
    lock = FileLock(place, is_singleton=True)
    try:
        lock.acquire(timeout=patience_s)
    except Timeout:
        raise OutputError(
            f"{folder}: another run is writing here; wait until it ends, or choose another folder."
        ) from None
    except OSError as error:
        raise OutputError(f"{folder}: can't write here ({error.strerror}). Choose another output folder.") from error
    return lock


def _recover(work: Path, folder: Path) -> None:
    finish(work, folder)
    _sweep(work)


def _sweep(work: Path) -> None:
    """Clear the work folder; only the holder of the lock calls this, so what lies there is dead. Links aren't followed."""
    if (work / JOURNAL).exists():
        return  # moves that couldn't be finished: the files must stay until they can
    for left in work.iterdir():
        if left.name in ("lock", _begun_here()):
            continue
        if left.is_dir() and not left.is_symlink():
            shutil.rmtree(left, ignore_errors=True)
        else:
            left.unlink(missing_ok=True)


def _remove_if_empty(work: Path, folder: Path) -> None:
    if [path.name for path in folder.iterdir()] == [WORK] and {path.name for path in work.iterdir()} <= {"lock"}:
        shutil.rmtree(work, ignore_errors=True)
        with suppress(OSError):
            folder.rmdir()


def _check_written(new: Path, folder: Path, names: Sequence[str]) -> None:
    missing = [name for name in names if not (new / name).is_file() or (new / name).is_symlink()]
    if missing:
        raise OutputError(f"{folder}: {', '.join(missing)} was not written; the earlier result is untouched.")
