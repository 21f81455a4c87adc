"""Names of the files of a layout's result."""

GEOPACKAGE = "layout.gpkg"
PICTURE = "layout.png"
CHART = "light.png"
