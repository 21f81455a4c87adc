"""The guide's tables of layers and columns, written from the declarations that the files are written from."""

from __future__ import annotations

from collections.abc import Iterable

from geoagro.values.layers import LayerSpec

BEGIN = "<!-- layers: written by scripts/refresh_guide.py -->"
END = "<!-- end of layers -->"
_NAMES = {"plants": "plants_CROP"}  # one layer per crop


def layer_tables(specs: Iterable[LayerSpec]) -> str:
    """One table in Markdown for each layer and table."""
    return "\n\n".join(_table(spec) for spec in specs)


def _table(spec: LayerSpec) -> str:
    kind = "table" if spec.geometry == "none" else spec.geometry.lower()
    head = f"**`{_NAMES.get(spec.name, spec.name)}`** ({kind}): {spec.title}"
    rows = [f"| `{f.name}` | {f.kind} | {f.unit} | {f.description} |" for f in spec.fields]
    return "\n".join([head, "", "| Column | Kind | Unit | Meaning |", "|---|---|---|---|", *rows])


def with_tables(page: str, specs: Iterable[LayerSpec]) -> str:
    """Put the tables between the two marks of a page; raises ValueError where a mark is missing."""
    before, mark, rest = page.partition(BEGIN)
    _, end, after = rest.partition(END)
    if not (mark and end):
        raise ValueError(f"the page needs the lines '{BEGIN}' and '{END}'")
    return f"{before}{BEGIN}\n\n{layer_tables(specs)}\n\n{END}{after}"
