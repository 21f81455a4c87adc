"""The libraries of tables, loaded when one of their names is first asked for.

Values name them in types and build frames in a few functions: a program that only imports a step doesn't wait for them. Modules
that work with frames anyway import them as usual.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd
else:
    from lazy_loader import load

    gpd, pd = load("geopandas"), load("pandas")

__all__ = ["gpd", "pd"]
