"""The pages of a recipe's beds: `bed_1.png`, `bed_2.png`, ... and `recipe.png`; one set."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from geoagro.outputs.beds.cover_chart import draw_cover
from geoagro.outputs.beds.picture import draw_bed
from geoagro.outputs.drawing.sheet import save_drawn
from geoagro.outputs.drawing.typefaces import lettered
from geoagro.outputs.staging import check_folder, staged
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.plants.records.recipe_analysis import RecipeAnalysis
from geoagro.plants.records.sheet import BedSheet

COVER = "recipe.png"
_PAGE_DPI, _COVER_DPI = 200, 160


def check_beds_folder(folder: Path) -> None:
    """Raise OutputError now where `write_beds` would fail later; touches nothing."""
    check_folder(Path(folder), [COVER])


def write_beds(
    sheets: Sequence[BedSheet],
    analysis: RecipeAnalysis,
    name: str,
    folder: Path,
    months: Sequence[int] = (),
    *,
    words: Words = ENGLISH,
) -> list[Path]:
    """Write a page per bed (A4, upright) and the cover by month; pages of beds that the recipe no longer has go.

    A bed of many crops has a longer page.

    Returns the pages, then the cover. Raises OutputError where the folder can't be written to.

    >>> from geoagro import bed_sheets_of, example_layout, read_crop_library, recipe_of, write_beds
    >>> import tempfile
    >>> laid, library = example_layout(), read_crop_library()
    >>> sheets, analysis = bed_sheets_of(laid.design, library), recipe_of(laid, library)
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     [path.name for path in write_beds(sheets, analysis, "example", Path(folder))]
    ['bed_1.png', 'bed_2.png', 'recipe.png']
    """
    folder = Path(folder)
    names = [_page(number) for number in range(1, len(sheets) + 1)]
    with lettered(), staged(folder, [*names, COVER], gone=_left_over(folder, len(sheets))) as new:
        for sheet, page in zip(sheets, names, strict=True):
            save_drawn(draw_bed(sheet, months, words), new / page, dpi=_PAGE_DPI)
        save_drawn(draw_cover(analysis, name, words), new / COVER, dpi=_COVER_DPI)
    return [folder / page for page in (*names, COVER)]


def _page(number: int) -> str:
    return f"bed_{number}.png"


def _left_over(folder: Path, count: int) -> list[str]:
    """Pages of an earlier, longer recipe, as far as their numbers go on."""
    left = []
    while (folder / _page(count + 1)).is_file():
        count += 1
        left.append(_page(count))
    return left
