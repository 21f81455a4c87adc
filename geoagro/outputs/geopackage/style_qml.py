"""A style as QML, the form that common desktop GIS viewers keep in a GeoPackage's `layer_styles` table."""

from __future__ import annotations

from itertools import count
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from geoagro.outputs.drawing.looks import LEAST_PLACE_M, OUTLINE_SHARE, Fill, Label, Line, Look, Marker, Style
from geoagro.outputs.tables.column_words import TableWords
from geoagro.values.base.remembering import remembered
from geoagro.values.layers import GeometryKind, LayerSpec
from geoagro.values.reasons import Hatch

# angles of hatch lines, degrees counter-clockwise from the horizontal
HATCH_ANGLES: dict[Hatch, tuple[int, ...]] = {
    "": (),
    "slash": (45,),
    "backslash": (135,),
    "horizontal": (0,),
    "vertical": (90,),
    "cross": (0, 90),
    "diagonal_cross": (45, 135),
    "dots": (),
}
_SHAPES = {
    "cross": "cross_fill",
    "triangle": "equilateral_triangle",
    "parallelogram": "parallelogram_right",
}
_REACH = {"square": 2**0.5, "half_square": 2**0.5, "trapezoid": 1.25**0.5, "parallelogram": 1.25**0.5}
"""Diameter of the circle round a shape, in its sizes, where that is more than 1: marks that fit their circles never meet."""
_GEOMETRY = {"Point": 0, "LineString": 1, "Polygon": 2, "MultiPolygon": 2, "none": 4}


@remembered(64)
def qml(style: Style | None, spec: LayerSpec, columns: TableWords) -> str:
    """Write `style` with what the columns of `spec` are called as a QML document; of a table only the latter."""
    root = Element("qgis", version="3.22", styleCategories="Symbology|Labeling|Fields|Forms|MapTips|Rendering")
    attributes, parts = looks_and_table(style, spec, columns)
    root.attrib |= attributes
    root.extend(parts)
    SubElement(root, "layerGeometryType").text = str(_GEOMETRY[spec.geometry])
    indent(root)
    return "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n" + tostring(root, encoding="unicode")


def looks_and_table(style: Style | None, spec: LayerSpec, columns: TableWords) -> tuple[dict[str, str], list[Element]]:
    """Attributes and elements of what there is: a layer's look, or a table's columns alone."""
    return table_parts(spec, columns) if style is None else style_parts(style, spec, columns)


def style_parts(style: Style, spec: LayerSpec, columns: TableWords) -> tuple[dict[str, str], list[Element]]:
    """Attributes and elements of a layer's look, names, formats and title, alike in a QML document and in a project."""
    attributes, parts = table_parts(spec, columns)
    if style.closest_only:
        attributes |= {"hasScaleBasedVisibilityFlag": "1", "minScale": str(style.closest_only), "maxScale": "0"}
    parts.insert(0, _renderer(style))
    if style.label is not None:
        attributes["labelsEnabled"] = "1"
        parts.insert(1, _labeling(style.label, spec.geometry))
    return attributes, parts


def table_parts(spec: LayerSpec, columns: TableWords) -> tuple[dict[str, str], list[Element]]:
    """Do the same for what has columns only."""
    title = Element("previewExpression")
    title.text = f'"{spec.fields[0].name}"'
    return {}, [_field_formats(spec, columns), _aliases(spec, columns), title]


def _renderer(style: Style) -> Element:
    kind = "categorizedSymbol" if style.column else "singleSymbol"
    renderer = Element("renderer-v2", type=kind, symbollevels="0", enableorderby="0", forceraster="0")
    symbols = Element("symbols")
    if style.column:
        renderer.set("attr", style.column)
        categories = SubElement(renderer, "categories")
    for number, (value, (words, look)) in enumerate(style.looks.items()):
        if style.column:
            SubElement(categories, "category", symbol=str(number), value=value, label=words, render="true")
        symbols.append(_symbol(look, str(number)))
    renderer.append(symbols)
    return renderer


def _symbol(look: Look, name: str) -> Element:
    kind = {Fill: "fill", Line: "line", Marker: "marker"}[type(look)]
    symbol = Element("symbol", type=kind, name=name, alpha="1", clip_to_extent="1", force_rhr="0")
    if isinstance(look, Line):
        symbol.append(_line(look))
    elif isinstance(look, Marker):
        symbol.extend([_arrow(look)] if look.arrow_from else [])
        symbol.append(_marker(look))
    else:
        symbol.extend(_fill(look, name))
    return symbol


