"""Try the console part inside the real desktop, without a screen.

Scripts/desktop_check.py [SITE] [--to FOLDER].

Run it with the desktop's own Python (on Debian `apt-get install qgis python3-qgis`, then /usr/bin/python3);
the toolkit is expected in .venv (scripts/demo.py makes it) or where GISTOOLS_PYTHON says. Settings that
mislead other copies of PROJ, GDAL and Python are set on purpose. Without SITE the sample is made and studied
first.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import runpy
import signal
import sys
import tempfile
import threading
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
python = ROOT / ".venv" / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
if python.exists():
    os.environ.setdefault("GISTOOLS_PYTHON", str(python))
try:
    from qgis.core import (
        QgsApplication,
        QgsLayoutItemMap,
        QgsLayoutItemPicture,
        QgsMapRendererParallelJob,
        QgsMapSettings,
        QgsProject,
        QgsProviderRegistry,
        QgsRectangle,
        QgsVectorLayer,
    )
    from qgis.PyQt.QtCore import QSize
    from qgis.PyQt.QtGui import QColor
except ImportError as missing:
    print(f"this Python has no desktop GIS in it ({missing}); run the script with the one QGIS uses")
    raise SystemExit(2) from missing

#: right for the desktop (its own database) and wrong for the wheels; the others are wrong for everybody
MISLEADING = {
    "PROJ_LIB": "/usr/share/proj",
    "PROJ_DATA": "/usr/share/proj",
    "GDAL_DATA": "/nowhere",
    "GDAL_DRIVER_PATH": "/nowhere",
    "PYTHONHOME": "/nowhere",
    "PYTHONPATH": "/usr/lib/python3/dist-packages",
}
faults: list[str] = []
said: list[str] = []


def expect(true: object, text: str) -> None:
    """Note one thing looked at."""
    print(("ok     " if true else "FAULT  ") + text, flush=True)
    if not true:
        faults.append(text)


def digest(path: Path) -> str:
    """Return the state of a site: all rows of all tables, whichever file beside it they are in."""
    import sqlite3

    with sqlite3.connect(path) as link:
        text = "\n".join(line for line in link.iterdump() if "last_change" not in line)
    link.close()
    return hashlib.sha256(text.encode("utf-8", "surrogateescape")).hexdigest()


def answer_of(path: Path, question: str) -> object:
    """Ask the file something from another process, while the desktop has it open."""
    import json
    import subprocess

    code = (
        "import json, sqlite3, sys; link = sqlite3.connect(sys.argv[1]);"
        "print(json.dumps(link.execute(sys.argv[2]).fetchone()[0])); link.close()"
    )
    clean = {k: v for k, v in os.environ.items() if k not in MISLEADING}
    done = subprocess.run(
        [os.environ["GISTOOLS_PYTHON"], "-c", code, str(path), question],
        env=clean,
        capture_output=True,
        text=True,
        check=True,
    )
    return json.loads(done.stdout)


def main() -> int:
    """Run every check, then draw."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("site", nargs="?", type=Path)
    words.add_argument("--to", type=Path, help="folder for the pictures")
    given = words.parse_args()
    app = QgsApplication([], True)
    app.initQgis()
    app.messageLog().messageReceived.connect(lambda text, tag, _level: said.append(f"{tag}: {text}"))
    os.environ.update(MISLEADING)
    runpy.run_path(str(ROOT / "gistools" / "desktop" / "bootstrap.py"), run_name="bootstrap")
    with tempfile.TemporaryDirectory() as folder:
        try:
            path = given.site.resolve() if given.site else studied_sample(Path(folder))
            opened_by_hand(path)
            style_files_load(path)
            project_file_opens(path)
            shown(path)
            if not given.site:
                edits_are_respected(path)
                stopping_leaves_the_file(path)
            draw(given.to or Path(folder))
        finally:
            QgsProject.instance().clear()
    for text in said:
        if "coordinate operation" in text:
            continue  # about the grids installed beside the desktop, not about these layers
        expect(False, f"the desktop said: {text}")
    print(f"{len(faults)} faults" if faults else "all well")
    sys.stdout.flush()
    app.exitQgis()
    return 1 if faults else 0


