"""The ground's shape: gap filling, smoothing, slope, contours, and how hard it is to lay rows on."""
