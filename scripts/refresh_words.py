"""Collect the texts of reports and maps into the catalog that translators start from."""

from pathlib import Path

from geoagro.outputs.words import CATALOGS
from geoagro.outputs.words_catalog import catalog_text

(CATALOGS / "geoagro.pot").write_text(catalog_text(Path(__file__).parents[1] / "geoagro"), encoding="utf-8")
