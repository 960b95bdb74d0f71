"""The catalogue of steps: what each reads, writes and offers, declared once.

A *step* is one processing function: a :class:`~gistools.site.Site` in, a result layer out. The console, the
command line, ``study``, the documentation pages, the titles and units stored in the file and the generic
tests all use the same declaration. This module imports nothing heavy, so that the list of steps and the
help of the command line are there at once.

Steps meet only through results: a step that builds on another one calls :func:`need`, which computes it once
per site and keeps it in memory.
"""

from __future__ import annotations

import functools
import importlib
import inspect
import types
import typing
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from gistools.base.errors import InputError
from gistools.base.progress import on_progress
from gistools.base.renamed import LAYERS
from gistools.base.settings import replaced_option
from gistools.base.units import UNITS
from gistools.site.results import ColumnInfo, LayerInfo, Layers, Map
from gistools.steps.docstrings import docstring, signature
from gistools.steps.writes import Writes

#: the steps in the order a study runs them; the module of the same name declares each
STEPS = (
    "lines_of_play",
    "lengths",
    "carries",
    "corridors",
    "diagonals",
    "zones",
    "setbacks",
    "slopes",
    "drainage",
    "flag_views",
    "screening",
    "sections",
    "effective_carries",
    "tee_shots",
    "strokes",
    "approaches",
    "positions",
    "where_to_play",
    "landing_areas",
    "scores",
    "playability",
    "brief",
    "quantities",
    "contours",
    "setting_out",
    "as_built_check",
)


@dataclass(frozen=True)
class Reads:
    """A survey layer a step uses. ``required`` ones stop the step when they are missing."""

    layer: str
    required: bool = False


@dataclass(frozen=True)
class Option:
    """What an option of a step means: unit, text for people and bounds. Used inside ``Annotated``.

    ``file`` tells that it is the path of a file: a result is computed again when what is in it has changed.
    """

    unit: str
    text: str
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    file: bool = False


@dataclass(frozen=True)
class Choice:
    """An option as found in a step's signature: name, Python type, default and its :class:`Option`."""

    name: str
    type: Any
    default: Any
    option: Option


HOLE = Option("", "number of the hole; without it all holes", 1, 36)


#: parts of a desktop's layer tree, from the top down
GROUPS = ("Strategy", "Shots", "Plan", "Ground and sight", "For the crew")


#: parts of the compute floor whose loops are compiled ahead (``gistools prepare``)
LOOPS = ("ground", "shots", "strategy")


@dataclass(frozen=True)
class Step:
    """One declared step.

    Attributes
    ----------
    summary
        What it answers, in a line of the help.
    group
        Part of a desktop's layer tree that its layers stand in, one of :data:`GROUPS`.
    cost
        ``"minutes"`` for a step that plays whole holes out, thousands of times; else ``"seconds"``.
    needs
        Survey layer without which the step has no result; empty for none. A study then skips the step.
    on_page
        Whether the page of a hole shows the results.
    loops
        One of :data:`LOOPS` where running the step ahead compiles what that part needs; empty for none.
    """

    name: str
    summary: str
    reads: tuple[Reads, ...]
    writes: tuple[Writes, ...]
    sources: tuple[str, ...]
    cautions: tuple[str, ...]
    compute: Callable[..., Any]
    choices: tuple[Choice, ...] = field(default=())
    group: str = GROUPS[0]
    cost: str = "seconds"
    needs: str = ""
    on_page: bool = True
    loops: str = ""

    @property
    def doc(self) -> str:
        """The docstring of the function."""
        return inspect.getdoc(self.compute) or ""

    def require(self, site: Any, hole: int | None = None) -> None:
        """Stop where the site lacks a layer the step cannot do without.

        See :meth:`gistools.site.model.Site.require`.
        """
        site.require(self.name, {r.layer: r.required for r in self.reads}, hole)

    def layer_info(self, layer: str, options: dict[str, Any], *, raster: bool = False) -> LayerInfo:
        """Return what a result layer of the step says about itself."""
        fitting = (
            w
            for w in self.writes
            if (w.geometry == "raster" and layer.startswith(w.layer) if raster else w.layer == layer)
        )
        writes = next(fitting, Writes(layer, ""))
        return LayerInfo(
            layer,
            writes.geometry,
            writes.text,
            tuple(ColumnInfo(c.name, c.title, c.text) for c in writes.columns),
            self.name,
            options,
            tuple(r.layer for r in self.reads),
            tuple(self.cautions),
            tuple(self.sources),
        )


_declared: dict[str, Step] = {}


