"""A drawing as one page of PDF without waste: places to a hundredth of a point, no date, no program's version."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import pikepdf
from matplotlib.backends.backend_pdf import FigureCanvasPdf
from matplotlib.figure import Figure

from geoagro.outputs.drawing.pdf_file import save_pdf

_SETTINGS: Any = {"pdf.fonttype": 3, "path.simplify": False}
# what a line draws to, where it stands, or a box: numbers and their operator; 0.01 point is 3.5 micrometres on paper
_PLACED = re.compile(rb"^(?:1 0 0 1 )?(?:-?\d*\.?\d+ )+(?:m|l|c|v|y|re|cm)\b", re.MULTILINE)
_LONG = re.compile(rb"-?\d*\.\d{3,}")
# a mark that is placed again and again, each place told from the one before
_MARKS = re.compile(rb"^(?:1 0 0 1 -?[\d.]+ -?[\d.]+ cm /\w+ Do\s)+", re.MULTILINE)


def save_lean(figure: Figure, path: Path) -> None:
    """Write a figure as PDF whose places have two decimals; the same figure gives the same bytes."""
    about: Any = {"Creator": None, "Producer": None, "CreationDate": None}
    with mpl.rc_context(_SETTINGS):
        FigureCanvasPdf(figure)
        figure.savefig(path, format="pdf", metadata=about)
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        content = pdf.pages[0].obj.Contents
        content.write(_PLACED.sub(_shortened, _MARKS.sub(_rounded_places, content.read_bytes())))
        save_pdf(pdf, path, compress_streams=True)


def _rounded_places(marks: re.Match[bytes]) -> bytes:
    """Round the places and not the steps between them, whose roundings would add up."""
    steps = np.array([line.split()[4:6] for line in marks[0].splitlines()], dtype=np.float64)
    name = marks[0].split()[7]
    hundredths = np.rint(np.cumsum(steps, axis=0) * 100).astype(np.int64)
    steps = np.diff(hundredths, axis=0, prepend=0) / 100
    return b"".join(b"1 0 0 1 %s %s cm %s Do\n" % (b"%g" % x, b"%g" % y, name) for x, y in steps.tolist())


def _shortened(line: re.Match[bytes]) -> bytes:
    return _LONG.sub(_two_decimals, line[0])


def _two_decimals(number: re.Match[bytes]) -> bytes:
    return f"{float(number[0]):.2f}".rstrip("0").rstrip(".").encode() or b"0"
