"""Heights and slopes from rasters and contour lines."""
