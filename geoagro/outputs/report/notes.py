"""Standing words of a report: how things are measured, what terms mean, where the limits lie."""

from __future__ import annotations

from geoagro.outputs.words.say import Words
from geoagro.reports.records.account import Account
from geoagro.values.words import say


def methods(account: Account, words: Words) -> list[str]:
    """How the numbers came about."""
    return [
        words(
            say(
                "All geometry is in {crs}. Areas on the map are areas of the drawn polygons in that map projection; each is "
                "rounded to 0.1 m² once, and sums are taken of the rounded figures."
            ),
            crs=account.crs_name,
        ),
        words(
            say(
                "Areas on the slope are the map area divided by the cosine of the slope: every raster cell counts with the "
                "exact part of it that lies inside the polygon, times the root of 1 + slope². A cell without slope takes "
                "that of the nearest cell that has one."
            )
        ),
        words(
            say(
                "Areas on the ellipsoid are bounded by geodesics between the vertices (Karney, Algorithms for geodesics, "
                "Journal of Geodesy 87, 2013) and don't depend on the map projection."
            )
        ),
        words(
            say(
                "The area's uncertainty from boundary points follows the law of error propagation: a vertex moves the area "
                "by half the distance between its two neighbours. The simulation moves all points at random and measures again."
            )
        ),
        words(
            say(
                "Tree canopy is the ground under circles of each tree's crown width at full size, overlaps counted once, cut "
                "at the boundary."
            )
        ),
    ]


def term_list(words: Words) -> list[tuple[str, str]]:
    """Terms and their meanings."""
    pairs = (
        (say("Gross field"), say("all ground inside the boundary; holes in it don't count.")),
        (say("Plantable ground"), say("gross field less setback, exclusions, tracks, and ground too steep or without elevation.")),
        (say("Planted area"), say("tree beds and vegetable beds that carry at least one plant, at their working width; paths don't count.")),
        (say("Plant"), say("a planting point of the layout; several seeds at one point count once.")),
        (say("Tree row"), say("the line in the middle of a tree bed; its length is horizontal.")),
        (say("Density"), say("plants divided by an area on the map; the area is always named.")),
    )  # fmt: skip
    return [(words(term), words(meaning)) for term, meaning in pairs]


def limits(words: Words) -> list[str]:
    """Say what the report does not show."""
    texts = (
        say("A layout is a plan. Only a survey shows what was planted and what is alive."),
        say("Plants that follow each other in the same place over the years are all counted, each once."),
        say("Boundaries are as given in the file; this report doesn't prove a right to the land."),
        say(
            "Heights and slopes are as good as their source; ditches and banks narrower than a raster cell don't show."
        ),
        say("Crown widths are those of grown plants from the design or the crop library, not measured ones."),
    )
    unread = say("The texts in this language have not been reviewed by a native practitioner yet.")
    return [words(text) for text in (*texts, *(() if words.is_reviewed else (unread,)))]
