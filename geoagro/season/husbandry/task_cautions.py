"""The usual caution beside each task: it defers to local rules and to people who are trained for it."""

from __future__ import annotations

from collections.abc import Iterable

from geoagro.season.crops import SeasonCrop
from geoagro.values.words import in_a_row, say

SERVICES = say("Have buried pipes and cables located before digging.")
SLOPE = say(
    "Machines on slopes overturn: keep to the maker's limits and local rules, drive up and down, never work alone."
)
TOOLS = say("Sharp tools: keep a machete's length from each other, wear boots and eye protection.")
CHAINSAW = say("Felling and chainsaws: trained and licensed people only, nobody within two tree lengths.")
LIFTING = say("Lift no more than 23 kg in good posture (NIOSH load constant), less if stooped or far from the body.")
WATER = say("Keep soil, manure and wash water out of streams; keep the distance to water that local rules ask for.")
HEIGHT = say("Work from the ground with long tools where it can be done; ladders on firm ground only.")


def task_caution(task: str, crop: SeasonCrop | None, *, machine: bool = False) -> str:
    """Words of caution for a task on a crop (None for work on whole beds); empty where there is no usual one."""
    tree = crop is not None and crop.habit == "tree"
    felled = crop is not None and task == "harvest" and crop.felled_at_harvest
    parts = {
        "fence": [SERVICES],
        "prepare": [SERVICES, TOOLS, SLOPE if machine else "", WATER],
        "plant": [SERVICES if tree else "", (crop.caution or "") if crop else ""],
        "prune": [TOOLS, HEIGHT if tree else "", (crop.caution or "") if crop else ""],
        "harvest": [CHAINSAW if felled else HEIGHT if tree else "", LIFTING, (crop.caution or "") if crop else ""],
        "replace": [SERVICES if tree else "", (crop.caution or "") if crop else ""],
        "mulch": [TOOLS],
        "weed": [TOOLS],
        "cut": [TOOLS, SLOPE if machine else ""],
        "fell": [CHAINSAW, TOOLS],
        "water": [LIFTING],
    }.get(task, [])
    return in_a_row(*parts)


def work_cautions(tasks: Iterable[str], crops: Iterable[SeasonCrop], *, machine: bool) -> list[tuple[str, str, str]]:
    """List the cautions for the work that the plan holds, as findings, each said once."""
    held, grown = set(tasks), list(crops)
    trees = any(crop.habit == "tree" for crop in grown)
    felled = "fell" in held or any(crop.felled_at_harvest for crop in grown)
    rows = [
        (say("digging"), SERVICES, "prepare" in held),
        (say("slopes"), SLOPE, machine and "prepare" in held),
        (say("tools"), TOOLS, bool({"weed", "prune", "mulch", "cut", "fell"} & held)),
        (say("felling"), CHAINSAW, felled),
        (say("trees"), HEIGHT, trees and bool({"prune", "harvest"} & held)),
        (say("lifting"), LIFTING, "harvest" in held),
        (say("water"), WATER, "prepare" in held),
    ]
    return [("caution", subject, text) for subject, text, applies in rows if applies]
