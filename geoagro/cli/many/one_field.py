"""One of many fields: laid out, written, accounted for, and its line of result kept beside its layout."""

from __future__ import annotations

import gc
import hashlib
import json
import os
import sys
import time
import warnings
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoagro.errors import FindingWarning
from geoagro.values.results.field_result import FIGURES, FieldResult
from geoagro.version import __version__

if TYPE_CHECKING:
    from geoagro.reports.records.account import Account
    from geoagro.values.design import Design

RESULT = "field.json"
"""Lies in the field's result folder; what a further run goes on from."""
PATIENCE_S = 600.0
"""How long a field waits for another run that writes to its folder: a cluster hands fields out again when it takes a worker
for lost that still works. Longer than any field of a few hectares takes (our choice)."""


def lay_one(design_file: Path, root: Path, locale: str | None = None) -> FieldResult:
    """Lay out one field, unless its last result is about the same design, files and program; never raises.

    Parameters
    ----------
    root
        Folder that all fields lie below.
    locale
        Language of what is drawn; that of the design if None.
    """
    from geoagro.cli.failures import failure_of
    from geoagro.outputs.staging import claimed

    begin, used = time.monotonic(), time.process_time()
    folder, name, state = design_file.parent, design_file.parent.name, ""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", FindingWarning)  # a field's line tells the first, its layout all
            design, folder = _read(design_file, locale)
            name, state = design.name, state_of(design)
            earlier = _kept(folder, state)
            if earlier is not None:
                return earlier
            with claimed(folder, patience_s=PATIENCE_S):
                earlier = _kept(folder, state)  # of another worker that had the field and was taken for lost
                if earlier is not None:
                    return earlier
                laid = _laid(design_file, design, folder, root, state=state)
                result = _timed(laid, time.monotonic() - begin, time.process_time() - used)
                _keep(result, folder)
                _settled()
                return result
    except Exception as error:  # one broken field doesn't stop the others; its line says what broke
        result = FieldResult(name, _below(folder, root), state, "failed", problem=failure_of(error).words())
    return _timed(result, time.monotonic() - begin, time.process_time() - used)


@cache
def _settled() -> None:
    """Take what a process holds after its first field (libraries, what is remembered) out of the search for garbage.

    That search went through some 300,000 objects several times a field, a twentieth of its time.
    """
    gc.collect()
    gc.freeze()


def _kept(folder: Path, state: str) -> FieldResult | None:
    """Return the result that lies there, if it is about the same design, files and program."""
    earlier = kept_result(folder)
    return earlier if earlier is not None and earlier.state == state else None


def state_of(design: Design) -> str:
    """Checksum of what a field's result depends on: program, design, and each file's size and time of change.

    Files aren't read whole, as many fields share large rasters. A file that isn't there counts as such: reading it says so.
    """
    parts = [__version__, design.model_dump_json()]
    for path in sorted(set(_paths(design.model_dump(exclude={"output", "folder"})))):
        place = design.folder / path
        found = place.stat() if place.exists() else None
        parts.append(
            f"{path.as_posix()} {found.st_size} {found.st_mtime_ns}" if found else f"{path.as_posix()} missing"
        )
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def _paths(node: Any) -> Iterator[Path]:
    if isinstance(node, dict):
        node = list(node.values())
    if isinstance(node, list | tuple):
        for part in node:
            yield from _paths(part)
    elif isinstance(node, Path):
        yield node


def kept_result(folder: Path) -> FieldResult | None:
    """Line of result that lies with a layout; None where there is none that can be read, or its layout is gone."""
    try:
        result = FieldResult.of(json.loads((folder / RESULT).read_text(encoding="utf-8")))
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return result if (folder / "layout.gpkg").is_file() else None


def _read(design_file: Path, locale: str | None) -> tuple[Design, Path]:
    from geoagro.inputs.design.file import read_design

    design = read_design(design_file)
    if locale is not None:
        design = design.model_copy(update={"locale": locale})
    return design, design.folder / design.output.folder


def _laid(design_file: Path, design: Design, folder: Path, root: Path, *, state: str) -> FieldResult:
    from geoagro import pipeline
    from geoagro.cli.approved import open_approved
    from geoagro.cli.habits.language import quiet_words
    from geoagro.cli.layout import lay_out_and_write
    from geoagro.values.progress import silent

    done = lay_out_and_write(design_file, None, silent, quiet_words(None, design), read=design)
    laid = open_approved(design_file, None, progress=silent, ground=False, read=design, held=done.held).laid
    account = pipeline.account_of(laid, design.report)
    warnings = [finding for finding in done.laid.findings if finding.level == "warning"]
    added = pipeline.portfolio_of([account])
    line = added.fields.iloc[0]
    return FieldResult(
        design.name,
        _below(folder, root),
        state,
        "done",
        warnings=len(warnings),
        finding=f"{warnings[0].where}: {warnings[0].text}" if warnings else "",
        figures={name: float(line[name]) for name in FIGURES},
        crops=tuple({str(k): v for k, v in crop.items() if k != "fields"} for crop in added.crops.to_dict("records")),
        crs=account.crs_name,
        outline=_outline(account),
    )


def _outline(account: Account) -> str:
    import shapely

    from geoagro.crs import WGS84, transform_geometries

    parts = transform_geometries(account.parts.geometry.to_numpy(), account.parts.crs, WGS84)
    whole = shapely.multipolygons(shapely.get_parts(parts))
    return str(shapely.to_wkb(whole, hex=True))


def _below(folder: Path, root: Path) -> str:
    return Path(os.path.relpath(folder.absolute(), root.absolute())).as_posix()


def _timed(result: FieldResult, seconds: float, processor_s: float) -> FieldResult:
    import resource
    from dataclasses import replace

    unit = 1024**2 if sys.platform == "darwin" else 1024  # bytes there, kilobytes elsewhere
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit
    return replace(result, seconds=round(seconds, 2), processor_s=round(processor_s, 2), memory_mb=round(memory, 0))


def _keep(result: FieldResult, folder: Path) -> None:
    new = folder / f"{RESULT}.new"
    new.write_text(json.dumps(result.data()) + "\n", encoding="utf-8")
    new.replace(folder / RESULT)
