"""Fixed sentences about water that reports show in the reader's language."""

from __future__ import annotations

from geoagro.values.words import say

CAUTION = say(
    "Ridges, ditches, ponds and anything that holds or leads water can fail all at once and harm people below. Let a "
    "licensed professional plan and check them, ask local rules before leading water onto a neighbour or near a stream, "
    "keep off ground that has slipped, and have buried services located before digging."
)

BALANCE = {
    "runoff": say("Runoff of all ground that drains to a row."),
    "stands": say("Water standing along rows afterwards."),
    "hollows": say("Water standing between rows in closed hollows of the ground."),
    "left": say("Water that left the last row and met no further one."),
    "difference": say("What the balance leaves; rounding only."),
}
"""What is counted in each item of the balance of a storm."""
