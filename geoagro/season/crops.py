"""What the season needs to know of each crop: the recipe's values, the defaults, the user's own on top."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from geoagro.errors import DesignError
from geoagro.season import defaults as d
from geoagro.season.husbandry import work_rates as w
from geoagro.values.recipe import Crop
from geoagro.values.rules.care import prunings_a_year, serves
from geoagro.values.rules.crop_notes import notes_of
from geoagro.values.season import CropSeason, Hours, Range, SeasonRule, Task
from geoagro.values.words import Sentence, say

OWN = say("design file")


@dataclass(frozen=True)
class SeasonCrop:
    """One crop with every value settled; `sources` tells per item its value, unit and source."""

    code: str
    name: str
    habit: str
    material: str
    per_place: int
    piece_g: float | None
    losses: float
    per_mother: int
    nursery_days: int
    nursery_losses: float
    slack_days: int
    frost_tender: bool
    perennial: bool
    bearing: tuple[float, ...]
    harvest_months: tuple[int, ...]
    picked: bool
    prune_rounds: int
    is_tree: bool
    felled_at_harvest: bool
    fell_h: float
    coppice_years: int | None
    deaths: tuple[float, ...]
    yield_kg: Range | None
    price: Range | None
    sold: float
    unit_cost: float | None
    plant_h: float
    nursery_h: float
    prune_h: float
    full_days: int
    harvest_h_per_kg: float
    family: str
    weekly_kg: float | None
    keeps_days: tuple[int, int] | None
    taken_kg_per_t: tuple[tuple[float, float], ...] | None
    caution: str | None
    order_caution: str | None
    notes: str
    pack: int | None
    prunings_kg: float | None
    coppice_kg: float | None
    height_m: float = 0.0
    crown_m: float = 0.0
    wood_kg_per_m3: Range = d.WOOD_KG_PER_M3[0]
    wood_price: Range | None = None
    sources: tuple[tuple[str, str, str, str], ...] = field(default=())

    def whose(self, item: str) -> str:
        """Say whose value an item is: 'yours' or the 'library' 's."""
        return "yours" if any(row[0] == item and row[3] == OWN for row in self.sources) else "library"

    @property
    def weighed(self) -> bool:
        """Whether material is bought by weight (seed, setts, rhizomes) rather than by the piece."""
        return self.piece_g is not None and self.material in {"seed", "sett", "rhizome", "set"}


def season_crops(codes: Iterable[str], crops: Mapping[str, Crop], rule: SeasonRule) -> dict[str, SeasonCrop]:
    """Settle the values of each crop code that stands in the field.

    Raises
    ------
    DesignError
        Where a code is not among `crops`, or the recipe leaves out what the season can't do without.
    """
    wanted = sorted(set(codes))
    missing = [code for code in wanted if code not in crops]
    if missing:
        raise DesignError(f"No crop record for {', '.join(missing)}; add it under `crops` in the design file.")
    return {code: _settle(code, crops[code], rule.crops.get(code, CropSeason()), rule) for code in wanted}


