"""Commands of design: lay a hole, compare before and after, search for the least change."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import click

from gistools.base.errors import InputError
from gistools.base.progress import on_progress
from gistools.base.values import json_value
from gistools.cli.options import SITE, common, opened_site
from gistools.steps.catalogue import find


@click.command()
@SITE
@click.option("--hole", type=click.IntRange(1, 36), help="Only this hole.")
@click.option(
    "--raise",
    "raised",
    multiple=True,
    metavar="NAME=M",
    help="Compare with this mound raised by so many metres (repeatable; negative lowers it).",
)
@click.option("--other", type=click.Path(path_type=Path), help="Compare with another site file.")
@click.option("--edits", type=click.Path(path_type=Path), help="Compare with a list of edits made (TOML).")
@click.option("--play/--no-play", default=True, help="Also play the holes out and rank the zones (minutes).")
@click.option("--player", "players", multiple=True, help="Played by this player (repeatable).")
@click.option("--wind", "winds", multiple=True, help="Played in this wind (repeatable).")
@click.option(
    "--picture", type=click.Path(path_type=Path), help="Draw it: a PNG, PDF or SVG file, for --hole."
)
@click.option("--pin", help="Hole location in the picture; the one whose view changes most by default.")
@click.option("--replace", is_flag=True, help="Replace a picture that is already there.")
@common
def compare(
    site: Path,
    terrain: Path | None,
    height_unit: str | None,
    units: str,
    as_json: bool,
    quiet: bool,
    **choices: Any,
) -> None:
    """Say what a change does to SITE: volumes, slopes, flag views, carries, and the ranking of the zones.

    SITE as surveyed is compared with its proposed ground (layer `shapes`, or raster `terrain_proposed`), or
    with what --raise or --other asks for. Nothing is written into SITE. Figures that stay as they are are not
    listed.
    """
    from gistools.cli.screen import print_changes, progress_bar
    from gistools.design.compare import compare as compare_sites
    from gistools.design.sentences import sentences
    from gistools.steps.records import result_as_json

    picture = choices["picture"]
    if sum(map(bool, (choices["raised"], choices["other"], choices["edits"]))) > 1:
        raise InputError("compare with --raise, --edits or --other, one at a time")
    if picture is not None:
        if choices["hole"] is None:
            raise InputError("a picture is of one hole: name it with --hole")
        refuse_picture(picture, choices["replace"])
    before = opened_site(site, terrain, height_unit, choices["settings"])
    if choices["raised"]:
        from gistools.design.vary import vary

        after = vary(before, raise_m=dict(map(_raised, choices["raised"])))
    elif choices["other"] is not None:
        after = opened_site(choices["other"], None, height_unit, choices["settings"])
    elif choices["edits"] is not None:
        from gistools.design.edits import apply_edits

        after = apply_edits(before, choices["edits"])
    else:
        from gistools.site.proposed import proposed_site

        after = proposed_site(before)
    played = {k: choices[k] for k in ("players", "winds") if choices[k]}
    with progress_bar(quiet) as progress, on_progress(progress):
        changes = compare_sites(before, after, hole=choices["hole"], play=choices["play"], **played)
        if picture is not None:
            from gistools.sheets.change_figure import change
            from gistools.sheets.figures import save

            save(change(before, after, choices["hole"], pin=choices["pin"]), picture)
    if as_json:
        click.echo(json.dumps(result_as_json(changes, before.crs.to_string()), indent=1))
    else:
        for line in sentences(changes, before.setting("level_band_strokes", choices["hole"]), units):
            click.echo(line)
        print_changes(changes, units)
    said = find("quantities").cautions + (find("positions").cautions if choices["play"] else ())
    for caution in () if quiet else said:
        click.echo(f"Caution: {caution}", err=True)
    if picture is not None and not quiet:
        click.echo(f"drawn: {picture}", err=True)


@click.command()
@SITE
@click.option(
    "--edits",
    type=click.Path(path_type=Path),
    help="List of edits (TOML) in which figures to search are ranges: along_m = [-12, 12].",
)
@click.option(
    "--move",
    "moves",
    multiple=True,
    metavar="'NAME: along -10..10, rise 0..1'",
    help="Instead: a feature and its ranges, of along, across, east, north, rise [m], turn [degrees], factor"
    " (repeatable).",
)
@click.option("--hole", type=click.IntRange(1, 36), help="Only this hole.")
@click.option("--first", help="Landing zone that should be first ...")
@click.option("--pin", help="... for this hole location ...")
@click.option("--by", type=float, default=0.0, help="... by so many strokes more than the band of level.")
@click.option("--tee", default="", help="From this tee; the longest by default.")
@click.option("--player", default="scratch man", show_default=True, help="For this player.")
@click.option("--wind", default="calm", show_default=True, help="In this wind.")
@click.option("--brief-file", help="Instead of --first: brief rows (TOML) that should hold.")
@click.option("--short-player", default="", help="Show among the trade-offs what each costs this player too.")
@click.option("--workers", type=click.IntRange(1, 256), help="Play variants on so many processes.")
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Play variants on a cluster, `tcp://host:8786` (library distributed).",
)
@click.option("--to", type=click.Path(path_type=Path), help="Write the edits found into this TOML file.")
@click.option(
    "--trade-offs",
    type=click.Path(path_type=Path),
    help="Write the edits of each trade-off into this folder, a TOML file each.",
)
@click.option("--picture", type=click.Path(path_type=Path), help="Draw the variants: a PNG, PDF or SVG file.")
@click.option("--replace", is_flag=True, help="Replace a picture that is already there.")
@common
def search(
    site: Path,
    edits: Path | None,
    terrain: Path | None,
    height_unit: str | None,
    settings: dict[str, Any],
    to: Path | None,
    trade_offs: Path | None,
    picture: Path | None,
    quiet: bool,
    as_json: bool,
    **choices: Any,
) -> None:
    """Find the least change within ranges that makes an intention hold.

    The intention is that --first is the best landing zone for --pin, or that the rows of a brief hold.
    Every variant plays the hole out: some thirty variants, some four seconds each. Nothing is written into
    SITE. A search that was stopped resumes when the same is asked again.
    """
    from gistools.cli.executors import executor_of
    from gistools.cli.screen import progress_bar
    from gistools.design.edit_list import edits_text, write_edits
    from gistools.design.search import search_edits
    from gistools.design.search_result import search_lines

    if (edits is None) == (not choices["moves"]):
        raise InputError("say what may move: with --move, or with a list of edits (--edits)")

    if choices["first"] and not choices["pin"]:
        raise InputError("say for which hole location the zone should be first: --pin")
    if to is not None and to.exists():
        raise InputError(f"{to} is already there; name another")
    if trade_offs is not None and trade_offs.exists():
        raise InputError(f"{trade_offs} is already there; name another folder")
    if picture is not None:
        refuse_picture(picture, choices["replace"])
    opened = opened_site(site, terrain, height_unit, settings)
    with progress_bar(quiet) as progress, executor_of(choices["workers"], choices["cluster"]) as executor:
        result = search_edits(
            opened,
            edits if edits is not None else choices["moves"],
            first=choices["first"] or "",
            pin=choices["pin"] or "",
            hole=choices["hole"],
            tee=choices["tee"],
            player=choices["player"],
            wind=choices["wind"],
            brief_file=choices["brief_file"],
            by_strokes=choices["by"],
            short_player=choices["short_player"],
            executor=executor,
            progress=progress,
        )
    if as_json:
        rows = result.tried.to_dict("records")
        text = {"holds": result.holds, "margin": result.margin, "margin_before": result.margin_before}
        whole = text | {"edits": [e.as_dict() for e in result.edits], "tried": rows}
        click.echo(json.dumps(json_value(whole), indent=1))
    else:
        click.echo("\n".join(search_lines(result, choices["units"])))
        listing = f"As a list of edits, in metres:\n{edits_text(result.edits)}"
        click.echo(listing if result.edits else "No edit is needed.")
    if to is not None and result.edits:
        write_edits(result.edits, to)
    if trade_offs is not None:
        trade_offs.mkdir(parents=True)
        for k, number in enumerate(result.trade_offs["number"], 1):
            write_edits(result.variants[number], trade_offs / f"trade_off_{k}.toml")
    if picture is not None:
        from gistools.sheets.figures import save
        from gistools.sheets.trade_off_figure import trade_off_figure

        wish = f"{choices['first']} first for {choices['pin']}" if choices["first"] else "The brief"
        save(trade_off_figure(result.tried, result.trade_offs, wish, choices["units"]), picture)
    if not quiet:
        for written in filter(None, (to if result.edits else None, trade_offs, picture)):
            click.echo(f"written: {written}", err=True)
    for caution in () if quiet else find("quantities").cautions + find("positions").cautions:
        click.echo(f"Caution: {caution}", err=True)
    sys.exit(0 if result.holds else 1)


@click.command("turning_points")
@SITE
@click.option("--setting", required=True, help="A setting that is a number: blind_dispersion_increase_pct.")
@click.option("--from", "low", type=float, required=True, help="Least value tried.")
@click.option("--to", "high", type=float, required=True, help="Greatest value tried.")
@click.option("--hole", type=click.IntRange(1, 36), help="Only this hole.")
@click.option("--tee", default="", help="From this tee; the longest by default.")
@click.option("--player", default="scratch man", show_default=True, help="For this player.")
@click.option("--wind", default="calm", show_default=True, help="In this wind.")
@click.option("--count", type=click.IntRange(2, 50), default=5, show_default=True, help="Values tried.")
@common
def turning_points(
    site: Path,
    terrain: Path | None,
    height_unit: str | None,
    settings: dict[str, Any],
    quiet: bool,
    as_json: bool,
    **choices: Any,
) -> None:
    """Find the value of a setting at which another landing zone becomes first for a hole location.

    Every value plays the hole out: some ten seconds each. Nothing is written into SITE.
    """
    from gistools.cli.screen import progress_bar
    from gistools.design.turning_points import turning_points as find_turns

    opened = opened_site(site, terrain, height_unit, settings)
    choices.pop("units")
    with progress_bar(quiet) as progress:
        table = find_turns(opened, progress=progress, **choices)
    lines = [f"{reading[0].upper()}{reading[1:]}." for reading in table["reading"]]
    answer(table, opened, lines, as_json, () if quiet else find("positions").cautions)


@click.command("propose_tees")
@SITE
@click.option("--hole", type=click.IntRange(1, 36), help="Only this hole.")
@click.option("--player", "players", multiple=True, help="For this player (repeatable, or with commas).")
@click.option("--like", default="scratch man", show_default=True, help="Who meets the shot already ...")
@click.option("--from-tee", default="", help="... from this tee; the longest by default.")
@common
def propose_tees(
    site: Path,
    terrain: Path | None,
    height_unit: str | None,
    settings: dict[str, Any],
    quiet: bool,
    as_json: bool,
    players: tuple[str, ...],
    **choices: Any,
) -> None:
    """Propose where tees should stand so that other players meet the same shot, by share of their drive.

    Nothing is played out and nothing is written into SITE.
    """
    from gistools.design.tee_proposals import propose_tees as propose

    opened = opened_site(site, terrain, height_unit, settings)
    table = propose(opened, players=players or None, **choices)
    lines = [f"{reading[0].upper()}{reading[1:]}." for reading in table["reading"]]
    answer(table, opened, lines, as_json, () if quiet else find("setbacks").cautions)


def answer(table: Any, site: Any, lines: list[str], as_json: bool, cautions: Iterable[str]) -> None:
    """Print a table as JSON or as lines of words, then the cautions."""
    from gistools.steps.records import result_as_json

    if as_json:
        click.echo(json.dumps(result_as_json(table, site.crs.to_string()), indent=1))
    else:
        click.echo("\n".join(lines))
    for caution in cautions:
        click.echo(f"Caution: {caution}", err=True)


def _raised(assignment: str) -> tuple[str, float]:
    name, _, metres = assignment.rpartition("=")
    try:
        return name.strip(), float(metres)
    except ValueError:
        raise InputError(
            f"--raise {assignment!r} should be a name and metres, for example 'Long Mound=1.0'"
        ) from None


def refuse_picture(picture: Path, replace: bool) -> None:
    """Refuse a picture of another kind, in a folder that is not there, or in the place of a file."""
    if picture.suffix.lower() not in (".png", ".pdf", ".svg"):
        raise InputError(f"{picture}: a picture is a .png, .pdf or .svg file")
    if not picture.parent.is_dir():
        raise InputError(f"the folder {picture.parent} does not exist; make it first")
    if picture.exists() and not replace:
        raise InputError(f"{picture} is already there; name another, or have it replaced (--replace)")


def _list_forms(context: click.Context, _: click.Parameter, listed: bool) -> None:
    """Print forms and their figures, and end."""
    if not listed:
        return
    from gistools.design.form_list import FORMS

    for name, recipe in FORMS.items():
        click.echo(f"{name}: {recipe.text}")
        for key, p in recipe.parameters.items():
            bounds = f"{p.default:g} ({p.range})"
            click.echo(f"  {name}.{key} = {bounds}: {p.text}")
    context.exit()


@click.command()
@click.argument("path", type=click.Path(path_type=Path))
@click.option(
    "--list", is_flag=True, is_eager=True, expose_value=False, callback=_list_forms, help="List the forms."
)
@click.option(
    "--terrain",
    type=click.Path(path_type=Path),
    help="GeoTIFF of the ground [m] for a new site; without it the hole goes into the site that is there.",
)
@click.option("--tee", required=True, metavar="X,Y", help="Easting and northing of the back tee.")
@click.option(
    "--green", required=True, metavar="X,Y", help="Easting and northing of the middle of the green."
)
@click.option(
    "--form", "forms", multiple=True, required=True, help="A strategic form (repeatable); --list names them."
)
@click.option(
    "--with",
    "figures",
    multiple=True,
    metavar="FORM.FIGURE=VALUE",
    help="A figure of a form: diagonal.angle_deg=50 (repeatable).",
)
@click.option("--crs", help="CRS of the site; that of the terrain by default.")
@click.option("--hole", type=click.IntRange(1, 36), help="Number of the hole; by default the next free one.")
@click.option("--replace", is_flag=True, help="Replace a file that is already there by a new site.")
def form(path: Path, terrain: Path | None, tee: str, green: str, **choices: Any) -> None:
    """Lay a hole with strategic forms: on bare ground as a new site, or beside the holes of a site.

    Without --terrain the hole is added to the site that is there, on the ground that its holes propose; no
    row that is there is altered. What is placed are ordinary survey layers, to be redrawn; what moves earth
    are rows of the layer `shapes`. What the forms are meant to ask stands in the table `brief`.
    """
    from gistools.design.forms import lay_hole

    laid = lay_hole(
        path,
        terrain,
        _point("--tee", tee),
        _point("--green", green),
        choices["forms"],
        crs=choices["crs"],
        hole=choices["hole"],
        parameters=dict(_figure(text) for text in choices["figures"]),
        replace=choices["replace"],
    )
    click.echo(repr(laid))
    click.echo(f"See what it asks: gistools study {path} --proposed --hole {laid.hole}", err=True)
    for caution in find("quantities").cautions + find("setbacks").cautions:
        click.echo(f"Caution: {caution}", err=True)


def _point(option: str, text: str) -> tuple[float, float]:
    try:
        x, y = (float(part) for part in text.split(","))
    except ValueError:
        raise InputError(f"{option} {text!r} should be easting and northing: 400150,599550") from None
    return x, y


def _figure(assignment: str) -> tuple[str, float]:
    name, _, value = assignment.partition("=")
    try:
        return name.strip(), float(value)
    except ValueError:
        raise InputError(f"--with {assignment!r} should be such as diagonal.angle_deg=50") from None
