"""What a step writes: a result layer with its columns."""

from __future__ import annotations

from dataclasses import dataclass, field

from gistools.base.columns import Column
from gistools.site.schema import RESULT_PREFIX
from gistools.steps.styles import MapColours, Style


@dataclass(frozen=True)
class PageTable:
    """How a result layer becomes a table on the page. Columns are names with spaces between.

    Attributes
    ----------
    caption
        Words above the table.
    columns
        Columns in the order shown; the others stay in the layer.
    aside
        Columns that are chosen above the table and not repeated in it.
    order
        Rows are sorted by this column; the first row is marked.
    verdict
        Column coloured by what it says.
    reading
        Column written out as sentences below.
    total
        Figure named in the line at the head of the page.
    whole
        True for a table that does not follow the reader's choices.
    parts
        Further tables of the same rows: name to caption and columns.
    joined
        Columns shown together in one, `about`.
    spread
        A key and a figure: the figure has a column for each value of the key, side by side.
    headings
        Column to heading, where the name of the column alone would not tell a reader enough.
    """

    caption: str
    columns: str = ""
    aside: str = ""
    order: str = ""
    verdict: str = ""
    reading: str = ""
    total: str = ""
    whole: bool = False
    parts: dict[str, tuple[str, str]] = field(default_factory=dict)
    joined: str = ""
    spread: str = ""
    headings: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Writes:
    """A result layer: its name without the ``study_`` prefix, geometry type, columns and meaning.

    ``geometry`` is a simple-feature type name, ``""`` for a plain table, or ``"raster"`` for maps: a step may
    then return any number of :class:`~gistools.site.model.Map` whose names start with ``layer``. ``visible``
    layers are switched on when a desktop shows them first. ``style`` says how it is drawn, ``page`` is its
    table on the page of a hole, ``compared`` are the columns that a comparison of two sites lists unasked,
    ``themes`` the map themes of a desktop's project that show it. Plan and charts of the page need the
    rows of a layer that is ``drawn``, which has no table there.
    """

    layer: str
    geometry: str
    columns: tuple[Column, ...] = ()
    text: str = ""
    visible: bool = False
    style: Style | MapColours | None = None
    page: PageTable | None = None
    compared: str = ""
    themes: tuple[str, ...] = ()
    drawn: bool = False

    @property
    def table(self) -> str:
        """Name of the layer in the file."""
        return RESULT_PREFIX + self.layer
