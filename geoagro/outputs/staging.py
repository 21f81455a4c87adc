"""Write beside, then move into place: a failed or killed run leaves the earlier result untouched.

New files are made in a hidden work folder inside the output folder (so on the same disk) and moved over the
old ones with os.replace only when all of them are finished. A lock that the operating system frees when a
process dies keeps two runs apart; whoever holds it may clear away what dead runs left behind.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from filelock import FileLock, Timeout

from geoagro.errors import OutputError

WORK = ".geoagro"
_SIDE_FILES = ("-wal", "-shm", "-journal")


@contextmanager
def staged(folder: Path, names: list[str]) -> Iterator[Path]:
    """Give a fresh folder to write `names` into; move them into `folder` when the block ends well.

    Files are moved in the order of `names`, so the one that readers rely on goes last.

    Raises
    ------
    OutputError
        Where the folder can't be made, another run is writing to it, an old file is open in another
        program, or a name was not written.
    """
    folder = Path(folder)
    work = _work_folder(folder)
    lock = FileLock(work / "lock")
    try:
        lock.acquire(timeout=0)
    except Timeout:
        raise OutputError(
            f"{folder}: another run is writing here; wait until it ends, or choose another folder."
        ) from None
    try:
        _sweep(work)
        refuse_open(folder, names)
        new = work / "new"
        new.mkdir()
        yield new
        _move(new, folder, names)
    finally:
        _sweep(work)
        lock.release()


def check_folder(folder: Path, names: list[str]) -> None:
    """Raise OutputError where `names` couldn't be written into `folder`; touches nothing.

    To be asked before long work, so that it isn't done in vain.
    """
    standing = next(path for path in (folder, *folder.absolute().parents) if path.exists())
    if not standing.is_dir():
        raise OutputError(f"{standing} is a file, not a folder. Choose another output folder.")
    if not os.access(standing, os.W_OK):
        raise OutputError(f"{standing}: no permission to write here. Choose another output folder.")
    refuse_open(folder, names)


def refuse_open(folder: Path, names: list[str]) -> None:
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
    try:
        work = folder / WORK
        work.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"{folder}: can't write here ({error.strerror}). Choose another output folder.") from error
    if not os.access(work, os.W_OK):
        raise OutputError(f"{folder}: no permission to write here. Choose another output folder.")
    return work


def _sweep(work: Path) -> None:
    """Clear the work folder; only the holder of the lock calls this, so what lies there is dead."""
    for left in work.iterdir():
        if left.is_dir():
            shutil.rmtree(left)


def _move(new: Path, folder: Path, names: list[str]) -> None:
    missing = [name for name in names if not (new / name).is_file()]
    if missing:
        raise OutputError(f"{folder}: {', '.join(missing)} was not written; the earlier result is untouched.")
    for name in names:
        _flush(new / name)
    refuse_open(folder, names)
    for name in names:
        try:
            os.replace(new / name, folder / name)
        except OSError as error:
            raise OutputError(
                f"{folder / name} can't be replaced ({error.strerror}). Close it in your viewer and run again."
            ) from error
    if os.name == "posix":
        _flush(folder)


def _flush(path: Path) -> None:
    """Have the disk keep what was written before it is moved."""
    handle = os.open(path, os.O_RDONLY if path.is_dir() or os.name == "posix" else os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
