"""A style as an OGC Styled Layer Descriptor 1.1, for viewers and servers that read the open standard."""

from __future__ import annotations

from xml.etree.ElementTree import Element, SubElement, indent, register_namespace, tostring

from geoagro.outputs.drawing.looks import Fill, Label, Line, Look, Marker, Style
from geoagro.values.layers import LayerSpec
from geoagro.values.reasons import Hatch

_SLD, _SE, _OGC = (f"http://www.opengis.net/{name}" for name in ("sld", "se", "ogc"))
for _prefix, _uri in (("sld", _SLD), ("se", _SE), ("ogc", _OGC)):
    register_namespace(_prefix, _uri)

_PIXEL_MM = 0.28  # the standard's nominal pixel
_HATCHES: dict[Hatch, str] = {
    "slash": "slash",
    "backslash": "backslash",
    "horizontal": "horline",
    "vertical": "line",
    "cross": "cross",
    "diagonal_cross": "x",
    "dots": "circle",
}


def sld(style: Style, spec: LayerSpec, layer: str) -> str:
    """Write `style` for the layer named `layer`."""
    root = Element(f"{{{_SLD}}}StyledLayerDescriptor", version="1.1.0")
    named = SubElement(root, f"{{{_SLD}}}NamedLayer")
    _text(named, "Name", layer)
    user = SubElement(named, f"{{{_SLD}}}UserStyle")
    _text(user, "Name", layer)
    kind = SubElement(user, _se("FeatureTypeStyle"))
    for value, (words, look) in style.looks.items():
        _rule(kind, style, value, words, look)
    if style.label is not None:
        _label_rule(kind, style.label, on_line=spec.geometry == "LineString")
    indent(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + tostring(root, encoding="unicode")


def _rule(kind: Element, style: Style, value: str, words: str, look: Look) -> None:
    rule = SubElement(kind, _se("Rule"))
    _text(rule, "Name", words)
    if style.column:
        _equals(rule, style.column, value)
    if style.closest_only:
        _text(rule, "MaxScaleDenominator", str(style.closest_only))
    for symbolizer in _symbolizers(look):
        rule.append(symbolizer)
    if isinstance(look, Marker) and look.arrow_from:
        _arrow_rule(kind, style, words, look)


def _arrow_rule(kind: Element, style: Style, words: str, look: Marker) -> None:
    """Draw a narrow triangle, turned by the column, where the column isn't empty."""
    rule = SubElement(kind, _se("Rule"))
    _text(rule, "Name", f"{words}: direction")
    none = SubElement(SubElement(SubElement(rule, f"{{{_OGC}}}Filter"), f"{{{_OGC}}}Not"), f"{{{_OGC}}}PropertyIsNull")
    SubElement(none, f"{{{_OGC}}}PropertyName").text = look.arrow_from
    if style.closest_only:
        _text(rule, "MaxScaleDenominator", str(style.closest_only))
    graphic = SubElement(SubElement(rule, _se("PointSymbolizer"), _unit(look)), _se("Graphic"))
    _mark(graphic, "triangle", look.ink, look.ink, look.size_m)
    _text(graphic, "Size", _marker_size(look, 0.6))
    turn = SubElement(graphic, _se("Rotation"))
    SubElement(turn, f"{{{_OGC}}}PropertyName").text = look.arrow_from


def _symbolizers(look: Look) -> list[Element]:
    if isinstance(look, Line):
        line = Element(_se("LineSymbolizer"))
        _stroke(line, look.ink, look.width_mm, look.dash_mm)
        return [line]
    if isinstance(look, Marker):
        point = Element(_se("PointSymbolizer"), _unit(look))
        graphic = SubElement(point, _se("Graphic"))
        _mark(graphic, look.shape, look.paint, look.ink, look.size_m)
        _text(graphic, "Size", _marker_size(look))
        return [point]
    return _polygons(look)


def _polygons(look: Fill) -> list[Element]:
    base = Element(_se("PolygonSymbolizer"))
    if look.paint != "none":
        _parameter(SubElement(base, _se("Fill")), "fill", look.paint)
    _stroke(base, look.ink, look.outline_mm)
    if not look.hatch:
        return [base]
    hatch = Element(_se("PolygonSymbolizer"))
    fill = SubElement(SubElement(hatch, _se("Fill")), _se("GraphicFill"))
    graphic = SubElement(fill, _se("Graphic"))
    mark = SubElement(graphic, _se("Mark"))
    _text(mark, "WellKnownName", _HATCHES[look.hatch])
    _stroke(mark, look.ink, 0.15)
    _text(graphic, "Size", _pixels(0.6 if look.hatch == "dots" else look.hatch_gap_mm))
    return [base, hatch]


def _unit(look: Marker) -> dict[str, str]:
    """Say that sizes are metres on the ground, where they are (symbology encoding, section on units of measure)."""
    return {"uom": "http://www.opengeospatial.org/se/units/metre"} if look.size_m else {}


def _marker_size(look: Marker, times: float = 1.0) -> str:
    return f"{times * look.size_m:g}" if look.size_m else _pixels(times * look.size_mm)


def _mark(graphic: Element, shape: str, paint: str, ink: str, size_m: float = 0.0) -> None:
    mark = SubElement(graphic, _se("Mark"))
    _text(mark, "WellKnownName", shape)
    _parameter(SubElement(mark, _se("Fill")), "fill", paint)
    if size_m:
        stroke = SubElement(mark, _se("Stroke"))
        _parameter(stroke, "stroke", ink)
        _parameter(stroke, "stroke-width", f"{0.06 * size_m:g}")
    else:
        _stroke(mark, ink, 0.2)


def _label_rule(kind: Element, label: Label, *, on_line: bool) -> None:
    rule = SubElement(kind, _se("Rule"))
    _text(rule, "Name", "label")
    if label.only:
        _equals(rule, label.only, "true")
    _text(rule, "MaxScaleDenominator", str(label.closest_scale))
    text = SubElement(rule, _se("TextSymbolizer"))
    SubElement(SubElement(text, _se("Label")), f"{{{_OGC}}}PropertyName").text = label.column
    _parameter(SubElement(text, _se("Font")), "font-size", f"{label.size_pt * 0.3528 / _PIXEL_MM:.1f}")
    placement = SubElement(text, _se("LabelPlacement"))
    SubElement(placement, _se("LinePlacement" if on_line else "PointPlacement"))
    _parameter(SubElement(text, _se("Fill")), "fill", label.ink)


def _equals(rule: Element, column: str, value: str) -> None:
    filter_ = SubElement(rule, f"{{{_OGC}}}Filter")
    equal = SubElement(filter_, f"{{{_OGC}}}PropertyIsEqualTo")
    SubElement(equal, f"{{{_OGC}}}PropertyName").text = column
    SubElement(equal, f"{{{_OGC}}}Literal").text = value


def _stroke(parent: Element, ink: str, width_mm: float, dash_mm: tuple[float, float] | None = None) -> None:
    stroke = SubElement(parent, _se("Stroke"))
    _parameter(stroke, "stroke", ink)
    _parameter(stroke, "stroke-width", _pixels(width_mm))
    if dash_mm is not None:
        _parameter(stroke, "stroke-dasharray", " ".join(_pixels(v) for v in dash_mm))


def _se(name: str) -> str:
    return f"{{{_SE}}}{name}"


def _text(parent: Element, name: str, text: str) -> None:
    SubElement(parent, _se(name)).text = text


def _parameter(parent: Element, name: str, text: str) -> None:
    SubElement(parent, _se("SvgParameter"), name=name).text = text


def _pixels(width_mm: float) -> str:
    return f"{width_mm / _PIXEL_MM:.2f}"
