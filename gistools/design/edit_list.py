"""Lists of edits, one change a row: a TOML file, or the table ``edits`` of a site file."""

from __future__ import annotations

import dataclasses
import json
import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from gistools.base.errors import InputError
from gistools.base.files import atomic_replace
from gistools.base.values import is_missing
from gistools.site import _vector
from gistools.site._file import look_inside
from gistools.site.schema import EDIT_ACTIONS, EDITED_LAYERS, TABLES

#: fields that each action cannot do without one of
_NEEDS = {
    "move": ("along_m", "across_m", "east_m", "north_m"),
    "turn": ("turn_deg",),
    "scale": ("factor",),
    "raise": ("rise_m",),
    "lower": ("rise_m",),
}
_LINE_OF_PLAY = ("along_m", "across_m")


@dataclass(frozen=True)
class Edit:
    """One change of a design.

    Parameters
    ----------
    action
        ``move``, ``turn``, ``scale``, ``raise``, ``lower``, ``add`` or ``remove``.
    feature
        Name of the feature as results show it; of a tee or pin its own name. For ``add`` the name it gets.
    layer, hole
        Survey layer and hole of the feature, where the name alone leaves a choice; ``add`` needs the layer.
    along_m, across_m
        How far to move along the line of play of the longest tee (towards the green) and to the right of it
        [m]. For ``add`` the place: chainage from that tee, and offset to the right [m].
    east_m, north_m
        How far to move east and north [m]; added to the above.
    turn_deg
        Turn clockwise about the middle of the feature [degrees].
    factor
        Times its size in plan (``scale``). Heights stay.
    rise_m
        How much to raise or lower [m], above 0. For ``add`` the height of a mound, the depth of a bunker or
        burn, the rise of a tier.
    x, y
        Place of an added feature in the CRS of the site, instead of chainage and offset.
    length_m, width_m
        Size of an added feature along and across the line of play; the width of a burn [m].
    side, from_m, to_m
        Edge of the fairway that moves: ``left`` or ``right``, between two chainages [m].
    points
        Line of an added burn: ``"150,-40 170,30"``, chainage and offset of each point [m].
    note
        Why; for people.

    Raises
    ------
    InputError
        If the action is unknown, a field that it needs is missing, or a number cannot be.
    """

    action: str
    feature: str = ""
    layer: str = ""
    hole: int | None = None
    along_m: float | None = None
    across_m: float | None = None
    east_m: float | None = None
    north_m: float | None = None
    turn_deg: float | None = None
    factor: float | None = None
    rise_m: float | None = None
    x: float | None = None
    y: float | None = None
    length_m: float | None = None
    width_m: float | None = None
    side: str = ""
    from_m: float | None = None
    to_m: float | None = None
    points: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        if self.action not in EDIT_ACTIONS:
            raise InputError(f"the action {self.action!r} is unknown; it can be {', '.join(EDIT_ACTIONS)}")
        if self.layer and self.layer not in EDITED_LAYERS:
            raise InputError(f"the layer {self.layer!r} is not edited; it can be {', '.join(EDITED_LAYERS)}")
        for f in dataclasses.fields(self):
            value = getattr(self, f.name)
            if f.name.split("_")[-1] in ("m", "deg") or f.name in ("factor", "x", "y"):
                if value is not None and (isinstance(value, bool) or not isinstance(value, (int, float))):
                    raise InputError(f"{self.label}: {f.name} is {value!r}; it should be a number")
                if value is not None and not math.isfinite(value):
                    raise InputError(f"{self.label}: {f.name} is {value!r}; it should be a finite number")
        needs = _NEEDS.get(self.action, ())
        if needs and all(getattr(self, n) is None for n in needs):
            raise InputError(f"{self.label} needs {' or '.join(needs)}")
        if self.factor is not None and not 0.1 <= self.factor <= 10:
            raise InputError(f"{self.label}: factor is {self.factor}; it should be from 0.1 to 10")
        for name in ("length_m", "width_m"):
            if (value := getattr(self, name)) is not None and not value > 0:
                raise InputError(f"{self.label}: {name} is {value}; it should be above 0")
        if self.action in ("raise", "lower") and not 0 < float(self.rise_m or 0) <= 20:
            raise InputError(
                f"{self.label}: rise_m is {self.rise_m}; it should be above 0 and at most 20: "
                "raise and lower say which way"
            )
        if self.action == "add" and not self.layer:
            raise InputError(f"{self.label} needs the layer that the feature is added to")
        if self.side:
            self._check_edge()
        elif self.action != "add" and not self.feature:
            raise InputError(f"{self.label} needs the name of the feature, as results show it")

    def _check_edge(self) -> None:
        if self.side not in ("left", "right"):
            raise InputError(f"{self.label}: side is {self.side!r}; it can be left or right")
        if self.action != "move" or self.from_m is None or self.to_m is None or self.across_m is None:
            raise InputError(f"{self.label}: an edge of the fairway is moved with from_m, to_m and across_m")
        if not self.from_m < self.to_m:
            raise InputError(f"{self.label}: from_m should be less than to_m")

    @property
    def label(self) -> str:
        """The action and what it is done to."""
        subject = self.feature or (f"{self.side} edge of the fairway" if self.side else self.layer)
        return f"{self.action} {subject}".strip()

    @property
    def uses_line_of_play(self) -> bool:
        """Whether lengths along or across the line of play are given."""
        return any(getattr(self, n) is not None for n in _LINE_OF_PLAY) or bool(self.points or self.side)

    def as_dict(self) -> dict[str, Any]:
        """Return the fields that are given."""
        given = {f.name: getattr(self, f.name) for f in dataclasses.fields(self)}
        return {k: v for k, v in given.items() if v is not None and v != ""}