def studied_sample(folder: Path) -> Path:
    """Make and study the sample from inside the desktop's process."""
    import gistools as gt

    path = folder / "merrowby.gpkg"
    gt.write_sample(path)
    site = gt.open_site(path)
    expect(site.holes == [1, 2, 3], f"opened in a child: {site.crs}, holes {site.holes}")
    heard: list[float] = []
    start = time.monotonic()
    done = gt.study(site, quick=True, progress=lambda share, _text: heard.append(share))
    expect(done.path == path, f"studied in a child in {time.monotonic() - start:.0f} s")
    expect(len(set(heard)) > 20 and heard == sorted(heard), f"progress heard, {len(set(heard))} steps")
    carries = gt.carries(site, hole=1)["carries"]
    burn = [r["carry_m"] for r in carries if "Burn" in r["feature"]]
    expect(len(burn) > 3 and 100 < max(burn) < 300, f"one step in a child: {len(carries)} rows")
    start = time.monotonic()
    again = gt.carries(site, hole=1)["carries"]
    seconds = time.monotonic() - start
    expect(len(again) == len(carries) and seconds < 0.5, f"nothing computed, answered in {seconds:.2f} s")
    tables = [
        gt.table(carries),
        gt.compare(site, gt.vary(site, raise_m={"Haar Knowe": 0.5}), hole=1, play=False),
    ]
    expect(all(len(t) for t in tables), f"table and compare: {[len(t) for t in tables]} rows")
    expect(
        all(callable(getattr(gt, name)) for name in dir(gt)), "every name that dir(gt) lists can be called"
    )
    loaded = {"geopandas", "fiona", "rasterio", "numba", "pandas", "shapely"} & set(sys.modules)
    expect(not loaded, f"nothing heavy came into the desktop's process {sorted(loaded)}")
    return path


def opened_by_hand(path: Path) -> None:
    """Open every result layer as a user drags it in: valid, in place, and drawn without a click."""
    from gistools.steps.catalogue import step_of_layer

    subs = QgsProviderRegistry.instance().querySublayers(str(path))
    tables = [s for s in subs if s.name().startswith("study_") and s.type() == 0]
    expect(len(tables) > 20, f"{len(tables)} result tables found")
    undrawn = []
    for sub in tables:
        layer = QgsVectorLayer(f"{path}|layername={sub.name()}", sub.name(), "ogr")
        fit = layer.isValid() and (not layer.isSpatial() or layer.crs().isValid())
        if not fit:
            expect(False, f"{sub.name()} opens")
        if not layer.isSpatial():
            continue
        style = step_of_layer(sub.name().removeprefix("study_"))[1].style
        renderer = layer.renderer()
        if style.kinds:
            kinds = [category.value() for category in renderer.categories()]
            drawn = kinds == [word for word, _, _ in style.kinds]
        elif style.by:
            drawn = renderer.type() == "graduatedSymbol" and len(renderer.ranges()) == 5
        else:
            symbol = renderer.symbol().symbolLayer(0)
            colours = {symbol.color().name()}
            if hasattr(symbol, "strokeColor"):
                colours.add(symbol.strokeColor().name())
            drawn = style.colour in colours
        titled = any("[" in f.alias() for f in layer.fields()) or not any(
            f.name().endswith(("_m", "_deg", "_pct")) for f in layer.fields()
        )
        if not (drawn and titled and layer.labelsEnabled() == bool(style.label)):
            undrawn.append(sub.name())
    expect(not undrawn, f"every layer is drawn, titled and labelled as declared {undrawn}")


