"""Install the plug-in into the real desktop and try it, without a screen.

Scripts/plugin_check.py [--to FOLDER].

Run it with the desktop's own Python (on Debian `apt-get install qgis python3-qgis`, then /usr/bin/python3).
It makes the zip, unpacks it where the desktop looks for plug-ins of a fresh profile, and goes through
`processing`: three algorithms, a model of two, the stop button, an edit session, the answer time of a known
result, forms laid on bare ground. `--libraries` also makes the environment of the plug-in (minutes, needs a
package registry); else the steps run in .venv, or where GISTOOLS_PYTHON says. With `--to` dialogs and results
are drawn into a folder.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
import zipfile
from itertools import pairwise
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
try:
    from qgis.core import (
        QgsApplication,
        QgsProcessingContext,
        QgsProcessingFeedback,
        QgsProject,
        QgsVectorLayer,
    )
except ImportError as missing:
    print(f"this Python has no desktop GIS in it ({missing}); run the script with the one QGIS uses")
    raise SystemExit(2) from missing

faults: list[str] = []


def expect(true: object, text: str) -> None:
    """Note one thing looked at."""
    print(("ok     " if true else "FAULT  ") + text, flush=True)
    if not true:
        faults.append(text)


def main() -> int:
    """Run every check."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--to", type=Path, help="folder for pictures")
    words.add_argument("--libraries", action="store_true", help="make the environment of the plug-in")
    given = words.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        install(folder)
        if given.libraries:
            os.environ["GISTOOLS_ENVIRONMENT"] = str(folder / "environment")
        else:
            python = ROOT / ".venv" / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
            os.environ.setdefault("GISTOOLS_PYTHON", str(python))
        os.environ["QGIS_CUSTOM_CONFIG_PATH"] = str(folder)
        app = QgsApplication([], True)
        app.initQgis()
        start_plugin(folder)
        try:
            if given.libraries:
                install_libraries()
            path = algorithms(folder)
            model(path)
            known_result(path)
            project(path, folder, given.to)
            stop(path)
            edit_session(path)
            design(path)
            forms(folder)
            if given.to:
                pictures(given.to)
        finally:
            QgsProject.instance().clear()
            from gistools.desktop import remote

            remote.close()
    print(f"{len(faults)} faults" if faults else "all well")
    sys.stdout.flush()
    os._exit(1 if faults else 0)  # the desktop's own end can crash where no window was


def install(profile: Path) -> None:
    """Unpack the zip as the desktop's plug-in manager does."""
    sys.path.insert(0, str(ROOT / "scripts"))
    from make_plugin import FOLDER, write

    zip_path = write(profile)
    plugins = profile / "plugins"
    plugins.mkdir()
    with zipfile.ZipFile(zip_path) as archive:
        tops = {name.split("/")[0] for name in archive.namelist()}
        archive.extractall(plugins)
    expect(tops == {FOLDER}, f"{zip_path.name}: one folder, {zip_path.stat().st_size / 1e6:.1f} MB")


def start_plugin(profile: Path) -> None:
    """Load the plug-in by the desktop's own loader, beside its processing framework."""
    sys.path.append(str(Path(QgsApplication.pkgDataPath()) / "python" / "plugins"))
    sys.path.append(str(profile / "plugins"))
    import qgis.utils
    from processing.core.Processing import Processing

    Processing.initialize()
    qgis.utils.plugin_paths = [str(profile / "plugins")]
    qgis.utils.updateAvailablePlugins()
    expect("golf_holes" in qgis.utils.available_plugins, "the desktop finds the plug-in")
    expect(qgis.utils.loadPlugin("golf_holes"), "and loads it")
    plugin = sys.modules["golf_holes"].classFactory(None)
    plugin.initProcessing()
    start_plugin.plugin = plugin  # type: ignore[attr-defined]  # the desktop keeps it as well
    names = [
        a.id() for a in QgsApplication.processingRegistry().algorithms() if a.id().startswith("gistools:")
    ]
    expect(len(names) >= 28, f"{len(names)} algorithms in the toolbox")
    titles_fit()
    loaded = {"geopandas", "fiona", "rasterio", "numba", "pandas", "shapely"} & set(sys.modules)
    expect(not loaded, f"nothing heavy came into the desktop's process {sorted(loaded)}")


