"""Draw random small fields, lay them out and look for broken laws: `python scripts/draw_fields.py FIRST COUNT`.

The suite draws seeds 0 to 299 (tests/random_fields.py holds what is drawn and which laws are meant). Every broken law is
printed with its seed; the last line says how many cases were laid out, refused and broken.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from random_fields import broken, draw  # the tests' own module


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("first", type=int, help="First seed.")
    parser.add_argument("count", type=int, help="Number of cases.")
    asked = parser.parse_args()
    counts: Counter[str] = Counter()
    for seed in range(asked.first, asked.first + asked.count):
        with tempfile.TemporaryDirectory() as place:
            case = draw(seed, Path(place))
            laws, end = broken(case)
        counts["broken" if laws else end] += 1
        for law in laws:
            print(f"seed {seed}: {law}\n  {case.told}", flush=True)
        if (seed + 1) % 100 == 0:
            print(
                f"{seed + 1 - asked.first} cases, {dict(counts)}, {time.process_time():.0f} s of processor time",
                flush=True,
            )
    print(f"{asked.count} cases: {dict(counts)}")


if __name__ == "__main__":
    main()
