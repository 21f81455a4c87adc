"""A commented design file to start from, and the schema by which editors complete it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import files
from pathlib import Path

from geoagro.errors import OutputError
from geoagro.inputs.design.schema import SCHEMA_FILE, schema_text

_NO_LOCALE = "# locale: en   "


def write_design_template(path: Path, *, locale: str | None = None) -> Path:
    """Write a commented design file with sensible values, in which `locale` is set if given; an existing file is never touched.

    The schema that its first line names is written beside it, anew where one lies there. Missing folders are made.
    Returns the path; raises OutputError where a file stands or nothing can be written.
    """
    text = files("geoagro.inputs.design").joinpath("template.yaml").read_text(encoding="utf-8")
    if locale is not None:
        text = text.replace(_NO_LOCALE, f"locale: {_as_text(locale)}".ljust(len(_NO_LOCALE)), 1)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8") as file, _gone_unless_whole(path):
            file.write(text)
            file.flush()
            _replace(path.with_name(SCHEMA_FILE), schema_text())
    except FileExistsError as error:
        what = error.filename if error.filename and error.filename != str(path) else path
        raise OutputError(f"{what} is there already and stays as it is. Name another folder.") from None
    except OSError as error:
        shown = str(path) if len(str(path)) <= 80 else f"{str(path)[:77]}..."
        raise OutputError(
            f"{shown} can't be written ({error.strerror}); what stood there before is untouched. Make room, or choose "
            "another folder."
        ) from error
    return path


def _as_text(code: str) -> str:
    return f'"{code}"' if code.lower() == "no" else code  # Norwegian, which YAML takes for "false"


@contextmanager
def _gone_unless_whole(path: Path) -> Iterator[None]:
    """Take a new file away again if it can't be finished: half a design would stand in the way of the next try."""
    try:
        yield
    except BaseException:
        path.unlink(missing_ok=True)
        raise


def _replace(path: Path, text: str) -> None:
    """Write beside, then replace."""
    new = path.with_name(f".{path.name}.new")
    try:
        new.write_text(text, encoding="utf-8")
        new.replace(path)
    finally:
        new.unlink(missing_ok=True)
