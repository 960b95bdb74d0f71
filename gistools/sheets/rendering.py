"""Templates of pages, drawings and style files."""

from __future__ import annotations

from pathlib import Path
from string import Template
from typing import Any

import jinja2
from markupsafe import Markup

from gistools.sheets import colours

FOLDER = Path(__file__).with_name("templates")


def part(name: str) -> Markup:
    """Return a file of the folder as it is."""
    return Markup((FOLDER / name).read_text(encoding="utf-8"))


def page_style() -> Markup:
    """Return the style sheet of pages with the colours that drawings have too."""
    return Markup(Template(part("page.css")).substitute(vars(colours)))


def rgba(colour: str, opacity: float = 1.0) -> str:
    """Return a colour ``#rrggbb`` as red, green, blue and opacity from 0 to 255."""
    red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return f"{red},{green},{blue},{round(opacity * 255)}"


_environment = jinja2.Environment(
    loader=jinja2.FileSystemLoader(FOLDER),
    autoescape=True,
    trim_blocks=True,
    lstrip_blocks=True,
    undefined=jinja2.StrictUndefined,
)
_environment.globals |= {"part": part, "page_style": page_style}
_environment.filters["combined"] = lambda values, more: {**values, **more}
_environment.filters["rgba"] = rgba


def render(name: str, **values: Any) -> str:
    """Return a template with its values filled in; text is escaped."""
    return _environment.get_template(name).render(**values)