def style_files_load(path: Path) -> None:
    """Load the .sld files by hand, as a user of another program would."""
    import subprocess

    with tempfile.TemporaryDirectory() as folder:
        clean = {k: v for k, v in os.environ.items() if k not in MISLEADING}
        subprocess.run(
            [os.environ["GISTOOLS_PYTHON"], "-m", "gistools", "styles", str(path), "--to", folder],
            env=clean,
            check=True,
            stdout=subprocess.DEVNULL,
        )
        refused = []
        files = sorted(Path(folder).glob("*.sld"))
        maps = {s.name() for s in QgsProviderRegistry.instance().querySublayers(str(path)) if s.type() != 0}
        for file in files:
            if file.stem in maps:
                continue  # this desktop reads no style files for rasters
            layer = QgsVectorLayer(f"{path}|layername={file.stem}", file.stem, "ogr")
            if layer.isValid() and layer.isSpatial() and not layer.loadSldStyle(str(file))[1]:
                refused.append(file.stem)
    expect(
        len(files) > 30 and not refused,
        f"{len(files)} style files written, those of vector layers load {refused}",
    )


def project_file_opens(path: Path) -> None:
    """The project that `gistools project` writes: every layer opens, is drawn and in the map."""
    import gistools as gt

    made = Path(gt.write_project(path, replace=True))
    project = QgsProject.instance()
    project.clear()
    expect(project.read(str(made)), f"the project file opens: {made.name}")
    layers = project.mapLayers().values()
    invalid = [layer.name() for layer in layers if not layer.isValid()]
    expect(len(layers) > 30 and not invalid, f"its {len(layers)} layers are valid {invalid}")
    expect(project.crs().authid() == "EPSG:27700", f"its CRS is {project.crs().authid()}")
    themes = project.mapThemeCollection()
    counts = {name: len(themes.mapThemeVisibleLayers(name)) for name in themes.mapThemes()}
    expect(len(counts) == 4 and min(counts.values()) > 10, f"its map themes show layers: {counts}")
    layouts = {
        layout.name(): round(item.scale())
        for layout in project.layoutManager().printLayouts()
        for item in layout.items()
        if isinstance(item, QgsLayoutItemMap)
    }
    expect(len(layouts) == 7 and layouts["Hole 1: green"] == 250, f"its maps on paper: {layouts}")
    pictures = {
        layout.name(): [round(item.rect().width()), round(item.rect().height())]
        for layout in project.layoutManager().printLayouts()
        for item in layout.items()
        if isinstance(item, QgsLayoutItemPicture)
        and item.mode() == QgsLayoutItemPicture.FormatSVG
        and not item.isMissingImage()
        and item.rect().width() > 100
    }
    expect(
        len(pictures) == 3 and all(size == [400, 235] for size in pictures.values()),
        f"its sections on paper, in mm: {pictures}",
    )
    grey = [
        layer.name() for layer in layers if layer.renderer() and layer.renderer().type() == "singlebandgray"
    ]
    expect(not grey, f"no map opens grey {grey}")
    project.clear()


def shown(path: Path) -> None:
    """Let gt.show put the layers into the project, twice."""
    import gistools as gt

    added = gt.show(path)
    project = QgsProject.instance()
    layers = list(project.mapLayers().values())
    expect(len(added) > 20 and all(layer.isValid() for layer in layers), f"gt.show added {len(added)} layers")
    expect(project.layerTreeRoot().findGroup(path.stem) is not None, f"they are in the group {path.stem}")
    expect(
        project.crs() == next(layer for layer in layers if layer.name() == "zones").crs(),
        f"the project is in {project.crs().authid()}",
    )
    filtered = [layer for layer in layers if layer.type() == 0 and layer.subsetString()]
    crowded = [
        f"{layer.name()}: {key}"
        for layer in filtered
        for key in ("tee", "player", "wind")
        if layer.fields().indexOf(key) >= 0
        and len({feature[key] for feature in layer.getFeatures() if feature[key]}) > 1
    ]
    expect(
        len(filtered) > 5 and not crowded,
        f"{len(filtered)} layers open with one tee, player and wind {crowded}",
    )
    expect(gt.show(path) == [], "asked again it adds nothing twice")


