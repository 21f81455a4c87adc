"""What the table of rates calls its assumptions, and the units of their values."""

from __future__ import annotations

from geoagro.values.words import say

ITEMS = {
    "bare weeks per round": say("bare weeks per round"),
    "bearing by year": say("bearing by year"),
    "carry hours": say("carry hours"),
    "correlation of crops": say("correlation of crops"),
    "cover that shuts weeds out": say("cover that shuts weeds out"),
    "cut hours": say("cut hours"),
    "cuts": say("cuts"),
    "deaths by year": say("deaths by year"),
    "discount rate": say("discount rate"),
    "distribution": say("distribution"),
    "fell hours": say("fell hours"),
    "harvest hours": say("harvest hours"),
    "hours": say("hours"),
    "labour range": say("labour range"),
    "lasts through the years": say("lasts through the years"),
    "losses": say("losses"),
    "material cost": say("material cost"),
    "mulch hours": say("mulch hours"),
    "nursery hours": say("nursery hours"),
    "plant hours": say("plant hours"),
    "prepare hours": say("prepare hours"),
    "price": say("price"),
    "prune hours": say("prune hours"),
    "prunings": say("prunings"),
    "region yield": say("region yield"),
    "sold": say("sold"),
    "sow hours": say("sow hours"),
    "weed hours": say("weed hours"),
    "wood": say("wood"),
    "wood price": say("wood price"),
    "yield": say("yield"),
    "yield in company": say("yield in company"),
    "frost_tender": say("killed by frost"),
    "nursery_losses": say("losses in the nursery"),
    "nursery_weeks": say("weeks in the nursery"),
    "per_mother": say("pieces per mother plant"),
    "prune_rounds": say("prunings"),
    "slack_weeks": say("weeks of slack"),
}
"""What the table of rates calls an assumption."""

UNITS = {
    "% a year": say("% a year"),
    "% of library yields": say("% of library yields"),
    "% replaced a year on": say("% replaced a year on"),
    "1 yes, 0 no": say("1 yes, 0 no"),
    "a year": say("a year"),
    "dry kg per m³": say("dry kg per m³"),
    "h per grown place and round": say("h per grown place and round"),
    "h per grown plant": say("h per grown plant"),
    "h per kg": say("h per kg"),
    "h per m²": say("h per m²"),
    "h per place": say("h per place"),
    "h per plant": say("h per plant"),
    "kg fresh per grown plant and pruning": say("kg fresh per grown plant and pruning"),
    "kg per place": say("kg per place"),
    "pieces": say("pieces"),
    "rounds a year": say("rounds a year"),
    "weeks": say("weeks"),
    "months": say("months"),
    "x rates": say("x rates"),
    "x yield in company": say("x yield in company"),
    "money": say("money"),
    "currency": say("currency"),
}
MONEY_UNITS = {
    "money per kg": say("{money} per kg"),
    "money per m³": say("{money} per m³"),
    "money per piece or kg": say("{money} per piece or kg"),
}
"""Units with the design's currency."""
