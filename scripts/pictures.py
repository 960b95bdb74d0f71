"""Make the pictures of README and docs, of the sample site and of the check by distance.

Python scripts/pictures.py.
"""

from __future__ import annotations

from pathlib import Path

DOCS = Path(__file__).resolve().parent.parent / "docs"
PAPER = 110.0
GAP = 40  # between pictures side by side [px]
WALK_M = range(60, 0, -1)  # distances to the hole of the walk in


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
    save(change(site, higher, 1, pin="front left"), DOCS / "mound_before_after.png", dpi=80)
    save(tables.picture(), DOCS / "strokes_by_distance.png", dpi=90)
    save(walk_in(site), DOCS / "walk_in.png", dpi=80)
    new_holes()
    drawings()
    as_built()
    shrink(p for p in DOCS.glob("*.png") if not p.name.startswith("desktop"))


def drawings() -> None:
    """Draw hole 1 on paper: the board, and three of the crew's drawings one below the other."""
    import tempfile

    from PIL import Image

    from gistools.sheets.drawings.board import STEPS
    from gistools.sheets.drawings.write import write_drawings
    from gistools.site.read import open_site
    from gistools.site.sample import write_sample
    from gistools.steps.study import study

    with tempfile.TemporaryDirectory() as folder:
        path = write_sample(Path(folder) / "merrowby.gpkg")
        study(open_site(path), hole=1, only=STEPS, players=["scratch man"], winds=["calm"])
        names = ("board", "grading", "sections", "green")
        paths = write_drawings(open_site(path), to=folder, hole=1, drawings=names, formats=["png"])
        first = {n: next(p for p in paths if p.name.startswith(f"hole_1_{n}")) for n in names}
        with Image.open(first["board"]) as picture:
            picture.convert("RGB").resize((1654, 1169)).save(DOCS / "board_1.png")
        sheets = [Image.open(first[n]).convert("RGB") for n in names[1:]]
        wide, tall = sheets[0].size
        sheets[0] = sheets[0].crop((int(0.7 * wide), int(0.28 * tall), int(0.985 * wide), int(0.6 * tall)))
        sheets = [s.resize((1200, round(1200 * s.height / s.width))) for s in sheets]
        whole = Image.new("RGB", (1200, sum(s.height + GAP for s in sheets)), "white")
        for k, sheet in enumerate(sheets):
            whole.paste(sheet, (0, sum(s.height + GAP for s in sheets[:k])))
        whole.save(DOCS / "drawings.png")


def as_built():
    """Draw the first sheet of the report of what was built, of a hole 1 built with invented errors."""
    import tempfile

    import numpy as np
    import pdfplumber

    from gistools.sheets.drawings.write import write_as_built_report
    from gistools.site.sample import sample_site
    from gistools.steps.catalogue import need

    site = sample_site()
    stakes = need(site, "setting_out", hole=1)["setting_out"]
    stakes = stakes[stakes["code"].isin(["GRN", "BKR", "TEE", "PMT", "PMC"])]
    rng = np.random.default_rng(3)
    error = np.column_stack([rng.normal(0, 0.02, len(stakes)), rng.normal(0, 0.045, (len(stakes), 2))])
    with tempfile.TemporaryDirectory() as folder:
        back = Path(folder) / "back.csv"
        rows = zip(stakes.itertuples(), error, strict=True)
        lines = [
            f"{r.number},{r.geometry.y + n},{r.geometry.x + e},{r.proposed_level_m + z},{r.point}"
            for r, (z, e, n) in rows
        ]
        back.write_text("\n".join(lines), encoding="ascii")
        path = write_as_built_report(site, Path(folder) / "built.pdf", points=str(back))
        with pdfplumber.open(path) as report:
            report.pages[0].to_image(resolution=110).original.convert("RGB").save(DOCS / "as_built.png")


