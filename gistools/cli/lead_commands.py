"""Commands that say how sure leads are."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import click

from gistools.cli.design_commands import answer
from gistools.cli.options import SITE, common, opened_site
from gistools.steps.catalogue import find


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