def _line(look: Line) -> Element:
    dash = look.dash_mm
    return _layer(
        "SimpleLine",
        {
            "line_color": rgba(look.ink),
            "line_width": f"{look.width_mm:g}",
            "line_width_unit": "MM",
            "capstyle": "flat" if dash else "round",
            "joinstyle": "round",
            "use_custom_dash": "1" if dash else "0",
            **({"customdash": f"{dash[0]:g};{dash[1]:g}", "customdash_unit": "MM"} if dash else {}),
        },
    )


def _marker(look: Marker) -> Element:
    shape = _SHAPES.get(look.shape, look.shape)
    return _point(look, shape, look.paint, look.filled_share / _REACH.get(look.shape, 1.0), {})


_ARROW_SHARE = 0.94
"""Length of the arrow under a mark, as a share of the place's width."""


def _arrow(look: Marker) -> Element:
    """Lay an arrow under the mark: it points north until turned by the column, and goes where that is empty."""
    turned = {"angle": ("field", look.arrow_from), "enabled": ("expression", f'"{look.arrow_from}" IS NOT NULL')}
    return _point(look, "arrow", look.ink, _ARROW_SHARE, turned)


def _point(look: Marker, shape: str, paint: str, share: float, driven: dict[str, tuple[str, str]]) -> Element:
    """One mark: on the ground, growing with the map, where it has a place there; else in millimetres on the screen."""
    on_ground = look.place_m > 0
    unit = "MapUnit" if on_ground else "MM"
    size = share * look.place_m if on_ground else look.size_mm * share / look.filled_share
    layer = _layer(
        "SimpleMarker",
        {
            "name": shape,
            "color": rgba(paint),
            "outline_color": rgba(look.ink),
            "outline_width": f"{OUTLINE_SHARE * size if on_ground else 0.2:g}",
            "outline_width_unit": unit,
            "size": f"{size:g}",
            "size_unit": unit,
        },
    )
    if on_ground:
        place = f'max({LEAST_PLACE_M:g}, min(coalesce("{look.place_from}", {look.place_m:g}), {look.place_m:g}))'
        driven = driven | {
            "size": ("expression", f"{share:.4f} * {place}"),
            "outlineWidth": ("expression", f"{OUTLINE_SHARE * share:.4f} * {place}"),
        }
    if driven:
        layer.append(_driven(driven))
    return layer


def _driven(by: dict[str, tuple[str, str]]) -> Element:
    """Properties that follow each feature's columns: by name, whether `field` or `expression`, and which."""
    whole = Element("data_defined_properties")
    properties = SubElement(whole, "Option", type="Map")
    SubElement(properties, "Option", type="QString", name="name", value="")
    listed = SubElement(properties, "Option", type="Map", name="properties")
    for name, (key, value) in by.items():
        option = SubElement(listed, "Option", type="Map", name=name)
        SubElement(option, "Option", type="bool", name="active", value="true")
        SubElement(option, "Option", type="QString", name=key, value=value)
        SubElement(option, "Option", type="int", name="type", value={"field": "2", "expression": "3"}[key])
    SubElement(properties, "Option", type="QString", name="type", value="collection")
    return whole


def _fill(look: Fill, name: str) -> list[Element]:
    base = _layer(
        "SimpleFill",
        {
            "style": "no" if look.paint == "none" else "solid",
            "color": rgba("#ffffff" if look.paint == "none" else look.paint),
            "outline_color": rgba(look.ink),
            "outline_width": f"{look.outline_mm:g}",
            "outline_width_unit": "MM",
            "outline_style": "solid",
        },
    )
    if look.hatch == "dots":
        return [base, _dots(look, f"@{name}@1")]
    numbers = count(1)
    return [base, *(_hatch(look, angle, f"@{name}@{next(numbers)}") for angle in HATCH_ANGLES[look.hatch])]


def _dots(look: Fill, name: str) -> Element:
    gap = {f"distance_{axis}": f"{look.hatch_gap_mm * 0.75:g}" for axis in "xy"}
    layer = _layer("PointPatternFill", gap | {f"{key}_unit": "MM" for key in gap})
    layer.append(_symbol(Marker(look.ink, look.ink, "circle", 0.4), name))
    return layer


