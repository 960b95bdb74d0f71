"""Make the pictures of README and docs from the sample site: python scripts/pictures.py."""

from __future__ import annotations

from pathlib import Path

DOCS = Path(__file__).resolve().parent.parent / "docs"
PAPER = 110.0


def main() -> None:
    """Write the plan and the sections of hole 1, and the mound before and after."""
    import matplotlib

    matplotlib.use("Agg")
    from gistools.sheets.figures import plan, save
    from gistools.sheets.gather import gather
    from gistools.sheets.section_figures import sections
    from gistools.site.sample import sample_site

    DOCS.mkdir(exist_ok=True)
    site = sample_site()
    found = gather(site, 1, ("lines_of_play", "zones", "sections"))
    save(plan(site, 1), DOCS / "hole_1.png", dpi=PAPER)
    save(sections(site, found), DOCS / "hole_1_sections.png", dpi=PAPER)
    save(mound(site), DOCS / "mound_before_after.png", dpi=PAPER)
    shrink(DOCS.glob("*.png"))


def mound(site):
    """Draw what is seen of the back left flag, as the ground is and with Haar Knowe a metre higher."""
    from matplotlib.figure import Figure

    from gistools.catalogue import function
    from gistools.sheets.notebook import plot
    from gistools.strategy.vary import vary

    figure = Figure(figsize=(7, 8.4), layout="constrained")
    for axes, ground, title in zip(
        figure.subplots(1, 2),
        (site, vary(site, raise_m={"Haar Knowe": 1.0})),
        ("as it is", "Haar Knowe 1 m higher"),
        strict=True,
    ):
        views = function("flag_views")(ground, hole=1)
        plot(views, ground, layer="flag_view_h1_back_left", ax=axes)
        west, south, east, north = site.hole_bounds(1, 10.0)
        axes.set_xlim(west, east)
        axes.set_ylim(south, north)
        axes.set_title(f"Flag back left, {title}", loc="left", fontsize=10)
    return figure


def shrink(paths) -> None:
    """Keep the pictures small: 128 colours are enough for a plan."""
    from PIL import Image

    for path in paths:
        with Image.open(path) as picture:
            small = picture.convert("RGB").quantize(128)
        small.save(path, optimize=True)


if __name__ == "__main__":
    main()
