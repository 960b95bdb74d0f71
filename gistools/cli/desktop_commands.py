"""Commands that bring a site into a desktop GIS: its styles, a project file, the lines for its console."""

from __future__ import annotations

from pathlib import Path

import click

from gistools.cli.options import SITE


@click.command()
@SITE
@click.option("--to", type=click.Path(path_type=Path), help="Folder; by default beside the site.")
@click.option("--replace", is_flag=True, help="Write over style files that are already there.")
def styles(site: Path, to: Path | None, replace: bool) -> None:
    """Write the drawing styles of the result layers as OGC style files (.sld)."""
    from gistools.sheets.style_files import write_styles

    for path in write_styles(site, to, replace=replace):
        click.echo(path)


@click.command()
@SITE
@click.option(
    "--to", type=click.Path(path_type=Path), help="Project file (.qgs); by default beside the site."
)
@click.option("--replace", is_flag=True, help="Write over a project file that is already there.")
def project(site: Path, to: Path | None, replace: bool) -> None:
    """Write a project of a desktop GIS: layers grouped and drawn, one choice shown, map themes."""
    from gistools.sheets.project_file import write_project

    click.echo(write_project(site, to, replace=replace))


@click.command()
def desktop() -> None:
    """Print the lines that bring the toolkit into the Python console of a desktop GIS."""
    from gistools.cli.console_lines import console_lines

    click.echo(console_lines())
