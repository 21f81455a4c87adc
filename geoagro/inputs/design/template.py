"""A commented design file to start from, and the schema by which editors complete it."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from geoagro.errors import OutputError
from geoagro.inputs.design.schema import SCHEMA_FILE, schema_text


def write_design_template(path: Path) -> Path:
    """Write a commented design file with sensible values; an existing file is never touched.

    The schema that its first line names is written beside it, anew where one lies there. Missing folders are made.
    Returns the path; raises OutputError where a file stands or nothing can be written.
    """
    text = files("geoagro.inputs.design").joinpath("template.yaml").read_text(encoding="utf-8")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
        path.with_name(SCHEMA_FILE).write_text(schema_text(), encoding="utf-8")
    except FileExistsError as error:
        what = error.filename if error.filename and error.filename != str(path) else path
        raise OutputError(f"{what} is there already and stays as it is. Name another folder.") from None
    except OSError as error:
        shown = str(path) if len(str(path)) <= 80 else f"{str(path)[:77]}..."
        raise OutputError(f"{shown} can't be written: {error.strerror}. Choose another folder.") from error
    return path