def edit_of(row: Mapping[str, Any]) -> Edit:
    """Return an edit from its fields; missing values count as not given.

    Raises
    ------
    InputError
        If there is a field that edits do not have, or the edit cannot be meant.
    """
    known = {f.name for f in dataclasses.fields(Edit)}
    given = {k: v for k, v in row.items() if not is_missing(v) and v != ""}
    unknown = sorted(set(given) - known)
    if unknown:
        raise InputError(f"has {', '.join(unknown)}; an edit can have: {', '.join(sorted(known))}")
    for name in ("action", "feature", "layer", "side", "points", "note"):
        if name in given:
            given[name] = str(given[name]).strip()
    if "action" not in given:
        raise InputError(f"has no action; it can be {', '.join(EDIT_ACTIONS)}")
    if "hole" in given:
        try:
            number = float(given["hole"])
        except (TypeError, ValueError):
            number = float("nan")
        if isinstance(given["hole"], bool) or not number.is_integer() or not 1 <= number <= 36:
            raise InputError(f"has hole = {given['hole']!r}; it should be a whole number from 1 to 36")
        given["hole"] = int(number)
    given["action"] = given["action"].lower()
    return Edit(**given)


def read_edits(source: str | Path | Sequence[Any]) -> tuple[Edit, ...]:
    """Read a list of edits.

    Parameters
    ----------
    source
        A TOML file with a ``[[edit]]`` for each edit, a GeoPackage with a table ``edits`` (rows in the order
        of their ids), or a sequence of :class:`Edit` and mappings.

    Returns
    -------
    tuple of Edit
        The edits in their order.

    Raises
    ------
    InputError
        If it cannot be read, or an edit cannot be meant; the message names file and edit.
    """
    label = str(source) if isinstance(source, (str, Path)) else "edits"
    rows = edit_rows(source)
    if not rows:
        raise InputError(f"{label}: there is no edit in it")
    return tuple(numbered_edit(label, number, row) for number, row in enumerate(rows, 1))


def edit_rows(source: str | Path | Sequence[Any]) -> list[dict[str, Any]]:
    """Return the rows of a list of edits as they stand, of any source that :func:`read_edits` takes.

    Raises
    ------
    InputError
        If it cannot be read.
    """
    if not isinstance(source, (str, Path)):
        given: Sequence[Any] = source
        return [e.as_dict() if isinstance(e, Edit) else dict(e) for e in given]
    path = Path(source)
    if path.suffix.lower() == ".gpkg":
        entry = look_inside(path).find("edits")
        if entry is None:
            raise InputError(f"{path} has no table `edits`; it needs one with the fields of an edit")
        raw = _vector.read_layer(path, entry.name)
        table = raw.table.rename(columns=str.lower)
        names = [c for c in table.columns if c in {f.name for f in TABLES["edits"].all_fields}]
        return [{str(k): v for k, v in row.items()} for row in table[names].to_dict("records")]
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as fault:
        why = fault.strerror if isinstance(fault, OSError) else fault
        raise InputError(f"{path}: the edits cannot be read: {why}") from fault
    rows = content.get("edit", [])
    others = sorted(set(content) - {"edit"})
    if others or not isinstance(rows, list) or not all(isinstance(r, dict) for r in rows):
        has = f"; it has {', '.join(others)}" if others else ""
        raise InputError(f"{path}: a list of edits is [[edit]] tables, and nothing else{has}")
    return list(rows)


def numbered_edit(source: str, number: int, row: Mapping[str, Any]) -> Edit:
    """Return an edit from its fields; an error names the source and the number of the edit."""
    try:
        return edit_of(row)
    except InputError as fault:
        raise InputError(f"{source}: edit {number} {fault}") from fault


def edits_text(edits: Sequence[Edit]) -> str:
    """Return a list of edits as TOML."""
    blocks = []
    for edit in edits:
        lines = [
            f"{name} = {json.dumps(value, ensure_ascii=False)}" for name, value in edit.as_dict().items()
        ]
        blocks.append("\n".join(["[[edit]]", *lines]))
    return "\n\n".join(blocks) + "\n"


def write_edits(edits: Sequence[Edit], path: str | Path) -> Path:
    """Write a list of edits as a TOML file that :func:`read_edits` reads."""
    with atomic_replace(Path(path)) as (scratch,):
        Path(scratch).write_text(edits_text(edits), encoding="utf-8")
    return Path(path)