def edits_are_respected(path: Path) -> None:
    """Nothing is written while a layer of the file is being edited; afterwards layers are refreshed."""
    import gistools as gt

    site = gt.open_site(path)
    project = QgsProject.instance()
    layers = {layer.name().partition(" (")[0]: layer for layer in project.mapLayers().values()}
    bunkers = layers["bunkers"]
    rows = bunkers.featureCount()
    bunkers.startEditing()
    bunkers.deleteFeature(next(bunkers.getFeatures()).id())
    for name, act in (
        ("study", lambda: gt.study(site, only=["zones"])),
        ("write", lambda: site.write(gt.lengths(site))),
    ):
        try:
            act()
            expect(False, f"{name} while bunkers are edited is refused")
        except gt.WriteError as refusal:
            expect("bunkers" in str(refusal) and bunkers.isEditable(), f"{name} refused: {refusal}")
    bunkers.commitChanges()
    expect(
        bunkers.featureCount() == rows - 1 == answer_of(path, "SELECT count(*) FROM bunkers"),
        "the edit itself was saved, as another program reads it too",
    )
    before = layers["zones"].featureCount()
    gt.study(site, only=["zones", "carries"], hole=1)
    seen = sum(1 for _ in layers["zones"].getFeatures())
    expect(
        layers["zones"].isValid() and layers["zones"].featureCount() == before == seen,
        "after a run the shown layers are refreshed and whole",
    )
    expect(answer_of(path, "PRAGMA integrity_check") == "ok", "the file is whole for another program")
    written = len(gt.carries(site)["carries"])
    got = sum(1 for _ in layers["carries"].getFeatures())
    expect(got > 0 and written > 0, f"carries read again through the desktop: {got} rows")


def stopping_leaves_the_file(path: Path) -> None:
    """Cancel from the progress, Ctrl-C, and the death of the child: the rows are as before."""
    import gistools as gt

    site = gt.open_site(path)
    before = digest(path)

    def cancel(share: float, _text: str) -> None:
        if share > 0.1:
            raise gt.Cancelled("enough")

    def outcome(**options: object) -> str:
        try:
            gt.study(site, quick=True, **options)
        except gt.GistoolsError as result:
            return f"{type(result).__name__}: {str(result).splitlines()[0]}"
        return "it ran through"

    result = outcome(progress=cancel)
    expect(result.startswith("Cancelled") and digest(path) == before, f"cancel: {result}")
    signal.signal(signal.SIGINT, signal.default_int_handler)
    threading.Timer(4.0, lambda: os.kill(os.getpid(), signal.SIGINT)).start()
    result = outcome()
    expect(result.startswith("Cancelled") and digest(path) == before, f"Ctrl-C: {result}")

    def kill() -> None:
        from gistools.desktop import remote

        for pid in remote.process_ids():
            os.kill(pid, signal.SIGKILL)

    threading.Timer(4.0, kill).start()
    result = outcome()
    expect("ended" in result and digest(path) == before, f"child killed: {result}")


def draw(folder: Path) -> None:
    """Render the group as it opens, the whole site and hole 1."""
    project = QgsProject.instance()
    order = [n.layer() for n in project.layerTreeRoot().findLayers() if n.isVisible()]
    folder.mkdir(parents=True, exist_ok=True)
    lines = next(layer for layer in project.mapLayers().values() if layer.name() == "lines of play")
    for name, hole in (("desktop_site.png", None), ("desktop_hole_1.png", 1)):
        box = QgsRectangle()
        for feature in lines.getFeatures():
            if hole in (None, feature["hole"]):
                box.combineExtentWith(feature.geometry().boundingBox())
        box.grow(45)
        settings = QgsMapSettings()
        settings.setLayers(order)
        settings.setDestinationCrs(lines.crs())
        settings.setBackgroundColor(QColor("#ffffff"))
        settings.setExtent(box)
        tall = box.height() / box.width()
        settings.setOutputSize(QSize(1400, int(1400 * tall)) if tall < 1.4 else QSize(int(1800 / tall), 1800))
        settings.setOutputDpi(130)
        job = QgsMapRendererParallelJob(settings)
        job.start()
        job.waitForFinished()
        picture = job.renderedImage()
        for fault in job.errors():
            expect(False, f"drawing: {fault.message}")
        colours = {
            picture.pixel(x, y) for x in range(0, picture.width(), 7) for y in range(0, picture.height(), 7)
        }
        expect(len(colours) > 200 and picture.save(str(folder / name)), f"{name}: {len(colours)} colours")


if __name__ == "__main__":
    raise SystemExit(main())
