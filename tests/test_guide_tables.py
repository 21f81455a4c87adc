from pathlib import Path

from geoagro.outputs.layout.layers import LAYOUT_SPECS
from geoagro.outputs.tables.layer_tables import with_tables

PAGE = Path(__file__).parents[1] / "geoagro" / "guide" / "layers.md"


def test_the_guide_lists_the_layers_and_columns_as_they_are():
    text = PAGE.read_text(encoding="utf-8")
    assert with_tables(text, LAYOUT_SPECS) == text, "run `python scripts/refresh_guide.py`"


def test_every_column_is_described_in_a_sentence():
    for spec in LAYOUT_SPECS:
        for field in spec.fields:
            assert field.description.endswith("."), (spec.name, field.name)