def walk_in(site):
    """Draw strokes remaining on the line from the back tee to each hole location of hole 1, every metre."""
    import numpy as np
    from matplotlib.figure import Figure

    from gistools.base.cover_classes import KIND_NAMES, Kind
    from gistools.base.errors import InputError
    from gistools.compute.ballistics.air import CALM
    from gistools.compute.ballistics.players import built_in
    from gistools.hole import HoleModel

    colours = {Kind.FAIRWAY: "#8fbf6f", Kind.GREEN: "#3f9f4f", Kind.SAND: "#e8d9a0", Kind.ROUGH: "#4f6f3f"}
    model = HoleModel(site, 1)
    tee = np.array(model.tees[0].centre)
    players = {name: model.strokes(built_in(name), CALM) for name in ("scratch man", "bogey man")}
    figure = Figure(figsize=(11.0, 7.0), layout="constrained")
    for axes, (p, pin) in zip(
        figure.subplots(2, 2, sharey=True).flat, enumerate(model.ground.pins), strict=True
    ):
        hole = model.ground.pin_xy[p]
        way = (tee - hole) / np.hypot(*(tee - hole))
        for name, s in players.items():
            strokes = []
            for away in WALK_M:
                try:
                    strokes.append(s.value_at(*(hole + away * way), p).strokes)
                except InputError:  # not played from there
                    strokes.append(np.nan)
            axes.plot(WALK_M, strokes, label=name, color="black" if name == "scratch man" else "firebrick")
        for away in WALK_M:
            x, y = hole + away * way
            surface = model.ground.surface
            kind = model.ground.kind[
                int((surface.y_north - y) / surface.cell), int((x - surface.x_west) / surface.cell)
            ]
            axes.axvspan(away - 0.5, away + 0.5, 0.0, 0.04, color=colours.get(Kind(int(kind)), "grey"), lw=0)
        axes.set(
            title=pin,
            xlim=(WALK_M[0], 0),
            ylim=(1.0, 5.4),
            xlabel="to the hole [m]",
            ylabel="strokes remaining",
        )
        axes.grid(alpha=0.3)
    for kind, colour in colours.items():
        axes.fill_between([0], [0], [0], color=colour, label=KIND_NAMES[kind])
    axes.legend(ncols=3, fontsize="small", loc="upper right", framealpha=1.0)
    return figure


def new_holes() -> None:
    """Draw holes of different forms on the same bare ground, side by side: two pictures."""
    import tempfile

    import bare_ground

    other = {"diagonal.side": -1.0, "diagonal.angle_deg": 55.0}
    with tempfile.TemporaryDirectory() as folder:
        bare_ground.main([folder])
        first = [("diagonal", "screen", "angled"), ("central", "false-front"), ("diagonal", "tiers")]
        plans = [_new_hole(Path(folder), names, other if "tiers" in names else {}) for names in first]
        _side_by_side(plans).save(DOCS / "new_hole.png")
        more = ("dogleg", "cape", "split", "island", "punchbowl", "plateau")
        _side_by_side([_new_hole(Path(folder), (name,), {}) for name in more]).save(DOCS / "more_forms.png")


def _new_hole(folder: Path, names: tuple[str, ...], figures: dict[str, float]):
    """Lay a hole on the ground of a folder and return its plan, cut to what is drawn."""
    from PIL import Image, ImageOps

    from gistools.design.forms import lay_hole
    from gistools.sheets.figures import plan, save
    from gistools.site.proposed import proposed_site
    from gistools.site.read import open_site

    path, ground = folder / f"{'_'.join(names)}.gpkg", folder / "links_ground.tif"
    lay_hole(path, ground, (400150, 600050), (400165, 600395), names, parameters=figures)
    save(plan(proposed_site(open_site(path)), 1), path.with_suffix(".png"), dpi=75)
    with Image.open(path.with_suffix(".png")) as picture:
        whole = picture.convert("RGB")
        return whole.crop(ImageOps.invert(whole).getbbox())


def _side_by_side(plans):
    """Return pictures beside each other on white."""
    from PIL import Image

    whole = Image.new("RGB", (sum(p.width + GAP for p in plans), max(p.height for p in plans)), "white")
    for number, picture in enumerate(plans):
        whole.paste(picture, (sum(p.width + GAP for p in plans[:number]), 0))
    return whole


def shrink(paths) -> None:
    """Keep the pictures small: 256 colours are enough, chosen so that no small mark loses its own."""
    from PIL import Image

    for path in paths:
        with Image.open(path) as picture:
            small = picture.convert("RGB").quantize(256, Image.Quantize.MAXCOVERAGE, dither=Image.Dither.NONE)
        small.save(path, optimize=True)


if __name__ == "__main__":
    main()
