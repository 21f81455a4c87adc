"""No value of the crop library changes unseen: each property of all crops has a checksum.

The values stand in the library's files, each with its source beside it, and other tests set many of them against published
figures. Whoever corrects one looks the source up, and puts the new checksum here.
"""

import hashlib
import json
from pathlib import Path

import pytest
from ruamel.yaml import YAML

from geoagro.inputs.design import crop_library

FOLDER = Path(crop_library.__file__).parent / "library"
WORDS = {"name", "scientific", "family", "sources", "caution", "order_caution"}
"""Told elsewhere, and no values."""

CHECKSUMS = {
    "canopy_width_m": (84, "b1f4d4d036"),
    "crown_base_pct": (12, "e529e189ff"),
    "frost_tender": (30, "1fd0b53397"),
    "full_size_weeks": (84, "9ff1d4b789"),
    "habit": (84, "299de1f440"),
    "harvest": (84, "8c6c8c6231"),
    "harvest_weeks": (84, "57754908c8"),
    "height_m": (84, "901e1ac1e3"),
    "kc_mid": (42, "f6976ff579"),
    "keeps_days": (10, "b4bb16447c"),
    "leafless_months": (16, "33fc6e8cc9"),
    "lifting_reach_m": (2, "8ace1e577f"),
    "material": (84, "e52ba47e6e"),
    "material_g": (29, "aefe0d1f89"),
    "nursery_weeks": (1, "a7a761ddb2"),
    "piece_length_m": (2, "9257d31082"),
    "plants_per_place": (7, "3bb6fd9050"),
    "root_depth_m": (42, "a4aabbcb31"),
    "root_opening_deg": (1, "d180faecde"),
    "root_reach_m": (43, "876ee4d768"),
    "shade_response_pct": (8, "4c5f2baa79"),
    "spacing_m": (84, "4a4de7521f"),
    "spacing_range_m": (65, "4ab0ad0643"),
    "stem_length_m": (2, "8f67e21b75"),
    "stratum": (84, "bfdbdaf2c0"),
    "taken_kg_per_t": (9, "58be2c7997"),
    "usual_per_m2": (84, "76c51f81f5"),
    "yield_kg": (84, "06f367198c"),
}


def values_by_property():
    found = {}
    for path in sorted(FOLDER.glob("*.yaml")):
        if path.name != "sources.yaml":
            for code, crop in YAML(typ="safe").load(path).items():
                for name, value in crop.items():
                    if name not in WORDS:
                        found.setdefault(name, {})[code] = value
    return found


VALUES = values_by_property()


def checksum(values):
    return len(values), hashlib.sha256(json.dumps(values, sort_keys=True).encode()).hexdigest()[:10]


def test_every_property_of_the_library_is_watched():
    assert sorted(VALUES) == sorted(CHECKSUMS)


@pytest.mark.parametrize("name", sorted(CHECKSUMS))
def test_values_of_crops_are_those_that_were_read_from_their_sources(name):
    assert checksum(VALUES.get(name, {})) == CHECKSUMS[name], (
        f"{name} of some crop has changed; look it up in the source that the library names, then put the new checksum here"
    )
