"""The sheet of a hole: one HTML file that needs nothing else, and the page that links the holes of a site."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterable
from datetime import UTC, datetime
from html import escape
from importlib import resources
from pathlib import Path
from string import Template
from typing import Any

from gistools.base.errors import InputError, WriteError
from gistools.base.version import __version__
from gistools.sheets.data import KEYS, payload
from gistools.sheets.gather import Found, Progress, gather
from gistools.sheets.plain import embedded
from gistools.sheets.plan_svg import Plan, draw
from gistools.sheets.site_page import summary_table
from gistools.site.model import Site

WORDS = {"tee": "Tee", "player": "Player", "wind": "Wind", "pin": "Hole location"}
SHADES = {"flag_views": "Flag view", "strokes": "Expected strokes"}
INDEX = "index.html"
#: steps the page that links the holes tells of
SUMMED_UP = ("lines_of_play", "lengths", "zones", "setbacks", "positions", "brief")
GENERAL_CAUTION = (
    "Figures for judgement, not a survey certificate; local codes and licensed practice come first."
)
OURS = '<meta name="generator" content="gistools sheets">'


def write_sheets(
    site: Site,
    *,
    hole: int | None = None,
    to: str | Path | None = None,
    pictures: bool = False,
    replace: bool = False,
    units: str = "m",
    full: bool = False,
    progress: Progress | None = None,
) -> list[Path]:
    """Write the page of each hole and a page that links them; all of them or none.

    Parameters
    ----------
    site
        An open site.
    hole
        Only this hole; by default all.
    to
        Folder for the pages; by default ``<site>_sheets`` beside the site file.
    pictures
        Also write the plan and the sections of each hole as PDF and PNG.
    replace
        Replace pages that are already there.
    units
        Lengths shown at first: ``"m"`` or ``"yd"``. The reader can change it on the page.
    full
        Also play whole holes out (minutes) where the file does not hold that yet. Without it the page says plainly
        what was not computed.
    progress
        Called with ``(share, text)``; raising in it stops the work before anything is written.

    Returns
    -------
    list of Path
        The files, the linking page last.

    Raises
    ------
    InputError
        If the site has no such hole, the units are unknown, or no folder can be derived.
    WriteError
        If a page is already there and ``replace`` is not given, or the folder cannot be written to.
    """
    if units not in ("m", "yd"):
        raise InputError(f"units is {units!r}; it can be m or yd")
    holes = site.selected_holes(hole)
    folder = _folder(site, to)
    wanted = [f"hole_{h}.html" for h in holes] + [INDEX]
    _refuse_existing(folder, wanted, replace)
    pages: dict[str, str | bytes] = {}
    extra: dict[str, bytes] = {}
    plans: dict[int, Plan] = {}
    results: dict[int, Found] = {}
    for number, one in enumerate(holes):
        found = results[one] = gather(site, one, full=full, progress=_part(progress, number, len(holes), one))
        plans[one] = draw(site, one, found)
        pages[f"hole_{one}.html"] = page(site, found, plans[one], units=units)
        if pictures:
            extra |= _pictures(site, found)
    _refuse_existing(folder, list(extra), replace)
    linked = sorted({*holes, *_already(folder)})
    for one in linked:
        if one not in results and one in site.holes:
            results[one] = gather(site, one, SUMMED_UP)
            plans[one] = draw(site, one, results[one])
    results = dict(sorted(results.items()))
    pages[INDEX] = index(site, plans, results, linked, units)
    return _put(folder, {**pages, **extra}, [*list(pages)[:-1], *extra, INDEX])


def page(site: Site, found: Found, plan: Plan, *, units: str = "m") -> str:
    """Return the HTML page of a hole."""
    figures = payload(site, found, plan)
    figures["words"] = WORDS
    fill = {
        "title": escape(f"Hole {found.hole}, {_site_name(site)}"),
        "site": escape(_site_name(site)),
        "heading": escape(_heading(site, found.hole)),
        "css": _part_of("page.css"),
        "js": _part_of("page.js"),
        "controls": _controls(figures, units),
        "plan": _plan(plan),
        "key": "".join(f"<li>{_swatch(layer)}{escape(words)}</li>" for layer, words in plan.key),
        "plan_text": escape(plan.summary)
        + " North as the arrow shows. Names appear when the pointer rests on a shape.",
        "cautions": _cautions(found),
        "provenance": _provenance(site),
        "missing": _missing(found),
        "sources": _sources(found),
        "links": f'<a href="{INDEX}">All holes of {escape(_site_name(site))}</a>',
        "json": embedded(figures),
    }
    return Template(_part_of("page.html")).substitute(fill)


def index(
    site: Site, plans: dict[int, Plan], results: dict[int, Found], holes: list[int], units: str = "m"
) -> str:
    """Return the page that links the holes; one the site no longer has, its page from before, by its number."""
    items = []
    for hole in holes:
        drawn = _plan(plans[hole], small=True) if hole in plans else ""
        items.append(
            f'<li><h2><a href="hole_{hole}.html">{escape(_heading(site, hole))}</a></h2>{drawn}</li>'
        )
    cautions = dict.fromkeys(
        c for found in results.values() for s in found.steps.values() for c in s.cautions
    )
    fill = {
        "title": escape(_site_name(site)),
        "css": _part_of("page.css"),
        "items": "".join(items),
        "table": summary_table(results, units),
        "cautions": _listed([GENERAL_CAUTION, *cautions]),
        "provenance": _provenance(site),
    }
    return Template(_part_of("index.html")).substitute(fill)


def _listed(words: Iterable[str]) -> str:
    return "".join(f"<li>{escape(w)}</li>" for w in words)


def _folder(site: Site, to: str | Path | None) -> Path:
    if to is not None:
        return Path(to)
    if site.path is None:
        raise InputError("this site was made in memory: name a folder for the pages with to=")
    return site.path.with_name(site.path.stem + "_sheets")


def _refuse_existing(folder: Path, wanted: list[str], replace: bool) -> None:
    if folder.exists() and not folder.is_dir():
        raise WriteError(f"{folder} is a file; the pages need a folder")
    there = [name for name in wanted if (folder / name).exists() and not _our_index(folder / name)]
    if there and not replace:
        raise WriteError(f"{folder} already has {', '.join(there)}; say replace to write them again")


def _our_index(path: Path) -> bool:
    """Tell whether a file is a linking page written here, which is made anew without asking."""
    return path.name == INDEX and OURS in path.read_text(encoding="utf-8", errors="replace")


def _already(folder: Path) -> list[int]:
    return [int(p.stem[5:]) for p in folder.glob("hole_*.html") if p.stem[5:].isdigit()]


def _put(folder: Path, files: dict[str, str | bytes], order: list[str]) -> list[Path]:
    """Write all files beside the folder first, then move them in one after the other."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        aside = Path(tempfile.mkdtemp(prefix=".making-", dir=folder))
    except OSError as error:
        raise WriteError(f"the folder {folder} cannot be written to: {error}") from error
    try:
        for name, content in files.items():
            data = content.encode("utf-8") if isinstance(content, str) else content
            (aside / name).write_bytes(data)
        for name in order:
            (aside / name).replace(folder / name)
    except OSError as error:
        raise WriteError(f"the pages could not be written to {folder}: {error}") from error
    finally:
        shutil.rmtree(aside, ignore_errors=True)
    return [folder / name for name in order]


