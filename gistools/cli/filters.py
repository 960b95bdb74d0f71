"""Rows of a result that a command is asked to show: ``--tee``, ``--player``, ``--wind``, ``--pin``, ...

The options are those of the columns a step writes. What is written into the file stays whole.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import click

from gistools.base.names import match_names
from gistools.site.results import Layers, Map
from gistools.steps.catalogue import Step

#: column -> what its names are called
FILTERS = {"tee": "tee", "player": "player", "wind": "wind", "pin": "hole location", "zone": "landing zone"}
#: option of a step that limits what is computed -> how the command line spells it
LIMITS = {"players": "player", "winds": "wind"}


def filter_columns(spec: Step) -> list[str]:
    """Return the columns a step's command filters by: those it writes and does not compute by name."""
    computed = {LIMITS.get(choice.name, choice.name) for choice in spec.choices}
    written = {column.name for layer in spec.writes for column in layer.columns}
    return [name for name in FILTERS if name in written and name not in computed]


def filter_options(spec: Step, command: Callable[..., Any]) -> Callable[..., Any]:
    """Add an option for each column the step's command filters by."""
    for name in reversed(filter_columns(spec)):
        command = click.option(
            f"--{name}",
            f"only_{name}",
            multiple=True,
            help=f"Show this {FILTERS[name]} alone (repeatable, or with commas; a beginning will do).",
        )(command)
    return command


def refuse_unknown(site: Any, hole: int | None, names_by_column: Mapping[str, tuple[str, ...]]) -> None:
    """Stop before anything is computed where a tee or hole location is not in the survey of the hole.

    Raises
    ------
    InputError
        If a name is not in the survey; the message lists those that are.
    """
    for column, layer in (("tee", "tees"), ("pin", "pins")):
        typed = names_by_column.get(column, ())
        known = [v for v in site.layer(layer, hole)[column] if isinstance(v, str) and v]
        if typed and known:
            match_names(typed, known, FILTERS[column])


def filtered(result: Any, names_by_column: Mapping[str, tuple[str, ...]]) -> Any:
    """Return a result with the rows asked for alone, in every layer that has the column.

    Parameters
    ----------
    result
        One layer, or several.
    names_by_column
        Column -> names as typed; an empty tuple asks for all.

    Raises
    ------
    InputError
        If a name is not in the result; the message lists those that are.
    """
    layers = result if isinstance(result, Mapping) else {"": result}
    tables = {name: part for name, part in layers.items() if not isinstance(part, Map)}
    for column, typed in names_by_column.items():
        if not typed:
            continue
        of_column = {name: table for name, table in tables.items() if column in table}
        known = [v for table in of_column.values() for v in table[column] if isinstance(v, str) and v]
        meant = match_names(typed, known, FILTERS[column])
        tables |= {name: table[table[column].isin(meant)] for name, table in of_column.items()}
    if isinstance(result, Mapping):
        return Layers({name: tables.get(name, part) for name, part in layers.items()})
    return tables.get("", result)
