"""Templates of pages, drawings and style files."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import jinja2
from markupsafe import Markup

FOLDER = Path(__file__).with_name("templates")


def part(name: str) -> Markup:
    """Return a file of the folder as it is."""
    return Markup((FOLDER / name).read_text(encoding="utf-8"))


_environment = jinja2.Environment(
    loader=jinja2.FileSystemLoader(FOLDER),
    autoescape=True,
    trim_blocks=True,
    lstrip_blocks=True,
    undefined=jinja2.StrictUndefined,
)
_environment.globals["part"] = part


def render(name: str, **values: Any) -> str:
    """Return a template with its values filled in; text is escaped."""
    return _environment.get_template(name).render(**values)