def _pictures(site: Site, found: Found) -> dict[str, bytes]:
    from gistools.sheets import figures
    from gistools.sheets.section_figures import sections

    out = {}
    drawn = {"plan": figures.plan(site, found.hole), "sections": sections(site, found)}
    with tempfile.TemporaryDirectory() as where:
        for what, figure in drawn.items():
            for ending in ("pdf", "png"):
                name = f"hole_{found.hole}_{what}.{ending}"
                out[name] = figures.save(figure, Path(where) / name).read_bytes()
    return out


def _site_name(site: Site) -> str:
    if site.path is None:
        return "Site in memory"
    return site.path.stem.replace("_", " ").replace("-", " ").title()


def _heading(site: Site, hole: int) -> str:
    greens = site.layer("greens", hole)
    name = next((str(n) for n in greens["name"] if isinstance(n, str) and n), "") if "name" in greens else ""
    return f"Hole {hole}, {name}" if name else f"Hole {hole}"


def _controls(figures: dict[str, Any], units: str) -> str:
    fields = [(key, WORDS[key], {v: v for v in figures["choices"][key]}) for key in KEYS]
    shades = {"": "Ground alone"} | {k: w for k, w in SHADES.items() if k in figures["maps"]}
    if figures["setbacks"]:
        shades["setbacks"] = "Set-backs"
    if zones := dict.fromkeys(figures["zone_names"]):
        ranked = bool(figures["tables"].get("positions", {}).get("rows"))
        first = {"": "first choice"} if ranked else {}
        fields.append(("zone", "Play to", first | {z: z for z in zones}))
    fields += [
        ("shade", "Shade the plan by", shades),
        ("units", "Lengths in", {"m": "metres", "yd": "yards"}),
    ]
    out = []
    for name, word, options in fields:
        if not options:
            continue
        listed = "".join(
            f'<option value="{escape(v)}"{" selected" if v == units else ""}>{escape(w)}</option>'
            for v, w in options.items()
        )
        out.append(
            f'<div><label for="pick-{name}">{word}</label>'
            f'<select id="pick-{name}" name="{name}" autocomplete="off">{listed}</select></div>'
        )
    return "".join(out)


