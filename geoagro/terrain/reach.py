"""How far the smoothing of heights reaches, known without loading what smooths."""

TRUNCATE = 4.0
"""Standard deviations at which the bell of the smoothing is cut off."""
