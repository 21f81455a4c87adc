"""Lay out, mark, plan and account for successional agroforestry fields on real ground, from files.

`layout(design)` does the whole job; every step is a function of its own room (see DEVELOPERS.md). Names are loaded
when they are first asked for, so that `geoagro --help` answers at once.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from geoagro.errors import CrsError, DesignError, GeoagroError, InputError, LayoutError, OutputError
    from geoagro.inputs.design.file import read_design
    from geoagro.outputs.layout.files import write_layout
    from geoagro.pipeline.layout import lay_out, layout
    from geoagro.values.design import Design
    from geoagro.values.layout import Layout

_HOMES = {
    "CrsError": "errors",
    "Design": "values.design",
    "DesignError": "errors",
    "GeoagroError": "errors",
    "InputError": "errors",
    "Layout": "values.layout",
    "LayoutError": "errors",
    "OutputError": "errors",
    "lay_out": "pipeline.layout",
    "layout": "pipeline.layout",
    "read_design": "inputs.design.file",
    "write_layout": "outputs.layout.files",
}

__all__ = [
    "CrsError",
    "Design",
    "DesignError",
    "GeoagroError",
    "InputError",
    "Layout",
    "LayoutError",
    "OutputError",
    "lay_out",
    "layout",
    "read_design",
    "write_layout",
]


def __getattr__(name: str) -> Any:
    """Load a public name from where it lives."""
    if name not in _HOMES:
        raise AttributeError(f"module 'geoagro' has no attribute '{name}'")
    return getattr(import_module(f"geoagro.{_HOMES[name]}"), name)