def titles_fit() -> None:
    """Tell parameters whose title makes the dialog scroll sideways."""
    long = [
        f"{algorithm.id()} {parameter.name()}"
        for algorithm in QgsApplication.processingRegistry().algorithms()
        if algorithm.id().startswith("gistools:")
        for parameter in algorithm.parameterDefinitions()
        if len(parameter.description()) > 110
    ]
    expect(not long, f"titles of parameters fit the dialog {long}")


def install_libraries() -> None:
    """Make the environment of the plug-in, and tell that a second run changes nothing."""
    import processing

    from gistools.desktop import environment

    start = time.monotonic()
    done = processing.run("gistools:install_libraries", {})
    expect(Path(done["PYTHON"]).is_file(), f"libraries installed in {time.monotonic() - start:.0f} s")
    start = time.monotonic()
    processing.run("gistools:install_libraries", {})
    expect(environment.ready(), f"again in {time.monotonic() - start:.0f} s")


def algorithms(folder: Path) -> Path:
    """Run the sample, a check, a step and a quick study by `processing.run`."""
    import processing

    path = folder / "merrowby.gpkg"
    processing.run("gistools:write_sample", {"SITE": str(path)})
    done = processing.run("gistools:check", {"SITE": str(path)})
    expect(done["ERRORS"] == 0, "the sample is written and has no errors")
    start = time.monotonic()
    done = processing.run("gistools:corridors", {"SITE": str(path), "HOLE": 1, "SPACING_M": 20.0})
    layer = QgsVectorLayer(done["CORRIDORS"], "corridors", "ogr")
    rows = [f["chainage_m"] for f in layer.getFeatures()]
    steps = {round(b - a, 3) for a, b in pairwise(rows) if b - a > 0}
    expect(
        layer.isValid() and 20.0 in steps,
        f"corridors every 20 m in {time.monotonic() - start:.1f} s: {len(rows)} rows",
    )
    done = processing.run("gistools:study", {"SITE": str(path), "HOLE": 1, "QUICK": True})
    expect("Written to" in done["SUMMARY"], "a quick study, with its summary")
    shown = {layer.name().partition(" (")[0] for layer in QgsProject.instance().mapLayers().values()}
    expect({"zones", "carries", "greens"} <= shown, f"{len(shown)} layers in the project")
    green = (
        next(QgsVectorLayer(f"{path}|layername=greens", "greens", "ogr").getFeatures()).geometry().centroid()
    )
    back = folder / "back.csv"
    back.write_text(f"1,{green.asPoint().y()},{green.asPoint().x()},9.5,GRN\n", encoding="ascii")
    done = processing.run("gistools:as_built_check", {"SITE": str(path), "POINTS": str(back)})
    checked = QgsVectorLayer(done["AS_BUILT_CHECK"], "as built", "ogr")
    words = [(f["feature"], f["level_status"], f["plan_status"]) for f in checked.getFeatures()]
    expect(words == [("Haar", "high", "no stake")], f"a measured point against the design: {words}")
    report = {"SITE": str(path), "POINTS": str(back), "REPORT": str(folder / "built.pdf")}
    done = processing.run("gistools:as_built_report", report)
    expect(Path(done["REPORT"]).read_bytes()[:5] == b"%PDF-", "a report of a measured point")
    bad = refused("gistools:as_built_report", {**report, "POINTS": ""})
    expect("already has" in bad, f"a report that is there stays: {bad[:90]}")
    bad = refused("gistools:corridors", {"SITE": str(path), "SETTINGS": "eye_m=90"})
    expect("eye_m" in bad and "Traceback" not in bad, f"a wrong setting is told in words: {bad[:90]}")
    return path


