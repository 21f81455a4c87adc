"""The result folder of a layout: `layout.png` to look at, `layout.gpkg` to work with."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from geoagro.outputs.geopackage import write_geopackage
from geoagro.outputs.layer import OutputLayer
from geoagro.outputs.layout_layers import layout_layers
from geoagro.outputs.picture import write_picture
from geoagro.outputs.staging import staged
from geoagro.values.layout import Layout
from geoagro.values.progress import Progress, silent

GEOPACKAGE = "layout.gpkg"
PICTURE = "layout.png"


def write_layout(
    layout: Layout,
    folder: Path,
    *,
    design_text: str | None = None,
    more: Sequence[OutputLayer] = (),
    progress: Progress = silent,
) -> list[Path]:
    """Write the result of a layout into `folder`; what stood there stays until all of it is finished.

    Parameters
    ----------
    folder
        Made where it isn't there.
    design_text
        The design file as written, kept in the table `layout_source`.
    more
        Further layers, drawn above the plants, and tables.

    Returns
    -------
    list of Path
        The files written: the GeoPackage, then the picture.

    Raises
    ------
    OutputError
        Where the folder can't be written to, an old result is open in another program, or crops share a
        layer name.
    """
    folder = Path(folder)
    layers = _tables_last([*layout_layers(layout, design_text=design_text), *more])
    with staged(folder, [PICTURE, GEOPACKAGE]) as new:
        write_geopackage(new / GEOPACKAGE, layers, layout.site.crs, progress=progress)
        progress("drawing the picture", 0.0)
        write_picture(layout, new / PICTURE)
        progress("drawing the picture", 1.0)
    return [folder / GEOPACKAGE, folder / PICTURE]


def _tables_last(layers: list[OutputLayer]) -> list[OutputLayer]:
    return sorted(layers, key=lambda layer: layer.spec.geometry == "none")
