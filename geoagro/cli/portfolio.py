"""`geoagro portfolio`: many fields' accounts added up."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from geoagro.cli.habits.arguments import folder_option
from geoagro.cli.habits.language import locale_option, quiet_words, say_written, words_of
from geoagro.cli.habits.told import tell_figures, tell_files, tell_finding
from geoagro.cli.holding import hold
from geoagro.values.words import say

if TYPE_CHECKING:
    from geoagro.outputs.words.say import Words
    from geoagro.reports.records.portfolio import Portfolio


@click.command("portfolio")
@click.argument("designs", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="DESIGN...")
@folder_option("folder", words="Folder for the result; needed.")
@click.option("--into", "gone", hidden=True)
@click.option("--title", help="Name of the portfolio; if left out, 'Portfolio' in the report's language.")
@click.option("--for", "prepared_for", help="Funder or authority that the report goes to.")
@click.option("--by", "prepared_by", help="Who answers for it.")
@click.option("--as-of", type=click.DateTime(["%Y-%m-%d"]), help="Day that the report is written for.")
@click.option(
    "--to",
    "database",
    help="Put a batch's fields into PostGIS too, e.g. postgresql://user@host/name; each replaces its earlier self.",
)
@locale_option(otherwise="English")
def command(  # noqa: PLR0917
    designs: tuple[Path, ...],
    folder: Path | None,
    gone: str | None,
    title: str | None,
    prepared_for: str | None,
    prepared_by: str | None,
    as_of: datetime | None,
    database: str | None,
    locale: str | None,
) -> None:
    """Add up the fields of many DESIGNS from their written layouts, or the folder that `geoagro batch` wrote.

    Writes portfolio.pdf, portfolio.xlsx, portfolio.json, two CSV files, and portfolio_parts.geojson.
    """
    if gone is not None or folder is None:
        raise click.UsageError(
            "--into is now --output" if gone else "give the folder for the result with --output (-o)"
        )
    from geoagro import pipeline
    from geoagro.cli.approved import open_approved
    from geoagro.cli.terminal import shown_progress
    from geoagro.outputs.portfolio.files import write_portfolio
    from geoagro.outputs.report.maps import MapData
    from geoagro.values.report import ReportRule

    words = words_of(locale)
    title = title or words(say("Portfolio"))
    rule = ReportRule(prepared_for=prepared_for, prepared_by=prepared_by, as_of=as_of.date() if as_of else None)
    accounts, maps = [], {}
    hold(folder)
    store = _store(designs)
    if store is not None:
        portfolio = _from_store(store)
        words = _leaving_own_crops(portfolio, words)
        written = write_portfolio(portfolio, rule, [], folder, title=title, words=words)
        _tell(portfolio, written, words)
        if database is not None:
            _put(store, database, title, words)
        return
    if database is not None:
        raise click.UsageError("--to takes the folder that `geoagro batch` wrote, not design files")
    with shown_progress(words) as progress:
        for design in designs:
            found = open_approved(design, None, progress=progress, ground=False, words=words)
            account = pipeline.account_of(found.laid, found.design.report, progress=progress)
            accounts.append(account)
            maps[account.name] = MapData(found.laid, None, quiet_words(locale, found.design))
        portfolio = pipeline.portfolio_of(accounts)
        words = _leaving_own_crops(portfolio, words)
        ordered = [maps[account.name] for account in portfolio.accounts]
        written = write_portfolio(portfolio, rule, ordered, folder, title=title, words=words)
    _tell(portfolio, written, words)


def _store(designs: tuple[Path, ...]) -> Path | None:
    """Find the store of many fields where a folder is named instead of designs."""
    from geoagro.inputs.laid.store import is_store
    from geoagro.outputs.portfolio.store import STORE

    folders = [path for path in designs if path.is_dir()]
    if not folders:
        return None
    found = next((place for place in (folders[0], folders[0] / STORE) if is_store(place)), None)
    if found is None or len(designs) > 1:
        raise click.UsageError(f"{folders[0]}: name design files, or one folder that `geoagro batch` wrote, by itself")
    return found


def _from_store(folder: Path) -> Portfolio:
    from geoagro import pipeline
    from geoagro.inputs.laid.store import read_store

    store = read_store(folder)
    return pipeline.portfolio_from_store(store.fields, store.crops)


def _leaving_own_crops(portfolio: Portfolio, words: Words) -> Words:
    """Make words that leave names of crops as they are where the library has another name for the code, or no such code."""
    from geoagro.inputs.design.crop_library import read_crop_library
    from geoagro.inputs.design.own_names import crop_names
    from geoagro.outputs.words.say import Words

    library = read_crop_library()
    named = zip(portfolio.crops["crop"], portfolio.crops["name"], strict=True)
    own = {name for code, name in named if code not in library or library[code].name != name}
    return Words(str(words.locale), own_crops=own, crop_names=crop_names())


def _put(folder: Path, database: str, title: str, words: Words) -> None:
    from geoagro.inputs.laid.store import read_store_lines
    from geoagro.outputs.portfolio.database import write_database

    lines = read_store_lines(folder)
    count = write_database(lines.fields, lines.crops, database, portfolio=title)
    click.echo(words(say("put {n} {n:field|fields} into the database, under '{title}'"), n=count, title=title))


def _tell(portfolio: Portfolio, written: list[Path], words: Words) -> None:
    total = portfolio.total
    tell_files(written)
    tell_figures({"fields": len(portfolio.fields), "planted_m2": total("planted_m2"), "trees": total("trees")})
    sums = {"planted": words.hectares(total("planted_m2")), "trees": int(total("trees"))}
    click.echo(words(say("Fields: {n}; planted: {planted} ha; trees: {trees}"), n=len(portfolio.fields), **sums))
    for _, caution in portfolio.cautions[:10]:
        tell_finding("caution", "portfolio", words(caution.text, **caution.values))
        click.echo("  " + words(say("Caution: {text}"), text=words(caution.text, **caution.values)))
    say_written(written, words)
