"""What a stake-out is measured by."""

from __future__ import annotations

from geoagro.values.measures import Quantity

COMMON_STEP_M = 10.0
"""Common practice, no source."""

MARKS = Quantity("stakes", "stakes", "", "Stakes in all.")
MARKS_PER_HA = Quantity("stakes_per_ha", "stakes per hectare", "1/ha", "Stakes over row length times row spacing.")
TAPE_ONLY = Quantity("tape_only", "stakes for the tape", "", "Stakes that only the tape needs.")
OFF_TAPE = Quantity(
    "off_tape_max", "farthest off the tape", "m", "Farthest that a row lies off the tape between two stakes."
)
BEYOND = Quantity("beyond_tolerance", "tapes beyond {at:g} m", "", "Tapes farther off the row than {at:g} m.")
NEAR = Quantity(
    "below_min_spacing",
    "tapes below {at:g} m",
    "",
    "Tapes shorter than {at:g} m, where a curve or a place that needs a stake asks for it.",
)
EVEN_STEP = Quantity("even_step", "even step with as many stakes", "m", "Even step that takes as many stakes.")
EVEN_OFF_TAPE = Quantity(
    "even_off_tape", "farthest off the tape at that step", "m", "Farthest that a row lies off the tapes of that step."
)
FIXED_STEP = Quantity(
    "fixed_step",
    "longest even step within the tolerance",
    "m",
    "Longest even step that keeps every row within the tolerance; empty if none does.",
)
FIXED_PER_HA = Quantity(
    "fixed_per_ha", "stakes per hectare at that step", "1/ha", "Stakes at that step, row ends included."
)
COMMON_PER_HA = Quantity(
    "common_per_ha",
    "stakes per hectare every {at:g} m",
    "1/ha",
    "Stakes every {at:g} m (common practice, no source).",
)
COMMON_OFF_TAPE = Quantity(
    "common_off_tape", "farthest off tapes of {at:g} m", "m", "Farthest that a row lies off those tapes."
)
MARKS_AT_TOLERANCE = Quantity(
    "stakes_at_tolerance", "stakes at a tolerance of {at:g} m", "", "Stakes in all if the tolerance were {at:g} m."
)
ROW_LENGTH = Quantity("row_length", "row length", "m", "Length of all rows.")
WALK = Quantity("walk", "walk", "m", "Walk over all stakes, without ways to and fro.")
BETWEEN = Quantity("between_rows", "walk between rows", "m", "Part of the walk between rows, in the planned order.")
BETWEEN_BACK_AND_FORTH = Quantity(
    "between_back_and_forth", "the same, back and forth", "m", "The same by row number, back and forth."
)
BETWEEN_ONE_WAY = Quantity(
    "between_one_way", "the same, one way", "m", "The same by row number, each row from its start."
)
BETWEEN_BOUND = Quantity(
    "between_bound", "the same, at least", "m", "The same: no order of whole rows can be shorter than this."
)
HOURS = Quantity(
    "hours",
    "hours",
    "h",
    "Walking and setting stakes, ways from the start included; a row levelled several times counts as often.",
)
DAYS = Quantity("days", "days", "", "Days for the given crews.")
