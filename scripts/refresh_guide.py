"""Write the tables of layers and columns into the guide after a column was added or described anew."""

from pathlib import Path

from geoagro.outputs.layout.layers import LAYOUT_SPECS
from geoagro.outputs.tables.layer_tables import with_tables

PAGE = Path(__file__).parents[1] / "geoagro" / "guide" / "layers.md"

PAGE.write_text(with_tables(PAGE.read_text(encoding="utf-8"), LAYOUT_SPECS), encoding="utf-8")
