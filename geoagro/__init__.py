"""Lay out, mark, plan and account for successional agroforestry fields on real ground, from files.

`layout(design)` reads a design file and does the whole job; every step is a function of its own, and what a step
returns is what the next one takes:

- read: `read_design`, `read_site`, `read_ground_source`, `read_crop_library`
- lay out: `terrain_of`, `ground_of`, `tree_rows_of`, `beds_of`, `plants_of`; all in one: `lay_out`, `layout`
- rows alone: `rows_of`; options side by side: `option_of`, `option_state`, `figures_compared`
- what was written before: `read_layout_file`, `read_laid_out`
- mark and survey: `stakes_of`, `plots_of`, `read_survey`, `built_of`
- recipe, season, water, account: `recipe_of`, `season_of`, `water_of`, `account_of`
- write: `write_layout`, `write_rows`, `write_stakes`, `write_season`, `write_report`, `write_map`, ...

Values are frozen and carry one projected metric CRS; lengths are metres, bearings degrees clockwise from grid north.
The guide page `python` holds a worked example. Names are loaded when they are first asked for (their list stands in
`__init__.pyi`).
"""

import lazy_loader as _lazy

from geoagro.version import __version__ as __version__

__getattr__, __dir__, __all__ = _lazy.attach_stub(__name__, __file__)
