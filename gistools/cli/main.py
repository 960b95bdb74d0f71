"""The command line, made from the same declarations as the console.

Results go to standard output, talk and progress to standard error. Exit codes: 0 done; 1 done, but a `must`
row of the brief fails or has no answer; 2 the data or a choice cannot be used as it is; 3 a fault in the
program itself; 4 a study is written but results are missing from it; 130 stopped by the user; 141 the
reader of standard output has gone (a closed pipe).
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import click

from gistools.base.progress import on_progress
from gistools.cli.completion import completion
from gistools.cli.design_commands import (
    compare,
    form,
    propose_tees,
    search,
    turning_points,
)
from gistools.cli.desktop_commands import desktop, project, styles
from gistools.cli.exits import GroupWithExitCodes
from gistools.cli.filters import FILTERS, filter_options, filtered, refuse_unknown
from gistools.cli.lead_commands import sensitivity, uncertainty
from gistools.cli.options import (
    SITE,
    common,
    elsewhere,
    opened_site,
    option_of,
    refuse_plural,
    refuse_replaced,
)
from gistools.steps.catalogue import STEPS, Step, find


class Commands(GroupWithExitCodes):
    """Own commands and one per step; the module of a step is imported when its command is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Own commands first, then the steps in the order of a study."""
        return [*sorted(super().list_commands(ctx)), *STEPS]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return an own command, or make one from a step's declaration; hyphens are taken as underscores."""
        command = super().get_command(ctx, cmd_name)
        name = cmd_name.replace("-", "_")
        return command or (step_command(find(name)) if name in STEPS else None)

    def format_commands(self, _ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the own commands and the steps under headings, from the catalogue alone."""
        commands = [(n, c.get_short_help_str(70)) for n in self.commands if (c := self.commands[n])]
        with formatter.section("Commands"):
            formatter.write_dl(sorted(commands))
        with formatter.section("Steps (each measures one thing and writes it as a layer)"):
            formatter.write_dl([(name, find(name).summary) for name in STEPS])


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="golf-gistools", prog_name="gistools")
@click.option("--debug", is_flag=True, help="Show the whole trace of an error.")
def main(debug: bool) -> None:
    """Design and judge strategic golf holes on surveyed ground.

    A site is one GeoPackage with survey layers (tees, fairway, greens, pins, bunkers, burns ...) and a
    terrain raster. `gistools sample merrowby.gpkg` writes one to try; `gistools study merrowby.gpkg` measures
    it.
    """


@main.command()
@click.argument("path", type=click.Path(path_type=Path))
@click.option("--replace", is_flag=True, help="Replace a file that is already there.")
def sample(path: Path, replace: bool) -> None:
    """Write the sample site, Merrowby Links, to PATH."""
    from gistools.site.sample import write_sample

    click.echo(write_sample(path, replace=replace))


@main.command(name="import")
@click.argument("sources", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--to", type=click.Path(path_type=Path), required=True, help="Site file to make (.gpkg).")
@click.option(
    "--mapping",
    type=click.Path(path_type=Path),
    help="Mapping file, used where it exists, else guessed and written; beside the site by default.",
)
@click.option("--crs", help="CRS of the site, for example EPSG:27700; found by default.")
@click.option("--course", default="", help="Which course to take, where the sources hold several.")
@click.option("--cell", "cell_m", type=float, help="Side of a cell of the terrain [m]; found by default.")
@click.option("--gap", "gap_m", type=float, help="Longest gap bridged between levels [m].")
@click.option("--smooth", "smooth_m", type=float, default=0.0, help="Smooth noise over this width [m].")
@click.option(
    "--height-unit", type=click.Choice(["m", "ft", "us-ft"]), help="Unit of heights, if not stated."
)
@click.option("--only-mapping", is_flag=True, help="Write the mapping and stop.")
@click.option("--replace", is_flag=True, help="Replace a site file that is already there.")
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
@click.option("-q", "--quiet", is_flag=True, help="No progress.")
def import_(sources: tuple[Path, ...], as_json: bool, quiet: bool, **choices: Any) -> None:
    """Bring foreign data (survey exports, open map data, drawings, laser points) into a new site file."""
    from gistools.cli.screen import progress_bar
    from gistools.site.importing.site_file import import_site

    only_mapping = choices["only_mapping"]
    with progress_bar(quiet) as progress, on_progress(progress):
        done = import_site(*sources, **choices)
    if only_mapping and not as_json:
        click.echo(done.mapping_path.read_text(encoding="utf-8"))
    click.echo(json.dumps(done.as_dict(), indent=1) if as_json else done.summary())
    sys.exit(2 if any(f.level == "error" for f in done.findings) else 0)


@main.command()
@click.argument("path", type=click.Path(path_type=Path))
@click.option("--crs", required=True, help="Projected CRS in metres or feet, for example EPSG:27700.")
@click.option("--terrain", type=click.Path(path_type=Path), help="GeoTIFF of the ground, in that CRS.")
@click.option("--replace", is_flag=True, help="Replace a file that is already there.")
def new(path: Path, crs: str, terrain: Path | None, replace: bool) -> None:
    """Write an empty site to PATH: every survey layer with its fields, ready to draw in a desktop GIS."""
    from gistools.site.new import new_site

    click.echo(new_site(path, crs, terrain=terrain, replace=replace))
    click.echo("Draw tees, fairway and greens at least, then: gistools check " + str(path), err=True)


@main.command()
@SITE
@click.option("--strict", is_flag=True, help="Treat warnings as errors.")
@common
def check(site: Path, strict: bool, terrain: Path | None, height_unit: str | None, **show: Any) -> None:
    """Say what is wrong with SITE, layer by layer, and what to do about it."""
    from gistools.site.check import check as check_site

    findings = check_site(site, terrain=terrain, height_unit=height_unit)
    if show["as_json"]:
        click.echo(json.dumps([vars(f) for f in findings], indent=1))
    else:
        from gistools.cli.screen import print_findings

        print_findings(findings)
    bad = {"error", "warning"} if strict else {"error"}
    sys.exit(2 if any(f.level in bad for f in findings) else 0)


@main.command()
@SITE
@click.option("--hole", type=click.IntRange(1, 36), help="Only this hole.")
@click.option("--only", multiple=True, type=click.Choice(list(STEPS)), help="Only this step (repeatable).")
@click.option("--player", "players", multiple=True, help="Only this player (repeatable, or with commas).")
@click.option("--wind", "winds", multiple=True, help="Only this wind (repeatable, or with commas).")
@elsewhere
@click.option("--proposed", is_flag=True, help="Study the proposed ground (layer `shapes`).")
@click.option(
    "--quick", is_flag=True, help="Leave out the steps that play whole holes out (minutes of work)."
)
@click.option(
    "--workers",
    type=click.IntRange(1, 256),
    help="Play holes out in so many processes; a stopped study resumes.",
)
@click.option("--cluster", metavar="ADDRESS", help="Play holes out on a running dask cluster.")
@common
def study(
    site: Path,
    terrain: Path | None,
    height_unit: str | None,
    units: str,
    as_json: bool,
    quiet: bool,
    **choices: Any,
) -> None:
    """Measure everything on SITE, write the result layers, and print a summary."""
    from gistools.cli.executors import executor_of
    from gistools.cli.screen import progress_bar
    from gistools.steps.study import study as run_study

    opened = opened_site(site, terrain, height_unit, choices["settings"])
    with progress_bar(quiet) as progress, executor_of(choices["workers"], choices["cluster"]) as executor:
        done = run_study(
            opened,
            hole=choices["hole"],
            only=choices["only"] or None,
            players=choices["players"] or None,
            winds=choices["winds"] or None,
            out=choices["out"],
            replace=choices["replace"] or None,
            proposed=choices["proposed"],
            quick=choices["quick"],
            executor=executor,
            progress=progress,
        )
    click.echo(json.dumps(done.as_dict(), indent=1) if as_json else done.summary(units))
    if any(gap.fault for gap in done.missing):
        sys.exit(3)
    sys.exit(4 if done.missing else 0 if done.brief_holds else 1)


@main.command()
@SITE
@click.option("--to", type=click.Path(path_type=Path), required=True, help="Folder to make.")
@click.option("--hole", type=click.IntRange(1, 36), help="Only this hole.")
@click.option("--replace", is_flag=True, help="Replace a folder that is already there.")
@common
def handoff(
    site: Path,
    to: Path,
    hole: int | None,
    replace: bool,
    terrain: Path | None,
    height_unit: str | None,
    **show: Any,
) -> None:
    """Write the files that the survey and construction team takes over."""
    from gistools.handoff.package import handoff as make

    click.echo(
        make(opened_site(site, terrain, height_unit, show["settings"]), to, hole=hole, replace=replace)
    )


@main.command()
@SITE
@click.option(
    "--hole", type=click.IntRange(1, 36), help="Only this hole; without it every hole and a summary page."
)
@click.option(
    "--to", type=click.Path(path_type=Path), help="Folder for the pages; beside the site by default."
)
@click.option("--pictures", is_flag=True, help="Also write the plan and sections as PDF and PNG.")
@click.option(
    "--full", is_flag=True, help="Play whole holes out (minutes) where the file does not hold that yet."
)
@click.option("--replace", is_flag=True, help="Replace pages that are already there.")
@common
def sheet(
    site: Path,
    hole: int | None,
    to: Path | None,
    pictures: bool,
    full: bool,
    replace: bool,
    terrain: Path | None,
    height_unit: str | None,
    **show: Any,
) -> None:
    """Write the page of a hole: plan, sections, ranks and checks in one HTML file."""
    from gistools.cli.screen import progress_bar
    from gistools.sheets.page import write_sheets

    opened = opened_site(site, terrain, height_unit, show["settings"])
    with progress_bar(show["quiet"]) as progress:
        written = write_sheets(
            opened,
            hole=hole,
            to=to,
            pictures=pictures,
            full=full,
            replace=replace,
            units=show["units"],
            progress=progress,
        )
    for path in written:
        click.echo(path)


@main.command()
@SITE
@click.option("--hole", type=click.IntRange(1, 36), help="Only this hole.")
@click.option(
    "--drawing",
    "drawings",
    multiple=True,
    help="Only this drawing: board, setting_out, grading, sections or green (repeatable).",
)
@click.option("--scale", type=click.IntRange(1, 100000), help="Plans and sections at 1:SCALE.")
@click.option("--paper", help="A1 to A4, landscape; by default the smallest that holds the plan.")
@click.option(
    "--format",
    "formats",
    multiple=True,
    default=("pdf",),
    help="pdf (the default), svg or png (repeatable).",
)
@click.option(
    "--to", type=click.Path(path_type=Path), help="Folder for the drawings; beside the site by default."
)
@click.option("--full", is_flag=True, help="Play the hole out (minutes) for a board not studied yet.")
@click.option("--replace", is_flag=True, help="Replace drawings that are already there.")
@common
def draw(
    site: Path,
    terrain: Path | None,
    height_unit: str | None,
    settings: dict[str, Any],
    as_json: bool,
    quiet: bool,
    **choices: Any,
) -> None:
    """Draw a hole to scale on paper: board, setting-out, grading, cross-sections, green detail."""
    from gistools.cli.screen import progress_bar
    from gistools.sheets.drawings.write import write_drawings

    choices["drawings"] = choices["drawings"] or None
    opened = opened_site(site, terrain, height_unit, settings)
    with progress_bar(quiet) as progress, on_progress(progress):
        paths = write_drawings(opened, **choices)
    click.echo(json.dumps([str(p) for p in paths], indent=1) if as_json else "\n".join(map(str, paths)))
    for caution in () if quiet else find("setting_out").cautions:
        click.echo(f"Caution: {caution}", err=True)


@main.command()
@click.argument("site", type=click.Path(path_type=Path), required=False)
def settings(site: Path | None) -> None:
    """List the settings that shape results: value on SITE or default, unit, and what can be given."""
    from gistools.cli.screen import settings_page

    click.echo(settings_page(None if site is None else opened_site(site, None, None, {})))


@main.command()
@click.argument("step", required=False)
def about(step: str | None) -> None:
    """Say what a STEP reads, writes and rests on; without one, list the steps."""
    if step is None:
        for name in STEPS:
            click.echo(f"{name:16} {find(name).summary}")
        return
    from gistools.cli.screen import step_page

    click.echo(step_page(find(step.replace("-", "_"))))


@main.command()
def serve() -> None:
    """Answer requests of another program: lines of JSON on standard input and output."""
    from gistools.cli.serve import serve as answer_requests

    answer_requests()


@main.command()
@click.option("--quick", is_flag=True, help="Only what a quick study needs.")
def prepare(quick: bool) -> None:
    """Compile the loops now, once after installing, instead of during the first study."""
    from gistools.cli import warmup as _ahead
    from gistools.cli.screen import progress_bar

    with progress_bar() as progress, on_progress(progress):
        seconds = _ahead.prepare(_ahead.QUICK if quick else tuple(_ahead.PARTS))
    click.echo(f"loops compiled in {seconds:.0f} s" if seconds >= 1 else "loops are compiled already")


@main.command()
def schema() -> None:
    """Print the JSON Schema of what the commands print with --json."""
    click.echo(Path(__file__).with_name("output.schema.json").read_text(encoding="utf-8"), nl=False)


@main.command()
def versions() -> None:
    """Print the versions that matter in a report of a fault."""
    import platform
    from importlib.metadata import version

    click.echo(f"python {platform.python_version()} on {platform.platform()}")
    for package in ("golf-gistools", "numpy", "numba", "shapely", "geopandas", "fiona", "rasterio", "pyproj"):
        click.echo(f"{package} {version(package)}")


def step_command(spec: Step) -> click.Command:
    """Make the command of a step from its declaration."""

    def run_step(
        site: Path,
        terrain: Path | None,
        height_unit: str | None,
        settings: dict[str, Any],
        units: str,
        as_json: bool,
        quiet: bool,
        out: Path | None,
        replace: bool,
        show_only: bool,
        all_columns: bool,
        all_rows: bool,
        maps: Path | None = None,
        report: Path | None = None,
        **options: Any,
    ) -> None:
        from gistools.cli.screen import print_matrices, print_result, progress_bar
        from gistools.site.write import refuse_out
        from gistools.steps.catalogue import run
        from gistools.steps.records import result_as_json

        names_by_column = {column: options.pop(f"only_{column}", ()) for column in FILTERS}
        given: dict[str, Any] = {k: (v or None) if isinstance(v, tuple) else v for k, v in options.items()}
        opened = opened_site(site, terrain, height_unit, settings)
        refuse_unknown(opened, options.get("hole"), names_by_column)
        if out is not None and not show_only:
            refuse_out(opened, out, replace or None)
        with progress_bar(quiet) as progress:
            result = run(spec.name, opened, progress=progress, **given)
            shown = filtered(result, names_by_column)
            path = None if show_only else opened.write(result, out=out, replace=replace or None)
            files = [] if maps is None else opened.write_maps(result, to=maps, replace=replace)
            if report is not None:
                from gistools.sheets.drawings.write import write_as_built_report

                write_as_built_report(opened, report, replace=replace, **given)
        if as_json:
            click.echo(json.dumps(result_as_json(shown, opened.crs.to_string()), indent=1))
        elif spec.name == "where_to_play":
            print_matrices(shown, units)
        else:
            print_result(shown, units, all_columns, all_rows)
        if spec.name == "as_built_check" and not as_json:
            from gistools.steps.as_built_rows import as_built_sentences

            for words in as_built_sentences(shown["as_built_check"]):
                click.echo(words)
        for caution in () if quiet else spec.cautions:
            click.echo(f"Caution: {caution}", err=True)
        if path and not quiet:
            click.echo(f"written to {path}: {', '.join(w.table for w in spec.writes)}", err=True)
        if files and not quiet:
            click.echo(f"maps written: {', '.join(str(file) for file in files)}", err=True)
        if report is not None and not quiet:
            click.echo(f"report written: {report}", err=True)
        if spec.name == "brief":
            from gistools.steps.study import holds

            sys.exit(0 if holds(result) else 1)

    command = common(run_step)
    command = click.option("--show-only", is_flag=True, help="Print the result, write nothing.")(command)
    command = click.option("--all-rows", is_flag=True, help="Print every row of a long table.")(command)
    command = click.option(
        "--all-columns", is_flag=True, help="Print every figure of a wide table, row by row."
    )(command)
    command = elsewhere(command)
    if any(w.geometry == "raster" for w in spec.writes):
        command = click.option(
            "--maps",
            type=click.Path(path_type=Path),
            help=(
                "Write the maps as GeoTIFF files too: into this folder, or as this .tif where there is one"
                " map."
            ),
        )(command)
    if spec.name == "as_built_check":
        command = click.option(
            "--report", type=click.Path(path_type=Path), help="Write a report on A3 too: this .pdf file."
        )(command)
    command = filter_options(spec, command)
    for choice in reversed(spec.choices):
        command = option_of(choice)(command)
    command = refuse_plural(spec.choices, refuse_replaced(spec.name, command))
    return click.command(spec.name, help=_help(spec), short_help=spec.summary)(SITE(command))


def _help(spec: Step) -> str:
    first = spec.doc.split("\n\n")[0]
    return (
        f"{first}\n\nReads {', '.join(r.layer for r in spec.reads)}; writes"
        f" {', '.join(w.table for w in spec.writes)}."
    )


main.add_command(compare)
main.add_command(search)
main.add_command(form)
main.add_command(turning_points)
main.add_command(sensitivity)
main.add_command(uncertainty)
main.add_command(propose_tees)
main.add_command(styles)
main.add_command(project)
main.add_command(desktop)
main.add_command(completion)

if __name__ == "__main__":
    main()
