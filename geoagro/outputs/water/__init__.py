"""Water on the field: layers and the map."""
