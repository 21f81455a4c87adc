"""Layers and tables in a GeoPackage, with their looks."""
