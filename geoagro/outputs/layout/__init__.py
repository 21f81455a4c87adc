"""The layout: GeoPackage and picture."""
