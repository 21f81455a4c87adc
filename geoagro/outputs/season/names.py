"""What tasks, crops, plantings and kinds of beds are called in a season plan's products."""

from __future__ import annotations

from dataclasses import dataclass

from geoagro.outputs.season.rate_names import ITEMS, MONEY_UNITS, UNITS
from geoagro.outputs.tables.cited import cited
from geoagro.outputs.words.say import Words
from geoagro.season.records.tables import COVER_PLANTING, SeasonPlan
from geoagro.values.rules.bed_kinds import BED_KINDS
from geoagro.values.rules.crop_words import MATERIALS
from geoagro.values.words import say
from geoagro.values.zones import REST

TASK_WORDS = {
    "fence": say("Fencing"),
    "nursery": say("Nursery"),
    "prepare": say("Bed preparation"),
    "plant": say("Planting"),
    "replace": say("Replacing"),
    "water": say("Watering"),
    "mulch": say("Mulching"),
    "weed": say("Weeding"),
    "cut": say("Cutting free beds"),
    "prune": say("Pruning"),
    "fell": say("Felling"),
    "harvest": say("Harvest"),
}


LEVELS = {"warning": say("Warning"), "caution": say("Caution"), "note": say("Note")}

CELLS: dict[str, dict[str, str]] = {
    "task": TASK_WORDS,
    "bed_kind": {kind.code: kind.one for kind in BED_KINDS.values()},
    "severity": LEVELS,
    "item": ITEMS,
    "unit": UNITS,
    "way": {"given": say("given"), "taken": say("taken")},
    "use": {"sold": say("sold"), "own use": say("own use")},
    "whose": {"yours": say("yours"), "library": say("library"), "both": say("both")},
    "material": dict(MATERIALS),
}
"""What the words that tables hold by a fixed list are called, by column."""
_NAMES = frozenset(["bed", "row", "name", "code"])
"""Columns whose texts are names, never a message."""


@dataclass(frozen=True)
class Names:
    """Names of one plan in one language."""

    plan: SeasonPlan
    words: Words

    def crop(self, code: str) -> str:
        """Name of a crop by its code, with a capital."""
        return self.words.title(self.words.crop(self.plan.names.get(code, code)))

    def planting(self, crop: str, planting: str) -> str:
        """Name a planting: the crop, and behind it the planting's own name where that says something else."""
        plain = {text.replace("_", " ").lower() for text in (crop, self.plan.names.get(crop, crop))}
        name = self.crop(crop)
        return name if planting.replace("_", " ").lower() in plain else f"{name} ({self.label(planting)})"

    def label(self, planting: str) -> str:
        """Name of a planting: the user's own, or the crops that make it up."""
        codes = planting.split("+")
        if all(code in self.plan.names for code in codes):
            return " + ".join(self.words.crop(self.plan.names[code]) for code in codes)
        return self.words(planting) if planting == COVER_PLANTING else planting

    def crops(self, codes: str) -> str:
        """Names of crops joined by +."""
        return " + ".join(self.words.crop(self.plan.names.get(code, code)) for code in codes.split("+") if code)

    def subject(self, level: str, about: str) -> str:
        """Say what a finding is about; a caution "water" is about streams, not about the task of watering."""
        of_task = level == "caution" and about not in self.plan.names
        return self.words(about) if of_task else self.cell("subject", about)

    def cell(self, column: str, text: str) -> str:
        """Say the text of a table's cell: fixed lists and names by column, sentences as they are told."""
        if (name := self._name(column, text)) is not None:
            return name
        if column == "unit" and text in MONEY_UNITS:
            return self.words(MONEY_UNITS[text], money=self.plan.rule.currency)
        if column == "source":
            return cited(text, self.words)
        if column == "notes":
            return self.words.again(text)  # sentences with numbers, as tables keep them
        return self.words(CELLS[column].get(text, text) if column in CELLS else text)

    def _name(self, column: str, text: str) -> str | None:
        """Give the name that stands in a cell; None where it holds other words."""
        if column in ("crop", "subject") and text in self.plan.names:
            return self.crop(text)
        if column in ("crops", "cover_crop"):
            return self.crops(text)
        if column in ("planting", "next_planting", "subject") and (column != "subject" or self.label(text) != text):
            return self.label(text)
        if column == "subject" and text in TASK_WORDS:
            return self.task(text)
        return text if column in _NAMES or (column == "zone" and text != REST) else None

    def task(self, task: str) -> str:
        """Name of a task, with a capital."""
        return self.words(TASK_WORDS[task])

    def beds(self, kind: str) -> str:
        """Name of a kind of bed, in the plural; of a task that belongs to no bed (a fence) the field's."""
        return self.words(BED_KINDS[kind].many if kind else say("whole field"))