def refused(name: str, parameters: dict[str, Any], feedback: Any = None) -> str:
    """Return why an algorithm does not run, empty where it does."""
    algorithm = QgsApplication.processingRegistry().createAlgorithmById(name)
    feedback = feedback or QgsProcessingFeedback()
    _results, ran = algorithm.run(parameters, QgsProcessingContext(), feedback)
    return "" if ran else feedback.textLog() if hasattr(feedback, "textLog") else "refused"


def model(path: Path) -> None:
    """Chain two steps in a model of the desktop: the site of the first goes into the second."""
    from qgis.core import (
        QgsProcessingModelAlgorithm,
        QgsProcessingModelChildAlgorithm,
        QgsProcessingModelChildParameterSource,
        QgsProcessingModelParameter,
        QgsProcessingParameterFile,
    )

    chain = QgsProcessingModelAlgorithm("lengths and zones", "golf", "lengths_zones")
    chain.addModelParameter(QgsProcessingParameterFile("site", "Site"), QgsProcessingModelParameter("site"))
    first = QgsProcessingModelChildAlgorithm("gistools:lengths")
    first.setChildId("lengths")
    first.addParameterSources("SITE", [QgsProcessingModelChildParameterSource.fromModelParameter("site")])
    chain.addChildAlgorithm(first)
    second = QgsProcessingModelChildAlgorithm("gistools:zones")
    second.setChildId("zones")
    second.addParameterSources(
        "SITE", [QgsProcessingModelChildParameterSource.fromChildOutput("lengths", "SITE")]
    )
    chain.addChildAlgorithm(second)
    results, ran = chain.run({"site": str(path)}, QgsProcessingContext(), QgsProcessingFeedback())
    expect(ran, f"a model of two steps runs: {sorted(results)}")


def known_result(path: Path) -> None:
    """Time a second call through the child that is alive, where nothing is computed."""
    import gistools as gt

    site = gt.open_site(path)
    gt.carries(site, hole=1)
    start = time.monotonic()
    gt.carries(site, hole=1)
    seconds = time.monotonic() - start
    expect(seconds < 0.5, f"nothing computed, answered in {seconds:.2f} s (limit 0.5)")


def project(path: Path, folder: Path, to: Path | None) -> None:
    """Make themes and layouts, save the project, read it back, and measure the scales of its layouts."""
    import processing
    from qgis.core import QgsLayoutExporter, QgsLayoutItemMap, QgsLayoutItemPicture

    target = folder / "merrowby.qgz"
    done = processing.run("gistools:project", {"SITE": str(path), "PROJECT": str(target)})
    names = ("Hole 1: plan", "Hole 1: green", "Hole 1: section", "Site plan")
    expect(all(name in done["LAYOUTS"] for name in names), done["LAYOUTS"])
    reread = QgsProject()
    expect(target.is_file() and reread.read(str(target)), "the project is saved and can be read")
    themes = set(reread.mapThemeCollection().mapThemes())
    expect({"Client", "Safety", "Construction"} <= themes, f"themes {sorted(themes)}")
    for layout in sorted(reread.layoutManager().layouts(), key=lambda item: item.name()):
        shown = next((item for item in layout.items() if isinstance(item, QgsLayoutItemMap)), None)
        if shown is None:
            drawn = max(
                (item for item in layout.items() if isinstance(item, QgsLayoutItemPicture)),
                key=lambda item: item.rect().width(),
            )
            sizes = [round(v, 1) for v in (drawn.rect().width(), drawn.rect().height())]
            vector = drawn.mode() == QgsLayoutItemPicture.FormatSVG and not drawn.isMissingImage()
            expect(vector and sizes == [400.0, 235.0], f"{layout.name()}: drawn at its own size {sizes} mm")
        else:
            across = shown.rect().width() * shown.scale() / 1000
            extent = shown.visibleExtentPolygon()
            side = ((extent[1].x() - extent[0].x()) ** 2 + (extent[1].y() - extent[0].y()) ** 2) ** 0.5
            words = f"{layout.name()}: 1:{shown.scale():.0f}, {side:.1f} m across"
            expect(abs(side - across) < 0.01 * across, words)
        if to:
            to.mkdir(parents=True, exist_ok=True)
            name = layout.name().lower().replace(": ", "_").replace(" ", "_")
            settings = QgsLayoutExporter.ImageExportSettings()
            settings.dpi = 90
            QgsLayoutExporter(layout).exportToImage(str(to / f"layout_{name}.png"), settings)
    dragged_in(path)
    refusal = refused("gistools:project", {"SITE": str(path), "PROJECT": str(target)})
    expect("is there already" in refusal, "a project that is there is not overwritten")