def _plan(plan: Plan, *, small: bool = False) -> str:
    west, north, east, south = plan.view
    wide, tall = east - west, south - north
    shade = ""
    if plan.shade is not None:
        p = plan.shade
        shade = (
            f'<image href="{p.src}" width="{p.width:.2f}" height="{p.height:.2f}" transform="{p.transform}"'
            ' preserveAspectRatio="none"/>'
        )
    furniture = "" if small else _furniture(plan)
    if small:
        inner = f"{plan.features}{shade}{plan.above}"
    else:
        inner = f'<g id="turn">{plan.features}{shade}<g id="under"></g>{plan.above}<g id="over"></g>{furniture}</g>'
    return (
        f'<svg viewBox="{west:.1f} {north:.1f} {wide:.1f} {tall:.1f}" role="img"'
        f' aria-label="{escape(plan.summary)}"><title>{escape(plan.summary)}</title>'
        f"{inner}</svg>"
    )


def _furniture(plan: Plan) -> str:
    """Draw a north arrow and a bar of 50 m in the corners of the view."""
    west, north, east, south = plan.view
    unit = (east - west) / 1150
    dx, dy = plan.frame.north_on_page
    x, y, r = east - 50 * unit, north + 50 * unit, 22 * unit
    tip, tail = (x + dx * r, y + dy * r), (x - dx * r, y - dy * r)
    side = (-dy * r * 0.35, dx * r * 0.35)
    bar_x, bar_y = west + 18 * unit, south - 16 * unit
    size = f'font-size="{13 * unit:.2f}" stroke-width="{3.2 * unit:.2f}" class="halo"'
    return (
        f'<path d="M{tip[0]:.1f},{tip[1]:.1f} {tail[0] + side[0]:.1f},{tail[1] + side[1]:.1f}'
        f' {x:.1f},{y:.1f} {tail[0] - side[0]:.1f},{tail[1] - side[1]:.1f}Z" fill="var(--ink)"/>'
        f'<text x="{tip[0] + dx * 10 * unit:.1f}" y="{tip[1] + dy * 10 * unit + 4 * unit:.1f}"'
        f' text-anchor="middle" {size}>N</text>'
        f'<path d="M{bar_x:.1f},{bar_y:.1f}h50" stroke="var(--ink)" stroke-width="3"/>'
        f'<text data-bar="1" x="{bar_x + 52 + 4 * unit:.1f}" y="{bar_y + 4 * unit:.1f}" {size}>50 m</text>'
    )


def _swatch(layer: str) -> str:
    return f'<svg viewBox="0 0 26 17" aria-hidden="true"><g class="g-{layer}"><path d="M2,2H24V15H2Z"/></g></svg>'


def _cautions(found: Found) -> str:
    return _listed([GENERAL_CAUTION, *dict.fromkeys(c for s in found.steps.values() for c in s.cautions)])


def _sources(found: Found) -> str:
    return _listed(dict.fromkeys(s for step in found.steps.values() for s in step.sources))


def _missing(found: Found) -> str:
    if not found.reasons:
        return ""
    items = "".join(
        f"<li>{escape(name.replace('_', ' '))}: {escape(why)}</li>" for name, why in found.reasons.items()
    )
    return f"<h3>Not computed</h3><ul>{items}</ul>"


def _provenance(site: Site) -> str:
    warnings = [f for f in site.findings if f.level == "warning"]
    facts = {
        "Site file": site.path.name if site.path else "made in memory",
        "Coordinates": f"{site.crs.name} ({':'.join(site.crs.to_authority() or ('no code',))})",
        "Ground": "none"
        if site.ground is None
        else f"cells of {site.ground.cell:g} m" + (", as proposed" if site.existing is not None else ""),
        "Findings of the check": f"{len(warnings)} warnings" if warnings else "no warnings",
        "Made": datetime.now(UTC).strftime("%d %B %Y, %H:%M UTC") + f", gistools {__version__}",
    }
    return "".join(f"<dt>{escape(k)}</dt><dd>{escape(v)}</dd>" for k, v in facts.items())


def _part_of(name: str) -> str:
    return resources.files("gistools.sheets").joinpath(name).read_text(encoding="utf-8")


def _part(progress: Progress | None, number: int, count: int, hole: int) -> Progress | None:
    if progress is None:
        return None
    return lambda share, text: progress((number + share) / count, f"hole {hole} {text}".strip())