def _hatch(look: Fill, angle: int, name: str) -> Element:
    layer = _layer(
        "LinePatternFill",
        {
            "angle": str(angle),
            "color": rgba(look.ink),
            "distance": f"{look.hatch_gap_mm:g}",
            "distance_unit": "MM",
            "line_width": "0.15",
            "line_width_unit": "MM",
        },
    )
    layer.append(_symbol(Line(look.ink, 0.15), name))
    return layer


def _layer(kind: str, properties: dict[str, str]) -> Element:
    """One symbol layer; properties in the present form (Option) and the one that older viewers read (prop)."""
    layer = Element("layer", {"class": kind, "enabled": "1", "locked": "0", "pass": "0"})
    options = SubElement(layer, "Option", type="Map")
    for key, value in properties.items():
        SubElement(options, "Option", name=key, value=value, type="QString")
    for key, value in properties.items():
        SubElement(layer, "prop", k=key, v=value)
    return layer


def _labeling(label: Label, geometry: GeometryKind) -> Element:
    labeling = Element("labeling", type="simple")
    settings = SubElement(labeling, "settings", calloutType="simple")
    text = SubElement(
        settings,
        "text-style",
        fieldName=label_expression(label),
        isExpression="1",
        fontFamily="Sans Serif",
        fontSize=f"{label.size_pt:g}",
        fontSizeUnit="Point",
        textColor=rgba(label.ink),
        textOpacity="1",
    )
    SubElement(text, "text-buffer", bufferDraw="1", bufferSize="0.8", bufferSizeUnits="MM", bufferColor=rgba("#ffffff"))
    on_line = geometry == "LineString" and not label.at_start
    placement = SubElement(
        settings, "placement", placement="3" if on_line else "1", placementFlags="9", dist="0", priority="5"
    )
    if label.at_start:
        placement.attrib |= {
            "geometryGenerator": "start_point($geometry)",
            "geometryGeneratorEnabled": "1",
            "geometryGeneratorType": "PointGeometry",
        }
    SubElement(
        settings,
        "rendering",
        scaleVisibility="1",
        scaleMin="1",
        scaleMax=str(label.closest_scale),
        drawLabels="1",
        displayAll="1" if label.at_start else "0",
        obstacle="0",
    )
    return labeling


def label_expression(label: Label) -> str:
    """Write the label's text as an expression over the columns."""
    value = f'round("{label.column}", {label.decimals})' if label.decimals else f'"{label.column}"'
    return f'CASE WHEN "{label.only}" THEN {value} END' if label.only else value


_DECIMALS = {"m": 2, "m2": 1, "%": 1, "deg": 0, "1/ha": 1}


def _field_formats(spec: LayerSpec, columns: TableWords) -> Element:
    """Numbers rounded for reading, and lists of the values that a column may hold."""
    formats = Element("fieldConfiguration")
    for column, said in zip(spec.fields, columns.values, strict=True):
        if column.values:
            widget, options = "ValueMap", _value_list(column.values, said)
        elif column.kind == "float":
            decimals = str(_DECIMALS.get(column.unit, 3))
            widget, options = "Range", [Element("Option", type="int", name="Precision", value=decimals)]
        else:
            continue
        field = SubElement(formats, "field", name=column.name)
        config = SubElement(SubElement(field, "editWidget", type=widget), "config")
        SubElement(config, "Option", type="Map").extend(options)
    return formats


def _value_list(values: tuple[str, ...], said: tuple[str, ...]) -> list[Element]:
    listed = Element("Option", type="List", name="map")
    for value, words in zip(values, said, strict=True):
        item = SubElement(listed, "Option", type="Map")
        SubElement(item, "Option", type="QString", name=words, value=value)
    return [listed]


def _aliases(spec: LayerSpec, columns: TableWords) -> Element:
    aliases = Element("aliases")
    named = zip(spec.columns, columns.heads, strict=True)
    for number, (name, head) in enumerate(named, start=1):  # 0 is the feature id
        SubElement(aliases, "alias", field=name, index=str(number), name=head)
    return aliases


def rgba(colour: str) -> str:
    """Write '#rrggbb' as 'r,g,b,255'.

    >>> rgba("#ff8000")
    '255,128,0,255'
    """
    red, green, blue = (int(colour[k : k + 2], 16) for k in (1, 3, 5))
    return f"{red},{green},{blue},255"
