"""Make the pictures of README from the sample site: python scripts/pictures.py."""

from __future__ import annotations

from pathlib import Path

DOCS = Path(__file__).resolve().parent.parent / "docs"


def main() -> None:
    """Write docs/hole_1.png."""
    import matplotlib

    matplotlib.use("Agg")
    from gistools.sheets.figures import plan, save
    from gistools.site.sample import sample_site

    DOCS.mkdir(exist_ok=True)
    save(plan(sample_site(), 1), DOCS / "hole_1.png")


if __name__ == "__main__":
    main()