def dragged_in(path: Path) -> None:
    """Add maps as a user drags them in: they are drawn, on one scale; what is made grey again stays grey."""
    from qgis.core import QgsProviderRegistry, QgsRasterLayer, QgsSingleBandGrayRenderer

    project, drawn = QgsProject.instance(), {}
    for sub in QgsProviderRegistry.instance().querySublayers(str(path)):
        if sub.type() == 1:
            layer = QgsRasterLayer(sub.uri(), sub.name(), "gdal")
            before = layer.renderer().type()
            project.addMapLayer(layer)
            drawn[sub.name()] = (before, layer.renderer().type())
            if layer.name().startswith("study_green_slope_map"):
                ramp = layer.renderer().shader().rasterShaderFunction()
                scale = ramp.minimumValue(), ramp.maximumValue()
                expect(scale == (0.0, 8.0), f"{layer.name()} is drawn from {scale[0]:g} to {scale[1]:g} %")
            if layer.name() == "terrain":
                layer.setRenderer(QgsSingleBandGrayRenderer(layer.dataProvider(), 1))
                project.layersAdded.emit([layer])
                expect(layer.renderer().type() == "singlebandgray", "a map made grey again stays grey")
            project.removeMapLayer(layer.id())
    grey = [name for name, (before, after) in drawn.items() if before != "singlebandgray" or after == before]
    expect(len(drawn) > 3 and not grey, f"{len(drawn)} maps dragged in grey are drawn {grey}")


def stop(path: Path) -> None:
    """Press the stop button in the middle of a study."""
    before = digest(path)

    class Stopping(QgsProcessingFeedback):  # type: ignore[misc]
        def setProgressText(self, text: str) -> None:
            super().setProgressText(text)
            self.cancel()

    start = time.monotonic()
    reason = refused("gistools:study", {"SITE": str(path), "QUICK": True, "LOAD": False}, Stopping())
    expect("stopped by the user" in reason, f"stopped after {time.monotonic() - start:.1f} s")
    expect(digest(path) == before, "the file is as it was")


def edit_session(path: Path) -> None:
    """Leave a layer in an edit session: nothing is written, and the layer is named."""
    project = QgsProject.instance()
    bunkers = next(layer for layer in project.mapLayers().values() if layer.name() == "bunkers")
    before = digest(path)
    bunkers.startEditing()
    reason = refused("gistools:zones", {"SITE": str(path)})
    expect(
        "bunkers" in reason and digest(path) == before,
        f"refused while edited: {reason.strip().splitlines()[-1][:90]}",
    )
    bunkers.rollBack()
    expect(not refused("gistools:zones", {"SITE": str(path)}), "and runs when the edits are discarded")


def design(path: Path) -> None:
    """Ask for tees proposed, and search with ranges that cannot be read."""
    import processing

    answer = processing.run("gistools:propose_tees", {"SITE": str(path), "HOLE": 1})["ANSWER"]
    expect("of the drive from a tee" in answer, "tees are proposed in sentences")
    reason = refused("gistools:search", {"SITE": str(path), "HOLE": 1, "EDITS": "Burdock: up 1..2"})
    expect("name and ranges" in reason, f"ranges that cannot be read are refused: {reason}")


