"""Write the tables of layers, columns and design keys into the guide after one was added or described anew."""

from pathlib import Path

from geoagro.inputs.design.schema import key_tables
from geoagro.outputs.layout.layers import LAYOUT_SPECS
from geoagro.outputs.tables.layer_tables import with_tables

GUIDE = Path(__file__).parents[1] / "geoagro" / "guide"
MARK = "<!-- keys -->\n"

LAYERS, KEYS = GUIDE / "layers.md", GUIDE / "design.md"
LAYERS.write_text(with_tables(LAYERS.read_text(encoding="utf-8"), LAYOUT_SPECS), encoding="utf-8")
before, _, _ = KEYS.read_text(encoding="utf-8").partition(MARK)
KEYS.write_text(f"{before}{MARK}\n{key_tables()}", encoding="utf-8")
