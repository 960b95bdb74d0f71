"""The sheet of a hole: one HTML file that needs nothing else, and the page that links the holes of a site."""

from __future__ import annotations

import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from gistools.base.errors import InputError
from gistools.base.version import __version__
from gistools.sheets.folder import folder_of, put_files, refuse_existing
from gistools.sheets.payload import KEYS, embedded, payload, proposals
from gistools.sheets.plan import Plan, draw
from gistools.sheets.rendering import render
from gistools.sheets.results import HoleResults, Progress, collect_results
from gistools.sheets.site_page import hole_figures
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
        Also play whole holes out (minutes) where the file does not hold that yet. Without it the page says
        plainly what was not computed.
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
    folder = folder_of(site, to, "sheets")
    names = [f"hole_{h}.html" for h in holes] + [INDEX]
    refuse_existing(folder, [n for n in names if not _our_index(folder / n)], replace)
    pages: dict[str, str | bytes] = {}
    extra: dict[str, bytes] = {}
    plans: dict[int, Plan] = {}
    results: dict[int, HoleResults] = {}
    for number, one in enumerate(holes):
        results[one] = collect_results(
            site, one, full=full, progress=_part(progress, number, len(holes), one)
        )
        plans[one] = draw(site, one, results[one], units)
        pages[f"hole_{one}.html"] = page(site, results[one], plans[one], units=units)
        if pictures:
            extra |= _pictures(site, results[one])
    refuse_existing(folder, list(extra), replace)
    linked = sorted({*holes, *_already(folder)})
    for one in linked:
        if one not in results and one in site.holes:
            results[one] = collect_results(site, one, SUMMED_UP)
            plans[one] = draw(site, one, results[one], units)
    pages[INDEX] = index(site, plans, dict(sorted(results.items())), linked, units)
    return put_files(folder, {**pages, **extra}, [*list(pages)[:-1], *extra, INDEX])


def page(site: Site, results: HoleResults, plan: Plan, *, units: str = "m") -> str:
    """Return the HTML page of a hole."""
    figures = payload(site, results, plan) | {"words": WORDS}
    steps = results.steps.values()
    return render(
        "page.html",
        hole=results.hole,
        site=site.title_block["project"],
        heading=_heading(site, results.hole),
        controls=_controls(figures),
        units=units,
        plan=plan,
        zones=len(results.table("zones")) > 0,
        cautions=dict.fromkeys([GENERAL_CAUTION, *(c for s in steps for c in s.cautions)]),
        provenance=_provenance(site),
        reasons=results.reasons,
        sources=dict.fromkeys(s for step in steps for s in step.sources),
        proposals=proposals(site, results.hole, figures["choices"]["player"]),
        json=embedded(figures),
    )


def index(
    site: Site, plans: dict[int, Plan], results: dict[int, HoleResults], holes: list[int], units: str = "m"
) -> str:
    """Return the page that links the holes; a hole that the site no longer has keeps its earlier page."""
    steps = [s for r in results.values() for s in r.steps.values()]
    return render(
        "index.html",
        site=site.title_block["project"],
        headings={hole: _heading(site, hole) for hole in holes},
        plans=plans,
        computed=list(results),
        figures=hole_figures(results, units),
        cautions=dict.fromkeys([GENERAL_CAUTION, *(c for s in steps for c in s.cautions)]),
        provenance=_provenance(site),
    )


def _our_index(path: Path) -> bool:
    """Tell whether a file is a linking page written here, which is made anew without asking."""
    return (
        path.name == INDEX and path.is_file() and OURS in path.read_text(encoding="utf-8", errors="replace")
    )


def _already(folder: Path) -> list[int]:
    return [int(p.stem[5:]) for p in folder.glob("hole_*.html") if p.stem[5:].isdigit()]


def _pictures(site: Site, results: HoleResults) -> dict[str, bytes]:
    from gistools.sheets import figures
    from gistools.sheets.section_figures import sections

    out = {}
    drawn = {"plan": figures.plan(site, results.hole), "sections": sections(site, results)}
    with tempfile.TemporaryDirectory() as where:
        for subject, figure in drawn.items():
            for ending in ("pdf", "png"):
                name = f"hole_{results.hole}_{subject}.{ending}"
                out[name] = figures.save(figure, Path(where) / name).read_bytes()
    return out


def _heading(site: Site, hole: int) -> str:
    greens = site.layer("greens", hole)
    name = next((str(n) for n in greens["name"] if isinstance(n, str) and n), "") if "name" in greens else ""
    return f"Hole {hole}, {name}" if name else f"Hole {hole}"


def _controls(figures: dict[str, Any]) -> list[dict[str, Any]]:
    """Return what a reader can choose: name, label, and options (value to words)."""
    controls = [
        {"name": key, "label": WORDS[key], "options": {v: v for v in figures["choices"][key]}} for key in KEYS
    ]
    if zones := dict.fromkeys(figures["zone_names"]):
        ranked = bool(figures["tables"].get("where_to_play", {}).get("rows"))
        first = {"": "first choice"} if ranked else {}
        controls.append({"name": "zone", "label": "Play to", "options": first | {z: z for z in zones}})
    shades = {"": "Ground alone"} | {k: w for k, w in SHADES.items() if k in figures["maps"]}
    if figures["setbacks"]:
        shades["setbacks"] = "Set-backs"
    controls.append({"name": "shade", "label": "Shade the plan by", "options": shades})
    controls.append({"name": "units", "label": "Lengths in", "options": {"m": "metres", "yd": "yards"}})
    return controls


def _provenance(site: Site) -> dict[str, str]:
    warnings = [f for f in site.findings if f.level == "warning"]
    return {
        "Site file": site.path.name if site.path else "made in memory",
        "Coordinates": f"{site.crs.name} ({':'.join(site.crs.to_authority() or ('no code',))})",
        "Ground": "none"
        if site.ground is None
        else f"cells of {site.ground.cell:g} m" + (", as proposed" if site.existing is not None else ""),
        "Findings of the check": f"{len(warnings)} warnings" if warnings else "no warnings",
        "Made": datetime.now(UTC).strftime("%d %B %Y, %H:%M UTC") + f", gistools {__version__}",
    }


def _part(progress: Progress | None, number: int, count: int, hole: int) -> Progress | None:
    if progress is None:
        return None
    return lambda share, text: progress((number + share) / count, f"hole {hole} {text}".strip())
