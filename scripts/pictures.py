"""Make the pictures of README and docs, of the sample site and of the check by distance.

Python scripts/pictures.py.
"""

from __future__ import annotations

from pathlib import Path

DOCS = Path(__file__).resolve().parent.parent / "docs"
PAPER = 110.0


def main() -> None:
    """Write the plan and the sections of hole 1, the mound before and after, and strokes by distance."""
    import matplotlib

    matplotlib.use("Agg")
    import tables

    from gistools.design.vary import vary
    from gistools.sheets.change_figure import change
    from gistools.sheets.figures import plan, save
    from gistools.sheets.results import collect_results
    from gistools.sheets.section_figures import sections
    from gistools.site.sample import sample_site

    DOCS.mkdir(exist_ok=True)
    site = sample_site()
    results = collect_results(site, 1, ("lines_of_play", "zones", "sections"))
    save(plan(site, 1), DOCS / "hole_1.png", dpi=PAPER)
    save(sections(site, results), DOCS / "hole_1_sections.png", dpi=PAPER)
    higher = vary(site, raise_m={"Haar Knowe": 1.0})
    save(change(site, higher, 1, pin="back left"), DOCS / "mound_before_after.png", dpi=80)
    save(tables.picture(), DOCS / "strokes_by_distance.png", dpi=90)
    shrink(DOCS.glob("*.png"))


def shrink(paths) -> None:
    """Keep the pictures small: 128 colours are enough for a plan."""
    from PIL import Image

    for path in paths:
        with Image.open(path) as picture:
            small = picture.convert("RGB").quantize(128)
        small.save(path, optimize=True)


if __name__ == "__main__":
    main()
