"""The layers and tables of a laid-out field, lowest first, each with its look."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

from geoagro.light.records.bed_light import BED_LIGHT, LIGHT_MONTHS
from geoagro.outputs.drawing import looks
from geoagro.outputs.drawing.crop_looks import crop_look, crop_numbers
from geoagro.outputs.drawing.looks import Label, Style
from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.outputs.geopackage.provenance import FINDINGS, SOURCE, findings_table, source_table
from geoagro.outputs.layout.frames import exclusions_frame, field_frame, plantable_frame
from geoagro.outputs.layout.ground_layers import gully_layers
from geoagro.outputs.layout.hand_layers import hand_layers
from geoagro.outputs.layout.mark_sizes import usual_places_m
from geoagro.plants.records.recipe_analysis import RECIPE_SPECS
from geoagro.values.beds import BEDS, PATHS, TREE_BEDS
from geoagro.values.design import Design
from geoagro.values.ground import GULLIES, PLANTABLE, UNPLANTED
from geoagro.values.layers import LayerSpec
from geoagro.values.layout import AREA_SUMMARY, CROP_SUMMARY, LAYOUT_QUALITY, ROW_SUMMARY, Layout
from geoagro.values.plants import PLANTS, Plants
from geoagro.values.reasons import reason_of
from geoagro.values.results.seal import SEALS
from geoagro.values.results.stored_plants import StoredPlants
from geoagro.values.rows import GUIDES, ROW_LIMITS, TREE_ROWS
from geoagro.values.site import EXCLUSIONS, FIELD
from geoagro.values.terrain import CONTOURS
from geoagro.values.words import CropName, Sentence, say
from geoagro.values.zones import ZONE_AREAS, ZONE_CROPS, ZONES
from geoagro.yields.records.tables import LAND_EQUIVALENT, YIELDS_IN_COMPANY

# the guide's tables come from this list
LAYOUT_SPECS: tuple[LayerSpec, ...] = (
    FIELD, EXCLUSIONS, GULLIES, PLANTABLE, UNPLANTED, CONTOURS, TREE_ROWS, ROW_LIMITS, GUIDES, TREE_BEDS, BEDS, PATHS, ZONES, PLANTS,
    AREA_SUMMARY, CROP_SUMMARY, ROW_SUMMARY, LAYOUT_QUALITY, ZONE_AREAS, ZONE_CROPS, FINDINGS, SOURCE, SEALS, *RECIPE_SPECS,
    BED_LIGHT, LIGHT_MONTHS, YIELDS_IN_COMPANY, LAND_EQUIVALENT,
)  # fmt: skip


def layout_layers(layout: Layout, *, design_text: str | None = None) -> list[OutputLayer]:
    """Everything that `layout.gpkg` holds, in drawing order, the lowest first, tables last.

    Raises OutputError from the writer where two crops would share a layer name.
    """
    groups = {
        say("Ground"): _ground(layout),
        say("Rows and beds"): _strips(layout),
        say("Field"): _zones(layout),
        say("Plants"): plant_layers(layout.design, layout.plants),
        say("Tables"): _tables(layout, design_text),
    }
    return [replace(layer, group=layer.group or group) for group, layers in groups.items() for layer in layers]


def _ground(layout: Layout) -> list[OutputLayer]:
    reasons = sorted(set(layout.unplanted["reason"]))
    return [
        OutputLayer(PLANTABLE, plantable_frame(layout), Style.plain(say("Plantable"), looks.PLANTABLE)),
        OutputLayer(
            UNPLANTED,
            layout.unplanted,
            Style({reason: looks.reason_look(reason) for reason in reasons}, column="reason"),
            note=say("Every part of the field that is not tree bed, bed or path, with the reason."),
        ),
        OutputLayer(
            EXCLUSIONS,
            exclusions_frame(layout),
            Style(
                {kind: (reason_of(kind).words, look) for kind, look in looks.EXCLUSIONS.items()},
                column="kind",
                label=Label("name", looks.INK),
            ),
        ),
        *gully_layers(layout.ground),
    ]


def _strips(layout: Layout) -> list[OutputLayer]:
    beds = layout.beds
    heights = Label("elevation_m", looks.INDEX_CONTOUR.ink, size_pt=7, decimals=2, only="is_index")
    contours = {"true": (say("Every fifth contour"), looks.INDEX_CONTOUR), "false": (say("Contour"), looks.CONTOUR)}
    return [
        OutputLayer(PATHS, beds.paths, Style.plain(say("Path"), looks.PATH)),
        OutputLayer(
            BEDS,
            beds.beds,
            Style.plain(say("Vegetable bed"), looks.BED, label=Label("bed", looks.INK, closest_scale=300)),
        ),
        OutputLayer(TREE_BEDS, beds.tree_beds, Style.plain(say("Tree bed"), looks.TREE_BED)),
        OutputLayer(CONTOURS, layout.contours, Style(contours, column="is_index", label=heights), group="Ground"),
        OutputLayer(
            TREE_ROWS,
            layout.rows.frame,
            Style.plain(
                say("Tree row"), looks.TREE_ROW, label=Label("row", looks.INK, closest_scale=2500, at_start=True)
            ),
            note=Sentence(
                "Rows {spacing:g} m apart; each runs with the upslope side on its left.", spacing=layout.rows.spacing_m
            ),
        ),
        *hand_layers(layout.rows),
        OutputLayer(FIELD, field_frame(layout), Style.plain(say("Field"), looks.FIELD), group="Field"),
    ]


def _zones(layout: Layout) -> list[OutputLayer]:
    if layout.zones is None:
        return []
    style = Style.plain(say("Zone"), looks.ZONE, label=Label("zone", looks.INK))
    return [OutputLayer(ZONES, layout.zones.zones, style)]


def plant_layers(design: Design, plants: Plants | StoredPlants) -> list[OutputLayer]:
    """Layers of plants, one for each crop, in order of crop code."""
    layers: list[OutputLayer] = []
    places, by_crop = usual_places_m(plants), plants.by_crop()
    numbers = crop_numbers(by_crop)
    for crop, frame in by_crop.items():
        own = CropName(crop_words(design, crop))
        turned, stratum = plants.facing_and_stratum(crop)
        faces = "bearing_deg" if turned else ""
        look = crop_look(numbers[crop], stratum, arrow_from=faces, place_m=places[crop])
        layers.append(replace(bare_plant_layer(design, crop, frame), style=Style.plain(own, look, closest_only=10_000)))
    return layers


def bare_plant_layer(design: Design, crop: str, frame: Any) -> OutputLayer:
    """Layer of the plants of a crop that nothing is known of yet but its name."""
    own = CropName(crop_words(design, crop))
    return OutputLayer(
        PLANTS,
        frame,
        name=plants_layer(crop),
        title=Sentence("Plants: {crop}", crop=own),
        note=Sentence("Planting points of {crop}; drawn when zoomed in closer than 1:10 000.", crop=own),
    )


def plants_layer(crop: str) -> str:
    """Name a crop's layer: its code in small letters, any sign between letters and digits a low line.

    >>> plants_layer("Sweet potato")
    'plants_sweet_potato'
    """
    plain = re.sub(r"[\W_]+", "_", crop.lower()).strip("_")
    return f"plants_{plain}"


def crop_words(design: Design, crop: str) -> str:
    """Name of a crop for people: from the design file, else its code in words."""
    own = design.crops.get(crop)
    return (own.name if own else None) or crop.replace("_", " ").replace("-", " ")


def _tables(layout: Layout, design_text: str | None) -> list[OutputLayer]:
    tables = layout.tables
    zones = layout.zones
    by_zone = [] if zones is None else [OutputLayer(ZONE_AREAS, zones.areas), OutputLayer(ZONE_CROPS, zones.crops)]
    return [
        OutputLayer(AREA_SUMMARY, tables.area_summary),
        OutputLayer(CROP_SUMMARY, tables.crop_summary),
        OutputLayer(ROW_SUMMARY, tables.row_summary),
        OutputLayer(LAYOUT_QUALITY, tables.layout_quality.frame(LAYOUT_QUALITY)),
        *by_zone,
        OutputLayer(FINDINGS, findings_table(layout)),
        OutputLayer(SOURCE, source_table(layout, design_text)),
    ]