def _settle(code: str, crop: Crop, own: CropSeason, rule: SeasonRule) -> SeasonCrop:
    _need(code, crop)
    hours = rule.hours
    notes = _Notes(code, own, hours, rule.region_yield_pct / 100)
    assert crop.material is not None and crop.habit is not None  # needed above
    material, habit = crop.material, crop.habit
    bearing = _bearing(crop, own, notes)
    harvest = _yield(crop, own, notes)
    return SeasonCrop(
        code=code,
        name=crop.name or code,
        habit=habit,
        material=material,
        per_place=crop.plants_per_place or 1,
        piece_g=crop.material_g / (crop.plants_per_place or 1) if crop.material_g else None,
        losses=notes.percent("losses", own.losses_pct, d.LOSSES[material]),
        per_mother=int(notes.pick("per_mother", _per_mother(crop, material), "pieces")),
        nursery_days=round(7 * notes.pick("nursery_weeks", _nursery_weeks(crop, material, habit), "weeks")),
        nursery_losses=notes.percent("nursery_losses", own.nursery_losses_pct, d.NURSERY_LOSSES),
        slack_days=round(7 * notes.pick("slack_weeks", d.SLACK_WEEKS, "weeks")),
        frost_tender=bool(notes.pick("frost_tender", _tender(crop), "1 yes, 0 no")),
        perennial=bool(bearing),
        bearing=bearing,
        harvest_months=tuple(sorted(set(own.harvest_months or range(1, 13)))),
        picked=crop.harvest == "pick",
        prune_rounds=int(notes.pick("prune_rounds", _prune_rounds(crop, own), "rounds a year")),
        is_tree=habit == "tree",
        felled_at_harvest=_felled_at_harvest(crop, bearing, harvest),
        fell_h=_fell_hours(crop, own, rule, notes),
        coppice_years=own.coppice_years,
        deaths=_deaths(habit, bearing, own, notes),
        yield_kg=harvest,
        price=own.price,
        sold=1.0 if own.sold_pct is None else own.sold_pct / 100,
        unit_cost=own.unit_cost,
        plant_h=notes.rate("plant", hours.plant_h.get(material), _plant_rate(crop), "h per place"),
        nursery_h=notes.rate("nursery", hours.nursery_h, d.NURSERY_H, "h per plant"),
        prune_h=notes.rate("prune", hours.prune_h.get(habit), w.prune_rate(crop).told, "h per grown place and round"),
        full_days=round(7 * (crop.full_size_weeks or 0)),
        harvest_h_per_kg=_harvest_hours(crop, bearing, harvest, rule, notes),
        family=crop.family or "",
        weekly_kg=own.weekly_kg,
        keeps_days=crop.keeps_days,
        taken_kg_per_t=crop.taken_kg_per_t,
        caution=crop.caution,
        order_caution=crop.order_caution,
        notes=notes_of(crop),
        pack=own.pack,
        prunings_kg=_prunings_kg(crop, own, notes),
        coppice_kg=_coppice_kg(crop, own),
        height_m=crop.height_m or 0.0,
        crown_m=crop.canopy_width_m or 0.0,
        wood_kg_per_m3=_wood_density(crop, own, notes),
        wood_price=own.wood_price,
        sources=(*notes.told(), *_money_rows(own)),
    )


_NEEDLESS = {
    "nursery_weeks": "nursery_weeks",
    "nursery_losses": "nursery_weeks",
    "nursery hours": "nursery_weeks",
    "per_mother": "per_mother",
    "prune_rounds": "prune_rounds",
    "prune hours": "prune_rounds",
    "prunings": "prune_rounds",
}
"""Items that needn't be told where another item is nought."""


class _Notes:
    """Picks the user's value before the default, and writes down where each came from."""

    def __init__(self, code: str, own: CropSeason, hours: Hours, region_share: float) -> None:
        self.code, self.own, self.hours, self.region_share = code, own, hours, region_share
        self.rows: list[tuple[str, str, str, str]] = []

    def told(self) -> list[tuple[str, str, str, str]]:
        """Give the rows that say something: not the rates of work that this crop never needs."""
        value = {item: text for item, text, _, _ in self.rows}
        idle = {item for item, unless in _NEEDLESS.items() if value.get(unless) == "0"}
        return [row for row in self.rows if row[0] not in idle]

    def pick(self, key: str, default: tuple[float, str], unit: str) -> float:
        given = getattr(self.own, key)
        value, source = (float(given), OWN) if given is not None else default
        self.rows.append((key, f"{value:g}", unit, source))
        return value

    def percent(self, item: str, given_pct: float | None, default: tuple[float, str]) -> float:
        """Pick a share that the design gives in percent; it is written down in percent, too."""
        value, source = (given_pct / 100, OWN) if given_pct is not None else default
        self.rows.append((item, f"{100 * value:g}", "%", source))
        return value

    def rate(self, task: Task, general: float | None, default: tuple[float, str], unit: str) -> float:
        given = self.own.hours.get(task)
        given = general if given is None else given
        value, source = (given, OWN) if given is not None else default
        self.rows.append((f"{task} hours", f"{value:.4g}", unit, source))
        return value


def _need(code: str, crop: Crop) -> None:
    missing = [key for key in ("material", "habit", "harvest") if getattr(crop, key) is None]
    if missing:
        raise DesignError(
            f"crops.{code}: the season plan needs {', '.join(missing)}; add it, or name a library crop under `like`."
        )


