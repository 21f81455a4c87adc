"""Sun and sky over the rows, and the light that each crop takes and each bed is left with."""
