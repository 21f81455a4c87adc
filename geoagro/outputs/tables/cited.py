"""Where a figure comes from, in the reader's language.

What we say of a source (from memory, by rule, reckoned, as another crop) is told like any other text; works and texts that are
cited stay as they are called, so that a reader finds them.
"""

from __future__ import annotations

import re

from geoagro.outputs.words.recognised import again, recogniser_of
from geoagro.outputs.words.say import Words
from geoagro.values.words import CropName, say

_OURS = frozenset([
    say("from memory, not looked up"),
    say("from memory, common knowledge of plant safety"),
    say("common practice, no source"),
    say("common practice of the trade and the planting tables named beside the distance: grafted or budded trees"),
    say("default, no source"),
    say("design file"),
    say("crop record"),
    say("light model, guide: yields"),
    say("not pruned"),
    say("held for tender, the careful side: nothing is known"),
    say("by definition: what is eaten lies in the ground (uproot), is leaf, stem or wood (cut), or is fruit or seed (pick)"),
    say("by rule: one plant at each place"),
    say("by rule: set upright, roots all round"),
    say("by rule: leaves from the ground up"),
    say("by rule: a tree's leaves begin at a fifth of its height (from memory)"),
    say("by rule: {ratio:g} x the radius of the crown (Gilman 1988; Tumber-Davila et al. 2022)"),
    say("reckoned: the crown that just covers the ground at usual_per_m2, so as sure as that value"),
    say(
        "reckoned: half of the time to the first harvest, as full cover comes in {title} (mean share of the initial and development "
        "stages of its annual crops {share:.2f})"
    ),
    say(
        "reckoned: {ratio:g} x the radius of the crown; {low:.0f}-{high:.0f} % of the roots of two tree species lay beyond the drip "
        "line ({title}), roots reach about twice as far as the crown ({name})"
    ),
    say("half of the farthest spread of {name} m ({title})"),
    say("half of the farthest spread of {name} feet ({title})"),
    say("half of the farthest spread of {name} inches ({title})"),
    say("half of the farthest spread of fibrous roots, {name} m ({title})"),
    say(
        "half of the farthest usual spread of {name} m from the stem ({title}); another has {share:.0f} % of the roots within "
        "{near:.1f} m"
    ),
    say("taken as {crop} in {title}"),
    say("{title}; life of the stand from memory"),
    say("practice; slanted cuttings root to one side ({title})"),
    say("practice; {title} gives {name} days, {names} first harvest at {low:.0f}-{high:.0f} months"),
    say("{title}: tonnes over hectares at usual_per_m2, a national average; low and high are half and twice of it, by rule"),
    say("grown through frosty winters in the region that the planting table is for ({title})"),
    say("forest or hedge tree of regions with frosty winters, as in the text named beside its height"),
    say("two-wheel tractor, from memory, not looked up"),
    say("brush cutter or mower, from memory, not looked up"),
    say("posts and wire by hand, from memory, not looked up"),
    say("{low:.0f}-{high:.0f} litres by can from nearby water, from memory, not looked up"),
    say(
        "per m² of the tree's side view; an apple of {wide:g} x {high:g} m takes {n:.0f} minutes, from memory, not looked up; "
        "here {area:g} m²"
    ),
    say(
        "per m² of the height squared; {hours:.1f} h for a tree of {high:g} m by saw and axe, from memory, not looked up; "
        "here {here:g} m"
    ),
    say(
        "per m² of the height squared; half an hour for {high:g} m by chainsaw, from memory, not looked up; here {here:g} m"
    ),
    say("most broadleaved species lie between, from memory; give your own"),
    say("{title}; setting the tree from memory"),
    say("{title}; lifting from memory"),
    say("{title}; other vegetables: common practice"),
    say("{n:.0f} m and back at {speed:g} km/h with {weight:g} kg (most that NIOSH allows)"),
    say("stem of {long:g} m in cuttings of {short:g} m: {told}"),
    say("cuttings of {low:.0f}-{high:.0f} cm from a stem of {long:g} m give {least:.0f}-{most:.0f} pieces ({title})"),
    say("{source}; scaled to {pct:g} % for the region (design file)"),
])  # fmt: skip
"""What we say ourselves; places named title, name or names hold what is cited."""
_AS_ANOTHER = re.compile(r"as (?P<within>in )?(?P<crop>\w+)(?:: (?P<told>.+))?", re.DOTALL)
_AS, _AS_IN, _ALIKE = say("as {crop}: {told}"), say("as in {name}: {told}"), say("as {crop}")
"""Too few letters to be looked for like the others."""
_RANGED = re.compile(r"(?P<source>.+) \(range (?P<low>[\d.e+-]+)-(?P<high>[\d.e+-]+)\)", re.DOTALL)


def cited(source: str, words: Words) -> str:
    """Say where a figure comes from, a range behind it apart: tables hold both as one text.

    >>> cited("from memory, not looked up (range 0.06-0.24)", Words("es"))
    'de memoria, sin consultar (rango 0,06-0,24)'
    >>> cited("FAO Better Farming Series 23 (30-52 weeks in the nursery)", Words("es"))
    'FAO Better Farming Series 23 (30-52 weeks in the nursery)'
    """
    ranged, another = _RANGED.fullmatch(source), _AS_ANOTHER.fullmatch(source)
    if another is not None and ranged is None:
        told, crop = cited(another["told"] or "", words), another["crop"]
        if not told:
            return words(_ALIKE, crop=CropName(crop))
        return words(_AS_IN, name=crop, told=told) if another["within"] else words(_AS, crop=CropName(crop), told=told)
    if ranged is None:
        return again(source, recogniser_of(_OURS), words)
    message = say("{source} (range {low:.3g}-{high:.3g})")
    told = cited(ranged["source"], words)
    return words(message, source=told, low=float(ranged["low"]), high=float(ranged["high"]))
