"""The docstring of a step's public function, made from its declaration: options, result, errors."""

from __future__ import annotations

import inspect
import re
import textwrap
from typing import TYPE_CHECKING, Any

from gistools.base.units import UNITS

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

WIDTH = 100
SECTION = re.compile(r"^(Parameters|Returns|Raises|Notes|Examples)\n-+$", re.MULTILINE)


def type_text(kind: Any) -> str:
    """Return a type as it is written in a signature."""
    if isinstance(kind, type) and not getattr(kind, "__args__", None):
        return kind.__name__
    return str(kind).replace("typing.", "")


def result_text(writes: Sequence[Any]) -> str:
    """Return the type of a step's result: one table, or the layers by name."""
    if len(writes) > 1 or writes[0].geometry == "raster":
        return "Layers"
    return "GeoDataFrame" if writes[0].geometry else "DataFrame"


def signature(choices: Sequence[Any], writes: Sequence[Any]) -> inspect.Signature:
    """Return the signature of a step: a site, options by name with plain types, and the result."""
    site = inspect.Parameter("site", inspect.Parameter.POSITIONAL_OR_KEYWORD, annotation="Site")
    options = [
        inspect.Parameter(
            c.name, inspect.Parameter.KEYWORD_ONLY, default=c.default, annotation=type_text(c.type)
        )
        for c in choices
    ]
    return inspect.Signature([site, *options], return_annotation=result_text(writes))


def docstring(function: Callable[..., Any], choices: Sequence[Any], writes: Sequence[Any]) -> str:
    """Return the docstring of a step: its own text, then options, result and errors.

    Parameters
    ----------
    function
        The function that computes, with the text of its author.
    choices, writes
        Options and layers as declared.
    """
    text = inspect.getdoc(function) or ""
    first = SECTION.search(text)
    body, sections = (text, "") if first is None else (text[: first.start()], text[first.start() :])
    parts = [body.strip(), "\n".join(["Parameters\n----------", "site : Site", *_entry("An open site.")])]
    parts[-1] += "".join("\n" + "\n".join(_option(choice)) for choice in choices)
    if "Returns\n---" not in sections:
        layers = [f"`{w.table}`" + (f": {w.text}" if w.text else "") for w in writes]
        parts.append("\n".join(["Returns\n-------", result_text(writes), *_entry("; ".join(layers) + ".")]))
    parts.append(sections.strip())
    if "Raises\n---" not in sections:
        errors = ["InputError", *_entry("If an option is outside its bounds, or a hole is not on the site.")]
        errors += ["SiteError", *_entry("If a layer the step needs is missing or in error.")]
        parts.append("\n".join(["Raises\n------", *errors]))
    return "\n\n".join(part for part in parts if part)


def _option(choice: Any) -> list[str]:
    option = choice.option
    unit = UNITS[option.unit][1]
    text = option.text[:1].upper() + option.text[1:] + (f" [{unit}]" if unit else "")
    if option.choices:
        text += f"; one of {', '.join(option.choices)}"
    elif option.low is not None or option.high is not None:
        text += f"; from {option.low:g} to {option.high:g}" if None not in (option.low, option.high) else ""
    default = "" if choice.default is None else f", default {choice.default!r}"
    return [f"{choice.name} : {type_text(choice.type)}{default}", *_entry(text + ".")]


def _entry(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent="    ", subsequent_indent="    ")
