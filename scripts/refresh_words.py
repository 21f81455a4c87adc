"""Collect the texts of reports and maps into the catalog that translators start from."""

from pathlib import Path

from geoagro.outputs.words.catalog import catalog_text
from geoagro.outputs.words.say import CATALOGS

(CATALOGS / "geoagro.pot").write_text(catalog_text(Path(__file__).parents[1] / "geoagro"), encoding="utf-8")
