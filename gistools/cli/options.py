"""Options that several commands share, and those of a step made from its declaration."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, get_args

import click

from gistools.base import renamed
from gistools.base.errors import InputError
from gistools.base.settings import REPLACED, parse_assignments, replaced_option
from gistools.cli.filters import LIMITS
from gistools.steps.catalogue import Choice

SITE = click.argument("site", type=click.Path(path_type=Path))


def common(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options every command on a site has."""
    for option in reversed(
        (
            click.option("--terrain", type=click.Path(path_type=Path), help="GeoTIFF to use as the terrain."),
            click.option(
                "--height-unit",
                type=click.Choice(["m", "ft", "us-ft"]),
                help="Unit of the heights, where the file does not say.",
            ),
            click.option(
                "--set",
                "settings",
                multiple=True,
                metavar="NAME=VALUE",
                callback=lambda _context, _option, texts: parse_assignments(texts),
                help=(
                    "A setting, for example stimp_ft=11 or firmness:3=firm (repeatable; `gistools"
                    " settings` lists them)."
                ),
            ),
            click.option("--units", type=click.Choice(["m", "yd"]), default="m", help="Lengths on screen."),
            click.option("--json", "as_json", is_flag=True, help="Print the result as JSON."),
            click.option("-q", "--quiet", is_flag=True, help="No talk, no progress."),
        )
    ):
        command = option(command)
    return command


def elsewhere(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of a command that may write to another file."""
    command = click.option(
        "--replace", is_flag=True, help="Replace what is at --out, even if no earlier output of this program."
    )(command)
    return click.option(
        "--out", type=click.Path(path_type=Path), help="Write to another GeoPackage instead of SITE."
    )(command)


def opened_site(
    site: Path, terrain: Path | None, height_unit: str | None, settings: Mapping[str, Any]
) -> Any:
    """Open the site a command was given."""
    from gistools.site.read import open_site

    return open_site(site, terrain=terrain, height_unit=height_unit, settings=settings)


def option_of(choice: Choice) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Make the option of a command from that of a step."""
    kinds = [t for t in (get_args(choice.type) or (choice.type,)) if t is not type(None)]
    kind = kinds[0]
    many = getattr(kind, "__origin__", None) is tuple or choice.type in (tuple, list)
    if many:
        kind = get_args(kind)[0]
    name = "--" + LIMITS.get(choice.name, choice.name).replace("_", "-")
    if kind is bool:
        return click.option(
            f"{name}/--no-{name[2:]}", choice.name, default=choice.default, help=choice.option.text
        )
    kind = click.Choice(list(choice.option.choices)) if choice.option.choices else kind
    kind = click.Path(dir_okay=False) if choice.option.file else kind
    return click.option(
        name,
        choice.name,
        type=kind,
        multiple=many,
        default=None if many else choice.default,
        show_default=choice.default is not None and not many,
        help=choice.option.text + (f" [{choice.option.unit}]" if choice.option.unit else ""),
    )


def refuse_plural(choices: tuple[Choice, ...], command: Callable[..., Any]) -> Callable[..., Any]:
    """Add hidden options that refuse the plural of ``--player`` and ``--wind``, and name the one to use."""

    def refuse(_context: click.Context, option: click.Parameter, value: str | None) -> None:
        if value is not None:
            name = str(option.name).removeprefix("plural_")
            raise InputError(f"--{name} is called --{LIMITS[name]} now (repeatable, or with commas)")

    for name in LIMITS:
        if any(choice.name == name for choice in choices):
            added = click.option(
                f"--{name}", f"plural_{name}", hidden=True, expose_value=False, callback=refuse
            )
            command = added(command)
    return command


def refuse_replaced(step: str, command: Callable[..., Any]) -> Callable[..., Any]:
    """Add hidden options that refuse those of a step that settings have replaced, and name the setting."""

    def refuse(_context: click.Context, option: click.Parameter, value: str | None) -> None:
        if value is not None:
            name = str(option.name).removeprefix("replaced_")
            raise InputError(str(replaced_option(step, name)))

    for old in (*REPLACED, *renamed.OPTIONS):
        owner, _, name = old.partition(".")
        if owner == step:
            flag = "--" + name.replace("_", "-")
            added = click.option(flag, f"replaced_{name}", hidden=True, expose_value=False, callback=refuse)
            command = added(command)
    return command
