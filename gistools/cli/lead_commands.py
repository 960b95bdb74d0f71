"""Commands that say how sure leads are."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import click

from gistools.base.errors import InputError
from gistools.cli.design_commands import answer, refuse_picture
from gistools.cli.options import SITE, common, opened_site
from gistools.steps.catalogue import find


@click.command()
@SITE
@click.option("--pin", default="", help="Hole location of the lead.")
@click.option("--zone", default="", help="Landing zone that leads; the first by default.")
@click.option("--other", default="", help="The one it leads; the second by default.")
@click.option(
    "--brief-row", type=click.IntRange(1), help="Instead of a lead: the figure of this row of the brief."
)
@click.option("--brief-file", help="Rows of the brief (TOML) instead of those of the site.")
@click.option("--hole", type=click.IntRange(1, 36), help="Only this hole.")
@click.option("--tee", default="", help="From this tee; the longest by default.")
@click.option("--player", default="scratch man", show_default=True, help="For this player.")
@click.option("--wind", default="calm", show_default=True, help="In this wind.")
@click.option("--picture", type=click.Path(path_type=Path), help="Draw it: a PNG, PDF or SVG file.")
@click.option("--replace", is_flag=True, help="Replace a picture that is already there.")
@common
def sensitivity(
    site: Path,
    terrain: Path | None,
    height_unit: str | None,
    settings: dict[str, Any],
    quiet: bool,
    as_json: bool,
    picture: Path | None,
    replace: bool,
    **choices: Any,
) -> None:
    """Find what the lead of a landing zone, or a figure of the brief, hangs on.

    One thing is changed at a time, both ways: firmness, green speed, wind, length, mounds, bunkers, burns.
    Each plays the hole out where the figure needs it, some five to ten seconds. Nothing is written into SITE.
    """
    from gistools.cli.screen import progress_bar
    from gistools.design.brief_sensitivity import brief_lines, brief_sensitivity
    from gistools.design.sensitivity import lead_sentence
    from gistools.design.sensitivity import sensitivity as find_sensitivity
    from gistools.steps.brief_rows import target_of

    row, brief_file = choices.pop("brief_row"), choices.pop("brief_file")
    if (row is None) == (not choices["pin"]):
        raise InputError("say what: the lead for a hole location (--pin), a row of the brief (--brief-row)")
    opened = opened_site(site, terrain, height_unit, settings)
    units = choices["units"]
    if picture is not None:
        refuse_picture(picture, replace)
    with progress_bar(quiet) as progress:
        if row is None:
            table = find_sensitivity(opened, progress=progress, **choices)
        else:
            options = {"hole": choices["hole"], "brief_file": brief_file, "units": units}
            table = brief_sensitivity(opened, row, progress=progress, **options)
    band = float(opened.setting("level_band_strokes", choices["hole"]))
    step = find("positions") if row is None else target_of(str(table["measure"].iloc[0]))[0]
    if picture is not None:
        from gistools.sheets.figures import save
        from gistools.sheets.tornado_figure import brief_tornado, tornado

        save(tornado(table, band) if row is None else brief_tornado(table, units), picture)
    if row is None:
        lines = [lead_sentence(table, band), *(f"  {reading}" for reading in table["reading"])]
    else:
        lines = brief_lines(table, units)
    answer(table, opened, lines, as_json, () if quiet else step.cautions)
    if picture is not None and not quiet:
        click.echo(f"drawn: {picture}", err=True)


@click.command()
@SITE
@click.option("--hole", type=click.IntRange(1, 36), help="Only this hole.")
@click.option("--tee", default="", help="From this tee; the longest by default.")
@click.option("--player", default="scratch man", show_default=True, help="For this player.")
@click.option("--wind", default="calm", show_default=True, help="In this wind.")
@common
def uncertainty(
    site: Path,
    terrain: Path | None,
    height_unit: str | None,
    settings: dict[str, Any],
    quiet: bool,
    as_json: bool,
    **choices: Any,
) -> None:
    """Find how sure leads are, given what nobody knows of the player, of turf and of sight.

    Each unknown is set low and high; each plays the hole out, some ten seconds. Nothing is written into SITE.
    """
    from gistools.cli.screen import progress_bar
    from gistools.design.uncertainty import largest_band
    from gistools.design.uncertainty import uncertainty as find_bands

    opened = opened_site(site, terrain, height_unit, settings)
    choices.pop("units")
    with progress_bar(quiet) as progress:
        table = find_bands(opened, progress=progress, **choices)
    first = table.iloc[0]
    wider = f"{math.ceil(100.0 * largest_band(table)) / 100.0:.2f}"
    lines = [
        f"{first['player']}, {first['tee']} tee, {first['wind']}:",
        *(f"  {reading}" for reading in table["reading"]),
        f"To call level what is within the widest band of a first zone: --set level_band_strokes={wider}",
    ]
    answer(table, opened, lines, as_json, () if quiet else find("positions").cautions)
