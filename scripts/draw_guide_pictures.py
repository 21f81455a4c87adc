"""Draw the small pictures of README and guide from a result of the demo: `python scripts/draw_guide_pictures.py demo_result`.

The folder holds what `geoagro layout` and `geoagro beds --output RESULT/beds` wrote for `data_demo`.
"""

import sys
from pathlib import Path

from PIL import Image

PICTURES = Path(__file__).parents[1] / "geoagro" / "guide" / "pictures"
WIDTH_PX, COLOURS = 900, 128
# file of the result, name in the guide, and how much of its height is shown
DRAWN = (("layout.png", "layout.png", 1.0), ("beds/bed_1.png", "bed.png", 0.62))


def main(result: Path) -> None:
    PICTURES.mkdir(exist_ok=True)
    for source, name, share in DRAWN:
        with Image.open(result / source) as image:
            shown = image.convert("RGB").crop((0, 0, image.width, round(share * image.height)))
            small = shown.resize((WIDTH_PX, round(WIDTH_PX * shown.height / shown.width)), Image.Resampling.LANCZOS)
            small.quantize(COLOURS, Image.Quantize.MAXCOVERAGE).save(PICTURES / name, optimize=True)


if __name__ == "__main__":
    if len(sys.argv) != 2:
        raise SystemExit(__doc__)
    main(Path(sys.argv[1]))