def step(
    name: str,
    *,
    summary: str,
    reads: list[Reads],
    writes: list[Writes],
    sources: list[str],
    cautions: tuple[str, ...] = (),
    group: str,
    cost: str = "seconds",
    needs: str = "",
    on_page: bool = True,
    loops: str = "",
) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Declare a step; see :class:`Step` for the parts of the declaration.

    The decorated function takes a ``Site`` and keyword-only options, works in metres on the site's metric
    CRS, and returns rows: mappings of column to value, with ``geometry``. Where several layers are declared
    it returns a dict of layer name to rows, and :class:`~gistools.site.model.Map` values for rasters. The
    public function that replaces it checks the options, makes the declared tables of the rows
    (:func:`gistools.steps.tables.build_table`), remembers them on the site, and hands out a copy in the
    site's own CRS.
    """
    if name not in STEPS:
        raise ValueError(f"step {name!r} is not on the list in catalogue.py")
    if group not in GROUPS or cost not in ("seconds", "minutes") or loops not in ("", *LOOPS):
        raise ValueError(
            f"step {name!r}: group {group!r}, cost {cost!r} or loops {loops!r} is not on a list here"
        )

    def declare(function: Callable[..., Any]) -> Callable[..., Any]:
        spec = Step(
            name=name,
            summary=summary,
            reads=tuple(reads),
            writes=tuple(writes),
            sources=tuple(sources),
            cautions=cautions,
            compute=function,
            choices=_choices(function),
            group=group,
            cost=cost,
            needs=needs,
            on_page=on_page,
            loops=loops,
        )
        _declared[name] = spec

        @functools.wraps(function)
        def public(site: Any, **options: Any) -> Any:
            return _output(site, spec, _remembered(site, spec, options), checked(spec, options))

        public.__signature__ = signature(spec.choices, spec.writes)  # type: ignore[attr-defined]
        public.__doc__ = docstring(function, spec.choices, spec.writes)
        return public

    return declare


def _output(site: Any, spec: Step, result: Any, options: dict[str, Any]) -> Any:
    """Return a caller's copy of a step's result, in the CRS of the file, with what it says about itself."""
    if isinstance(result, dict):
        return Layers({name: _output_layer(site, spec, name, t, options) for name, t in result.items()})
    return _output_layer(site, spec, spec.writes[0].layer, result, options)


def _output_layer(site: Any, spec: Step, layer: str, table: Any, options: dict[str, Any]) -> Any:
    if isinstance(table, Map):
        return replace(table, attrs=spec.layer_info(table.name, options, raster=True).as_attrs())
    columns = next((w.columns for w in spec.writes if w.layer == layer), ())
    out = site.to_output_crs(table, [c.name for c in columns if c.unit == "crs"])
    out.attrs = spec.layer_info(layer, options).as_attrs()
    return out


def _choices(function: Callable[..., Any]) -> tuple[Choice, ...]:
    given = list(inspect.signature(function).parameters.values())[1:]
    # of the options alone: the types of site and result stay unimported until a step runs
    annotated = types.SimpleNamespace(__annotations__={p.name: p.annotation for p in given})
    hints = typing.get_type_hints(annotated, function.__globals__, include_extras=True)
    choices = []
    for parameter in given:
        if parameter.kind is not inspect.Parameter.KEYWORD_ONLY:
            raise TypeError(f"{function.__name__}: option {parameter.name} has to be keyword-only")
        hint = hints[parameter.name]
        if parameter.name == "hole":
            option, kind = HOLE, int | None
        elif typing.get_origin(hint) is typing.Annotated:
            kind, option = typing.get_args(hint)[:2]
        else:
            raise TypeError(
                f"{function.__name__}: option {parameter.name} needs Annotated[type, Option(...)]"
            )
        choices.append(Choice(parameter.name, kind, parameter.default, option))
    return tuple(choices)


def find(name: str) -> Step:
    """Return the declaration of a step, importing its module on first use.

    Raises
    ------
    InputError
        If there is no step of that name.
    """
    if name in LAYERS:
        raise InputError(f"the step {name!r} is called {LAYERS[name]!r} now")
    if name not in STEPS:
        raise InputError(f"there is no step {name!r}; the steps are: {', '.join(STEPS)}")
    if name not in _declared:
        _module(name)
    return _declared[name]


def step_of_layer(layer: str) -> tuple[Step, Writes] | None:
    """Return the step that writes a result layer (name without prefix), and the declaration of the layer."""
    declared = ((find(name), w) for name in STEPS for w in find(name).writes)
    return next((pair for pair in declared if pair[1].layer == layer), None)


def _module(name: str) -> types.ModuleType:
    return importlib.import_module(f"gistools.steps.{name}")


def function(name: str) -> Callable[..., Any]:
    """Return the public function of a step."""
    find(name)
    return typing.cast("Callable[..., Any]", getattr(_module(name), name))


def need(site: Any, name: str, **options: Any) -> Any:
    """Return another step's result in metres, computed once per site. Treat it as read-only.

    That of a hole comes out of the tables of all holes where the site remembers those.
    """
    return _remembered(site, find(name), options)


def keep_result(site: Any, spec: Step, options: dict[str, Any], result: Any) -> None:
    """Have the site remember a result computed elsewhere, as :func:`need` would return it."""
    site.memo[_memory_key(spec, checked(spec, options))] = result


def _memory_key(spec: Step, filled: dict[str, Any]) -> tuple[Any, ...]:
    contents = tuple(_content(filled[c.name]) for c in spec.choices if c.option.file)
    return (spec.name, tuple(sorted((k, _frozen(v)) for k, v in filled.items())), *contents)


def _remembered(site: Any, spec: Step, options: dict[str, Any]) -> Any:
    filled = checked(spec, options)
    key = _memory_key(spec, filled)

    def make() -> Any:
        hole = filled.get("hole")
        whole: Any = None if hole is None else site.memo.get(_memory_key(spec, {**filled, "hole": None}))
        layers = list(whole.values()) if isinstance(whole, dict) else [whole]
        if all("hole" in getattr(layer, "columns", ()) and layer["hole"].notna().all() for layer in layers):
            of_hole = [layer[layer["hole"] == hole].reset_index(drop=True) for layer in layers]
            return dict(zip(whole, of_hole, strict=True)) if isinstance(whole, dict) else of_hole[0]
        spec.require(site, hole)
        return _tables(site, spec, spec.compute(site, **filled))

    return site.remember(key, make)


def _tables(site: Any, spec: Step, result: Any) -> Any:
    """Make the declared tables of the rows that a step returned; maps stay as they are."""
    from gistools.steps.tables import build_table

    if not isinstance(result, dict):
        return build_table(site, spec.writes[0], result)
    declared = {w.layer: w for w in spec.writes}
    return {
        name: build_table(site, declared[name], part) if isinstance(part, list) else part
        for name, part in result.items()
    }


def _frozen(value: Any) -> Any:
    return tuple(_frozen(v) for v in value) if isinstance(value, (list, tuple)) else value


def _content(path: str | None) -> bytes | None:
    """What is in a file; None where there is none, which the step will say."""
    try:
        return None if path is None else Path(path).read_bytes()
    except OSError:
        return None


def checked(spec: Step, options: dict[str, Any]) -> dict[str, Any]:
    """Fill in defaults and refuse what is outside the declared bounds.

    Raises
    ------
    InputError
        Naming the step, the option and what it can be.
    """
    known = {c.name: c for c in spec.choices}
    for name in options:
        if name not in known:
            replaced = replaced_option(spec.name, name)
            raise InputError(
                replaced or f"{spec.name} has no option {name!r}; it has: {', '.join(known) or 'none'}"
            )
    filled = {c.name: options.get(c.name, c.default) for c in spec.choices}
    for name, value in filled.items():
        option = known[name].option
        if value is None:
            continue
        for item in value if isinstance(value, (list, tuple)) else [value]:
            if option.choices and item not in option.choices:
                raise InputError(f"{spec.name}: {name} is {item!r}; it can be {', '.join(option.choices)}")
            if (option.low is not None or option.high is not None) and not _within(item, option):
                raise InputError(
                    f"{spec.name}: {name} is {item!r}; it should be a number"
                    f" from {option.low} to {option.high} {UNITS[option.unit][1]}".rstrip()
                )
    return filled


def _within(value: Any, option: Option) -> bool:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return False
    low = -float("inf") if option.low is None else option.low
    high = float("inf") if option.high is None else option.high
    return bool(low <= value <= high)


def run(
    name: str,
    site: Any,
    *,
    progress: Callable[[float, str], None] | None = None,
    **options: Any,
) -> Any:
    """Run one step by name, with progress.

    Parameters
    ----------
    name
        Name of the step.
    site
        An open site.
    progress
        Called with ``(share, text)``; raising in it stops the step.
    **options
        Options of the step.

    Returns
    -------
    GeoDataFrame, DataFrame or Layers
        What the step's own function returns.

    Raises
    ------
    InputError
        If there is no such step, or an option cannot be used.
    """
    with on_progress(progress):
        return function(name)(site, **options)