def _tender(crop: Crop) -> tuple[float, str]:
    if crop.frost_tender is None:
        return 1.0, "held for tender, the careful side: nothing is known"
    return float(crop.frost_tender), crop.sources.get("frost_tender", say("crop record"))


def _per_mother(crop: Crop, material: str) -> tuple[int, str]:
    """Pieces of one mother plant: by the lengths of stem and cutting where they are known."""
    pieces = crop.pieces_per_stem
    if pieces is None:
        return d.PER_MOTHER.get(material, (0, "not cut on the farm"))
    lengths = f"stem of {crop.stem_length_m:g} m in cuttings of {crop.piece_length_m:g} m"
    return pieces, f"{lengths}: {crop.sources.get('piece_length_m', 'crop record')}"


def _nursery_weeks(crop: Crop, material: str, habit: str) -> tuple[float, str]:
    if crop.nursery_weeks is not None:
        return crop.nursery_weeks, crop.sources.get("nursery_weeks", say("crop record"))
    if material != "seedling":
        return 0.0, "no nursery for this material"
    return d.NURSERY_WEEKS_TREE if habit in {"tree", "shrub"} else d.NURSERY_WEEKS_HERB


def _plant_rate(crop: Crop) -> tuple[float, str]:
    wide_sucker = crop.material == "sucker" and (crop.canopy_width_m or 0) >= d.PIT_CANOPY_M
    needs_pit = wide_sucker or (crop.habit == "tree" and crop.material == "seedling")
    return (w.PIT_H if needs_pit else w.PLANT_H[str(crop.material)]).told


def _harvest_hours(
    crop: Crop, bearing: tuple[float, ...], harvest: Range | None, rule: SeasonRule, notes: _Notes
) -> float:
    """Hours per kilogram to harvest and to carry away; a tree that is cut once is felled, by its size."""
    assert crop.harvest is not None  # needed before
    way = crop.harvest
    rate = w.harvest_rate(notes.code, way)
    if _felled_at_harvest(crop, bearing, harvest):
        assert harvest is not None
        felled = w.fell_rate(crop, rule.hours.tool)
        rate = felled.times(1 / harvest.likely, felled.source)
    picked = notes.rate("harvest", rule.hours.harvest_h_per_kg.get(way), rate.told, "h per kg")
    carried = w.carry_h_per_kg(rule.carry_m)
    if harvest is not None and harvest.high > 0 and carried > 0:
        source = Sentence(
            "{far:g} m and back at {speed:g} km/h with {load:g} kg (most that NIOSH allows)",
            far=rule.carry_m, speed=w.WALK_KM_H, load=w.LOAD_KG,
        )  # fmt: skip
        notes.rows.append(("carry hours", f"{carried:.4g}", "h per kg", source))
    return picked + carried


def _prune_rounds(crop: Crop, own: CropSeason) -> tuple[float, str]:
    rounds = prunings_a_year(crop, own)
    if own.prune_months:
        return rounds, "prune_months"
    if own.coppice_years is not None:
        return rounds, Sentence("cut to the stump every {n} years", n=own.coppice_years)
    return rounds, d.MEMORY if rounds else "not pruned"


def _felled_at_harvest(crop: Crop, bearing: tuple[float, ...], harvest: Range | None) -> bool:
    once = crop.habit == "tree" and crop.harvest == "cut" and not bearing
    return once and harvest is not None and harvest.likely > 0


def _fell_hours(crop: Crop, own: CropSeason, rule: SeasonRule, notes: _Notes) -> float:
    """Hours to fell one grown plant; told where trees are felled or cut to the stump."""
    value, source = w.fell_rate(crop, rule.hours.tool).told
    if crop.habit != "tree" and own.coppice_years is None and "fell" not in own.hours:
        return value
    return notes.rate("fell", None, (value, source), "h per grown plant")


def _wood_density(crop: Crop, own: CropSeason, notes: _Notes) -> Range:
    """Dry mass of a cubic metre of wood; told of trees only."""
    value, source = d.WOOD_KG_PER_M3 if own.wood_kg_per_m3 is None else (own.wood_kg_per_m3, OWN)
    if crop.habit == "tree" or own.coppice_years is not None:
        notes.rows.append(("wood", " ".join(f"{v:g}" for v in value.values), "dry kg per m³", source))
    return value


