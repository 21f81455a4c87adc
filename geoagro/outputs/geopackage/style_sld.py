"""A style as an OGC Styled Layer Descriptor 1.1, for viewers and servers that read the open standard."""

from __future__ import annotations

from dataclasses import dataclass
from xml.etree.ElementTree import Element, SubElement, indent, register_namespace, tostring

from geoagro.outputs.drawing.looks import OUTLINE_SHARE, Fill, Label, Line, Look, Marker, Style
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.values.base.remembering import remembered
from geoagro.values.layers import LayerSpec
from geoagro.values.reasons import Hatch
from geoagro.values.words import say

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


@dataclass(frozen=True)
class RuleWords:
    """What rules beside those of the legend are called; {mark} stands for the legend's words."""

    narrow: str
    direction: str
    label: str


def rule_words(words: Words) -> RuleWords:
    """Say them in one language."""
    return RuleWords(words(say("{mark}: narrow place")), words(say("{mark}: direction")), words(say("label")))


def sld(style: Style, spec: LayerSpec, layer: str, words: Words = ENGLISH) -> str:
    """Write `style`, whose own words are in the reader's language already, for the layer named `layer`."""
    return _sld(style, spec, layer, rule_words(words))


@remembered(64)
def _sld(style: Style, spec: LayerSpec, layer: str, said: RuleWords) -> str:
    root = Element(f"{{{_SLD}}}StyledLayerDescriptor", version="1.1.0")
    named = SubElement(root, f"{{{_SLD}}}NamedLayer")
    _text(named, "Name", layer)
    user = SubElement(named, f"{{{_SLD}}}UserStyle")
    _text(user, "Name", layer)
    kind = SubElement(user, _se("FeatureTypeStyle"))
    for value, (words, look) in style.looks.items():
        _rule(kind, style, value, (words, said), look)
    if style.label is not None:
        _label_rule(kind, style.label, said.label, on_line=spec.geometry == "LineString")
    indent(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + tostring(root, encoding="unicode")


def _rule(kind: Element, style: Style, value: str, told: tuple[str, RuleWords], look: Look) -> None:
    words, said = told
    if isinstance(look, Marker):
        _marks(kind, style, words, look, said)
        return
    rule = _begun(kind, style, words, [_equal(style.column, value)] if style.column else [])
    for symbolizer in _symbolizers(look):
        rule.append(symbolizer)


def _begun(kind: Element, style: Style, words: str, conditions: list[Element]) -> Element:
    rule = SubElement(kind, _se("Rule"))
    _text(rule, "Name", words)
    if conditions:
        filter_ = SubElement(rule, f"{{{_OGC}}}Filter")
        (filter_ if len(conditions) == 1 else SubElement(filter_, f"{{{_OGC}}}And")).extend(conditions)
    if style.closest_only:
        _text(rule, "MaxScaleDenominator", str(style.closest_only))
    return rule


def _marks(kind: Element, style: Style, words: str, look: Marker, said: RuleWords) -> None:
    """Rules for marks in the size of the usual place, and for those with a narrower one; the same for their directions."""
    for own, where in _by_place(look):
        rule = _begun(kind, style, said.narrow.format(mark=words) if own else words, where)
        share = look.filled_share / _REACH.get(look.shape, 1.0)
        rule.append(_point(look, look.shape, look.paint, share, own=own))
    if look.arrow_from:
        _directions(kind, style, said.direction.format(mark=words), look)


def _by_place(look: Marker) -> list[tuple[bool, list[Element]]]:
    """Whether the plant's own place counts, and the condition for it."""
    if not look.place_m:
        return [(False, [])]
    usual = Element(f"{{{_OGC}}}Or")
    usual.append(_null(look.place_from))
    usual.append(_compared("PropertyIsGreaterThanOrEqualTo", look.place_from, f"{look.place_m:g}"))
    narrow = _compared("PropertyIsLessThan", look.place_from, f"{look.place_m:g}")
    return [(False, [usual]), (True, [narrow])]


def _directions(kind: Element, style: Style, words: str, look: Marker) -> None:
    """Draw a small triangle, turned by the column, where the column isn't empty."""
    for own, where in _by_place(look):
        known = Element(f"{{{_OGC}}}Not")
        known.append(_null(look.arrow_from))
        rule = _begun(kind, style, words, [known, *where])
        point = _point(look, "triangle", look.ink, 0.6 * look.filled_share, own=own)
        turn = SubElement(point[0], _se("Rotation"))
        SubElement(turn, f"{{{_OGC}}}PropertyName").text = look.arrow_from
        rule.append(point)


def _symbolizers(look: Fill | Line) -> list[Element]:
    if isinstance(look, Line):
        line = Element(_se("LineSymbolizer"))
        _stroke(line, look.ink, look.width_mm, look.dash_mm)
        return [line]
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


_REACH = dict.fromkeys(("square", "half_square", "triangle", "trapezoid", "parallelogram"), 2**0.5)
"""Diameter of the circle round a shape, in its sizes, at most: marks that fit their circles never meet."""


def _point(look: Marker, shape: str, paint: str, share: float, *, own: bool) -> Element:
    """One mark that takes this share of its place; metres on the ground where it has one (symbology encoding, units)."""
    metres = {"uom": "http://www.opengeospatial.org/se/units/metre"} if look.place_m else {}
    point = Element(_se("PointSymbolizer"), metres)
    graphic = SubElement(point, _se("Graphic"))
    mark = SubElement(graphic, _se("Mark"))
    _text(mark, "WellKnownName", shape)
    _parameter(SubElement(mark, _se("Fill")), "fill", paint)
    stroke = SubElement(mark, _se("Stroke"))
    _parameter(stroke, "stroke", look.ink)
    width = SubElement(stroke, _se("SvgParameter"), name="stroke-width")
    size = SubElement(graphic, _se("Size"))
    if not look.place_m:
        width.text, size.text = _pixels(0.2), _pixels(look.size_mm * share / look.filled_share)
        return point
    for element, part in ((width, OUTLINE_SHARE * share), (size, share)):
        _of_place(element, look, part, own=own)
    return point


def _of_place(element: Element, look: Marker, share: float, *, own: bool) -> None:
    """Write a share of the usual place, or of the one in the plant's column."""
    if not own:
        element.text = f"{share * look.place_m:.4g}"
        return
    product = SubElement(element, f"{{{_OGC}}}Mul")
    SubElement(product, f"{{{_OGC}}}Literal").text = f"{share:.4g}"
    SubElement(product, f"{{{_OGC}}}PropertyName").text = look.place_from


def _label_rule(kind: Element, label: Label, words: str, *, on_line: bool) -> None:
    rule = SubElement(kind, _se("Rule"))
    _text(rule, "Name", words)
    if label.only:
        SubElement(rule, f"{{{_OGC}}}Filter").append(_equal(label.only, "true"))
    _text(rule, "MaxScaleDenominator", str(label.closest_scale))
    text = SubElement(rule, _se("TextSymbolizer"))
    SubElement(SubElement(text, _se("Label")), f"{{{_OGC}}}PropertyName").text = label.column
    _parameter(SubElement(text, _se("Font")), "font-size", f"{label.size_pt * 0.3528 / _PIXEL_MM:.1f}")
    placement = SubElement(text, _se("LabelPlacement"))
    SubElement(placement, _se("LinePlacement" if on_line else "PointPlacement"))
    _parameter(SubElement(text, _se("Fill")), "fill", label.ink)


def _equal(column: str, value: str) -> Element:
    return _compared("PropertyIsEqualTo", column, value)


def _compared(how: str, column: str, value: str) -> Element:
    compared = Element(f"{{{_OGC}}}{how}")
    SubElement(compared, f"{{{_OGC}}}PropertyName").text = column
    SubElement(compared, f"{{{_OGC}}}Literal").text = value
    return compared


def _null(column: str) -> Element:
    null = Element(f"{{{_OGC}}}PropertyIsNull")
    SubElement(null, f"{{{_OGC}}}PropertyName").text = column
    return null


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
