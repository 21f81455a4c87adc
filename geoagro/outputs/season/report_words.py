"""What the template of the season report says by itself: headings, notes, descriptions of charts, how it is computed."""

from __future__ import annotations

from geoagro.outputs.words.say import Words
from geoagro.values.words import say

_TEXTS = {
    "running": say("Crop and work plan"),
    "foot": say(
        "Prices, wages and what the table of rates calls yours are the user's assumptions, all else is the program's."
    ),
    "first": say("What to know first"),
    "no_finding": say("No finding against the plan."),
    "calendar": say("Calendar"),
    "calendar_alt": say("Chart: when each task is done, month by month; the days stand in the table below."),
    "cautions": say("Take care at these tasks"),
    "cautions_note": say("Usual cautions; local rules and licensed practice go first."),
    "material": say("Planting material"),
    "material_note": say(
        "Total = pieces that must stand + spares for the expected losses. Mothers: plants (of cassava: stems) to cut the "
        "total from."
    ),
    "orders": say("What to order by when"),
    "planting_days": say("What to bring on which day"),
    "work": say("Work"),
    "work_alt": say("Chart: person-days of work by week against what the crew can do."),
    "work_note": say(
        "Hours of one person. A day's work never passes what the crew can do; what doesn't fit moves to the next day, rows "
        "in walking order."
    ),
    "harvest": say("Harvest"),
    "harvest_alt": say("Chart: harvest by month and crop."),
    "zones": say("By zone"),
    "zones_note": say(
        "Over all years of the plan, likely. Work on a whole bed or on the field is shared out by the plants that stand "
        "there; material and other costs aren't."
    ),
    "money": say("Money"),
    "money_alt": say("Chart: cash balance over the years, low, likely and high."),
    "money_note": say(
        "{money}. Low: low yields, low prices, high labour; high: the reverse. 1 of 10, median, 9 of 10: balances of the "
        "simulated runs."
    ),
    "months": say("Month by month in the first two years"),
    "sensitivity_alt": say("Chart: by how much single assumptions change the result."),
    "worth": say("Worth"),
    "beds": say("Bed use by month"),
    "beds_alt": say("Chart: which crops stand in the beds, month by month."),
    "nutrients": say("Nutrients given and taken"),
    "nutrients_note": say(
        "kg, low to high estimate. Given: prunings left as mulch; taken: with the harvest. Crops of which nothing is known "
        "are missing, as is what soil, rain and fixing give; a soil test decides."
    ),
    "wood": say("Wood of felled trees"),
    "wood_note": say(
        "Stem and branches, low to high, by three published rules from height and crown as the record lets them grow. Trees "
        "whose yield is their wood stand under Harvest. Sold where the design gives a price per m³."
    ),
    "rates": say("Rates and assumptions"),
    "how": say("How it is computed"),
}

_HOW = (
    (
        say("Material."),
        say(
            "Places × pieces per place / (1 − losses), rounded up once per crop, so that every planting day has at least "
            "what it needs."
        ),
    ),
    (
        say("Levelling."),
        say(
            "Each day the crew takes the most urgent of the tasks that may be done (earliest latest day first, rows in "
            "walking order) as long as it has hours. For one crew this keeps the largest lateness as small as it can be "
            "(Horn 1974)."
        ),
    ),
    (
        say("Weeding."),
        say(
            "A round falls due each time bare share × weeks since the last round reaches the limit of the design file; its "
            "hours scale with the bare share."
        ),
    ),
    (
        say("Harvest."),
        say(
            "Places × yield × share of the full yield in that year of the plant's life, in the months in which the levelled "
            "plan harvests."
        ),
    ),
    (
        say("Worth."),
        say(
            "Net present value: monthly flows discounted to the first month. Internal rate of return: given only where it is "
            "unique. Break-even: first month from which the balance stays at or above zero to the end."
        ),
    ),
    (
        say("Simulation."),
        say(
            "Yields and prices are drawn anew for each crop and year, one labour factor per run; yields of one year move "
            "together (weather) with the stated correlation. PERT is the beta distribution with mean (low + 4 likely + high) "
            "/ 6."
        ),
    ),
)


def template_words(words: Words, currency: str) -> dict[str, object]:
    """All of it in one language, by the names that the template uses."""
    said: dict[str, object] = {
        key: words(text, money=currency) if key == "money_note" else words(text) for key, text in _TEXTS.items()
    }
    return said | {"how_parts": [[words(head), words(text)] for head, text in _HOW]}