def forms(folder: Path) -> None:
    """Make an empty site on bare ground, lay two holes on it, and be refused a third."""
    import subprocess

    import processing

    from gistools.desktop import environment

    python = os.environ.get("GISTOOLS_PYTHON") or str(environment.python_of(folder / "environment"))
    ground = ROOT / "scripts" / "bare_ground.py"
    subprocess.run([python, str(ground), str(folder)], check=True, capture_output=True)
    path, terrain = folder / "bare.gpkg", str(folder / "links_ground.tif")
    processing.run("gistools:new_site", {"SITE": str(path), "CRS": "EPSG:27700", "TERRAIN": terrain})
    start = time.monotonic()
    first = {
        "SITE": str(path),
        "TEE": "400150,600050 [EPSG:27700]",
        "GREEN": "400165,600395 [EPSG:27700]",
        "FORMS": ["diagonal", "screen"],
        "DIAGONAL_CARRY_M": 190.0,
    }
    done = processing.run("gistools:lay_hole", first)
    words = f"a hole of two forms in {time.monotonic() - start:.1f} s: {done['REMARKS'].splitlines()[0]}"
    expect(done["LAID"] == 1 and layer_of(path, "burns").featureCount() == 1, words)
    second = {**first, "TEE": "400210,600390", "GREEN": "400225,600060", "FORMS": ["dogleg", "punchbowl"]}
    second |= {"DOGLEG_ANGLE_DEG": -20.0, "DIAGONAL_CARRY_M": None}
    done = processing.run("gistools:lay_hole", second)
    expect(done["LAID"] == 2 and "Set-back" in done["REMARKS"], "a second hole, with set-backs not kept")
    expect(layer_of(path, "play_lines").featureCount() == 2, "the desktop reads both lines of play")
    reason = refused("gistools:lay_hole", {**first, "HOLE": 1})
    expect("hole 1 is there already" in reason, "a hole that is there is refused in words")
    burns = layer_of(path, "burns")
    QgsProject.instance().addMapLayer(burns)
    burns.startEditing()
    reason = refused("gistools:lay_hole", first)
    burns.rollBack()
    expect("burns" in reason and burns.featureCount() == 1, "refused while a layer is edited")
    done = processing.run("gistools:lay_hole", first)
    expect(done["LAID"] == 3 and burns.featureCount() == 2, "a third hole, seen by the layer of the project")


def layer_of(path: Path, name: str) -> QgsVectorLayer:
    """Return a layer of a file, outside the project."""
    return QgsVectorLayer(f"{path}|layername={name}", name, "ogr")


def digest(path: Path) -> str:
    """Return the content of a site, whichever file beside it holds it."""
    import hashlib
    import sqlite3

    with sqlite3.connect(path) as link:
        text = "\n".join(line for line in link.iterdump() if "last_change" not in line)
    link.close()
    return hashlib.sha256(text.encode("utf-8", "surrogateescape")).hexdigest()


def pictures(folder: Path) -> None:
    """Draw the dialogs of two algorithms and the layer tree with what is loaded."""
    from processing.gui.AlgorithmDialog import AlgorithmDialog
    from qgis.core import QgsLayerTreeModel
    from qgis.gui import QgsLayerTreeView

    folder.mkdir(parents=True, exist_ok=True)
    for name in ("study", "flag_views", "install_libraries", "lay_hole"):
        algorithm = QgsApplication.processingRegistry().createAlgorithmById(f"gistools:{name}")
        dialog = AlgorithmDialog(algorithm, False, None)
        dialog.resize(1000, 640)
        dialog.show()
        QgsApplication.processEvents()
        expect(dialog.grab().save(str(folder / f"dialog_{name}.png")), f"dialog of {name} drawn")
        dialog.close()
    tree = QgsLayerTreeView()
    model = QgsLayerTreeModel(QgsProject.instance().layerTreeRoot())
    tree.setModel(model)  # the view does not keep it alive
    tree.resize(420, 900)
    tree.expandAll()
    tree.show()
    QgsApplication.processEvents()
    picture = tree.grab()
    rows = picture.toImage()
    inked = sum(rows.pixelColor(x, y).lightness() < 128 for x in range(0, 420, 2) for y in range(0, 900, 2))
    expect(picture.save(str(folder / "layers.png")) and inked > 500, f"layer tree drawn, {inked} dark dots")


if __name__ == "__main__":
    raise SystemExit(main())