def _deaths(habit: str, bearing: tuple[float, ...], own: CropSeason, notes: _Notes) -> tuple[float, ...]:
    """Shares that die by year and are planted again; nothing of what doesn't stay."""
    if own.deaths_pct is None and not (habit == "tree" or (habit == "shrub" and bearing)):
        return ()
    value, source = d.DEATHS if own.deaths_pct is None else (tuple(v / 100 for v in own.deaths_pct), OWN)
    if any(value):
        notes.rows.append(("deaths by year", _percents(value), "% replaced a year on", source))
    return tuple(value)


def _percents(shares: Iterable[float]) -> str:
    return " ".join(f"{100 * share:g}" for share in shares)


def _bearing(crop: Crop, own: CropSeason, notes: _Notes) -> tuple[float, ...]:
    """Share of the full yield by year after planting; empty for what is harvested once."""
    if own.bearing_pct is not None:
        curve, source = tuple(v / 100 for v in own.bearing_pct), OWN
    else:
        curve, source = _default_bearing(crop), d.PRACTICE
    if curve and not serves(crop, own):
        notes.rows.append(("bearing by year", _percents(curve), "%", source))
    return curve


def _prunings_kg(crop: Crop, own: CropSeason, notes: _Notes) -> float | None:
    """Fresh prunings of a grown plant and pruning: the user's, or what the record says of a tree cut for mulch."""
    rounds = prunings_a_year(crop, own)
    known = crop.yield_kg[1] / max(rounds, 1) if crop.yield_kg and serves(crop, own) else None
    value = known if own.prunings_kg is None else own.prunings_kg
    if value is not None:
        source = OWN if own.prunings_kg is not None else crop.sources.get("yield_kg", say("crop record"))
        notes.rows.append(("prunings", f"{value:g}", "kg fresh per grown plant and pruning", source))
    return value


def _coppice_kg(crop: Crop, own: CropSeason) -> float | None:
    """Reckon what a grown stump gives each time it is cut: the years since the last cut times the yield of a year."""
    if own.coppice_years is None or not crop.yield_kg or not serves(crop, own):
        return None
    return crop.yield_kg[1] * own.coppice_years


def _default_bearing(crop: Crop) -> tuple[float, ...]:
    if not crop.bears_for_years:
        return ()
    idle = (0.0,) * ((crop.harvest_weeks or (0, 0))[0] // 52)
    return idle + (d.CLIMB if crop.habit in {"tree", "shrub"} else (1.0,))


def _yield(crop: Crop, own: CropSeason, notes: _Notes) -> Range | None:
    if serves(crop, own):
        notes.rows.append(("yield", say("none sold"), "", say("prunings stay as mulch; give a price to sell them")))
        return None
    if own.yield_kg is not None:
        value, source = own.yield_kg, OWN
    elif crop.yield_kg is not None:
        value, source = _of_region(crop, own, notes)
    else:
        return None
    notes.rows.append(("yield", " ".join(f"{v:g}" for v in value.values), "kg per place", source))
    return value


def _of_region(crop: Crop, own: CropSeason, notes: _Notes) -> tuple[Range, str]:
    """Yield of the crop's record, scaled to the region where it is the library's."""
    assert crop.yield_kg is not None
    low, likely, high = crop.yield_kg
    source = crop.sources.get("yield_kg", say("crop record"))
    share = notes.region_share if own.region_yield_pct is None else own.region_yield_pct / 100
    if source == OWN or share == 1.0:
        return Range(low=low, likely=likely, high=high), source
    return Range(low=low * share, likely=likely * share, high=high * share), Sentence(
        "{source}; scaled to {pct:g} % for the region (design file)", source=Sentence.of(source), pct=100 * share
    )


def _money_rows(own: CropSeason) -> list[tuple[str, str, str, str]]:
    rows = []
    if own.price is not None:
        rows.append(("price", " ".join(f"{v:g}" for v in own.price.values), "money per kg", OWN))
    if own.wood_price is not None:
        rows.append(("wood price", " ".join(f"{v:g}" for v in own.wood_price.values), "money per m³", OWN))
    if own.sold_pct is not None:
        rows.append(("sold", f"{own.sold_pct:g}", "%", OWN))
    if own.unit_cost is not None:
        rows.append(("material cost", f"{own.unit_cost:g}", "money per piece or kg", OWN))
    return rows
