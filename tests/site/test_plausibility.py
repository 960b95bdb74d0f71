"""What hardly can be is an error or a warning with layer, feature and remedy; what is alike is one line."""

from __future__ import annotations

import re
import sqlite3

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from shapely.affinity import translate
from shapely.geometry import LineString, Point, Polygon, box

import gistools as gt
from gistools.base.errors import GistoolsWarning, SiteError
from gistools.compute.terrain.surface import Surface
from gistools.site.check import check
from gistools.site.consistency import consistency_findings
from gistools.site.findings import Finding, grouped
from gistools.site.model import Site
from gistools.site.sample import sample_site
from gistools.site.vocabulary import field_meant, hole_number, layer_meant, words_of


def layer(shapes, **fields):
    return gpd.GeoDataFrame(fields, geometry=shapes)


def line(*points, **fields):
    return layer([LineString(points)], hole=[1], **fields)


GREEN = Point(0, 340).buffer(14, quad_segs=32)
MOUND = {"hole": [1], "kind": ["mound"]}

CASES = {
    "line from green to tee": (
        {"play_lines": line((0, 340), (0, 0))},
        "warning",
        "play_lines 1",
        "from green to tee",
    ),
    "line stops half-way": (
        {"play_lines": line((0, 0), (0, 170))},
        "warning",
        "play_lines 1",
        "ends 156 m from the green",
    ),
    "line ends 60 m from the green": (
        {"play_lines": line((0, 0), (0, 266))},
        "warning",
        "play_lines 1",
        "ends 60 m from the green",
    ),
    "green 400 m wide": (
        {
            "greens": layer([box(-200, 320, 200, 360)], hole=[1]),
            "boundary": None,
            "bunkers": None,
            "fairway": None,
        },
        "error",
        "greens 1",
        "16,000 m²",
    ),
    "green of ten square metres": (
        {"greens": layer([box(-2, 338, 3, 340)], hole=[1]), "pins": None},
        "warning",
        "greens 1",
        "the green has 10 m²",
    ),
    "green in the pond": ({"water": layer([GREEN.buffer(5)])}, "error", "greens 1", "lie in water 1"),
    "tee in the pond": ({"water": layer([box(-9, -9, 9, 9)])}, "error", "tees 1", "lies in water 1"),
    "pin in the pond": ({"water": layer([Point(3, 347).buffer(1.0)])}, "error", "pins 2", "lies in water 1"),
    "burn over the green": (
        {"burns": layer([LineString([(-60, 340), (60, 340)])], width_m=[1.0])},
        "warning",
        "greens 1",
        "28 m² of the green lie in burns 1",
    ),
    "shape half off the terrain": (
        {"shapes": layer([box(130, 100, 160, 130)], **MOUND, rise_m=[1.0])},
        "error",
        "shapes 1",
        "beyond the terrain",
    ),
    "shape at 9,999 m": (
        {"shapes": layer([box(30, 100, 60, 130)], **MOUND, level_m=[9999.0])},
        "error",
        "shapes 1",
        r"9,999\.0 m and the ground there 10\.0 m",
    ),
    "shape with rise and level": (
        {"shapes": layer([box(30, 100, 60, 130)], **MOUND, rise_m=[1.0], level_m=[12.0])},
        "error",
        "shapes 1",
        "only one can hold",
    ),
    "shape with neither": (
        {"shapes": layer([box(30, 100, 60, 130)], **MOUND)},
        "error",
        "shapes 1",
        "needs a rise or a level",
    ),
    "shape of an unknown kind": (
        {"shapes": layer([box(30, 100, 60, 130)], hole=[1], kind=["volcano"], rise_m=[1.0])},
        "error",
        "shapes 1",
        "'volcano' is unknown",
    ),
    "channel drawn as an area": (
        {"shapes": layer([box(30, 100, 60, 130)], hole=[1], kind=["channel"], rise_m=[-1.0])},
        "error",
        "shapes 1",
        "bed line",
    ),
    "zones overlap": (
        {"zones": layer([box(-10, 120, 10, 200), box(-10, 190, 10, 260)], hole=[1, 1], zone=["A", "B"])},
        "warning",
        "zones 2",
        "overlaps zone 1 by 200 m²",
    ),
    "unknown kind of path": (
        {"paths": layer([LineString([(50, 0), (50, 300)])], kind=["towpath"], width_m=[2.0])},
        "warning",
        "paths 1",
        "'towpath', not one of",
    ),
    "unknown kind of structure": (
        {"structures": layer([box(60, 60, 70, 70)], kind=["barn"], height_m=[6.0])},
        "warning",
        "structures 1",
        "'barn', not one of",
    ),
    "empty pins": ({"pins": layer([], hole=[], pin=[])}, "note", "pins", "the centre of each green is used"),
    "flags": (
        {"pins": None, "flags": layer([Point(0, 340)], hole=[1])},
        "warning",
        "pins",
        "did you mean `pins`",
    ),
    "sand traps": (
        {"bunkers": None, "sand traps": layer([box(20, 318, 26, 326)])},
        "warning",
        "bunkers",
        "did you mean `bunkers`",
    ),
    "crown below the ground": (
        {"trees": layer([Point(40, 100)], height_m=[5.0], clear_m=[6.0], crown_m=[4.0])},
        "error",
        "trees 1",
        "underside",
    ),
    "fairway of another hole": (
        {"fairway": layer([box(-20, 100, 20, 310), box(980, 100, 1000, 300)], hole=[1, 1]), "boundary": None},
        "warning",
        "fairway 2",
        "lies 967 m from the way",
    ),
    "two players of one name": (
        {"players": pd.DataFrame({"player": ["Ann", "ann"], "driver_carry_m": [180.0, 200.0]})},
        "error",
        "players 2",
        "there twice",
    ),
    "player based on nobody": (
        {"players": pd.DataFrame({"player": ["Ann"], "based_on": ["the cat"]})},
        "error",
        "players 1",
        "built-in",
    ),
    "two winds of one name": (
        {
            "winds": pd.DataFrame(
                {"wind": ["west", "West"], "speed_ms": [5.0, 6.0], "from_deg": [270.0, 260.0]}
            )
        },
        "error",
        "winds 2",
        "there twice",
    ),
}


@pytest.mark.parametrize("case", CASES, ids=str)
def test_each_silent_answer_is_a_finding_now(make_survey, kit, case):
    changes, level, where, pattern = CASES[case]
    findings = check(make_survey(**changes, ground=kit.level_ground()))
    fitting = [f for f in findings if f.level == level and f.where == where and re.search(pattern, f.message)]
    assert len(fitting) == 1, "\n".join(map(str, findings))
    assert fitting[0].remedy


def test_hole_numbers_in_words_are_read(make_survey, kit):
    path = make_survey(fairway=layer([box(-20, 100, 20, 310)], hole=["Hole 1"]), ground=kit.level_ground())
    findings = check(path)
    assert [f.message for f in findings if f.layer == "fairway"] == [
        "`hole` is stored as text; it was read as a number"
    ]
    assert gt.open_site(path).layer("fairway")["hole"].tolist() == [1]


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("7", 7),
        ("Hole 07", 7),
        ("18th hole", 18),
        ("H3", 3),
        ("#4", 4),
        ("no. 12", 12),
        ("7a", None),
        ("1.5", None),
        ("hole 40", None),
        ("0", None),
        ("", None),
        ("1-9", None),
    ],
)
def test_a_hole_number_is_read_out_of_a_name(text, number):
    assert hole_number(text) == number


def test_words_of_layers_and_fields():
    assert words_of("Bunkers_2024") == "bunkers" and words_of("HoleNo") == "hole no"
    meant = {
        n: (layer_meant(n) or ("",))[0]
        for n in (
            "Bunkers_2024",
            "sand traps",
            "flags",
            "GREENS",
            "tee boxes",
            "cart paths",
            "ponds",
            "Annotation",
        )
    }
    assert meant == {
        "Bunkers_2024": "bunkers",
        "sand traps": "bunkers",
        "flags": "pins",
        "GREENS": "greens",
        "tee boxes": "tees",
        "cart paths": "paths",
        "ponds": "water",
        "Annotation": "",
    }
    assert field_meant("hole", ["OBJECTID", "HOLE_NO"]) == ("HOLE_NO", "`HOLE_NO` is a word for it")
    assert field_meant("hole", ["OBJECTID"]) is None


def test_eighteen_overlaps_are_one_line():
    findings = [
        Finding(
            "note", "fairway", k, f"it overlaps green {k} by {100 + 25 * k:.1f} m²; the green counts there"
        )
        for k in range(1, 19)
    ]
    texts = [
        Finding("error", "tees", k, f"`hole` is 'x{k}', not a number", "put it in") for k in range(1, 24)
    ]
    first, second = grouped([*findings, *texts])
    assert (first.count, first.where) == (18, "fairway (18 features: 1, 2, 3, 4, 5, 6 and 12 more)")
    assert first.message == "it overlaps green 1 to 18 by 125.0 to 550.0 m²; the green counts there"
    assert second.message == "`hole` is 'x1', 'x2', 'x3' and 20 more, not a number" and second.count == 23
    (alone,) = grouped(findings[:1])
    assert alone.where == "fairway 1" and alone.message == findings[0].message


@pytest.mark.parametrize("cut", ["one byte", "half a per cent", "half"])
def test_a_file_cut_short_is_refused_on_opening(survey, cut):
    whole = survey.read_bytes()
    keep = {"one byte": len(whole) - 1, "half a per cent": int(len(whole) * 0.995), "half": len(whole) // 2}[
        cut
    ]
    survey.write_bytes(whole[:keep])
    with pytest.raises(SiteError, match=f"cut short: {len(whole) - keep:,} bytes|malformed"):
        gt.open_site(survey)
    (finding,) = check(survey)
    assert finding.level == "error" and "is damaged" in finding.message


def test_a_ring_of_one_point_is_left_out_with_a_word(survey):
    """The geometry blob of the bunker says one ring with one point: shapely refuses to build it."""
    header = b"GP\x00\x01" + (27700).to_bytes(4, "little")
    blob = (
        header
        + b"\x01\x03\x00\x00\x00\x01\x00\x00\x00\x01\x00\x00\x00"
        + np.array([400000.0, 300000.0]).tobytes()
    )
    with sqlite3.connect(survey) as link:
        for (trigger,) in link.execute("SELECT name FROM sqlite_master WHERE type='trigger'").fetchall():
            link.execute(f'DROP TRIGGER "{trigger}"')
        link.execute("UPDATE bunkers SET geom = ?", (blob,))
    link.close()
    (finding,) = [f for f in check(survey) if f.layer == "bunkers"]
    assert finding.fid == 1 and "left out" in finding.message
    assert len(gt.open_site(survey).layer("bunkers")) == 0


def test_million_corners_are_simplified_within_tolerance(make_survey):
    """A fairway with a ripple of 3 mm: within a centimetre of it a few hundred corners do."""
    turn = np.linspace(0, 2 * np.pi, 1_000_000, endpoint=False)
    radius = 60 + 0.003 * np.sin(40_000 * turn)
    ring = np.column_stack([radius * np.cos(turn), 200 + radius * np.sin(turn)])
    drawn = Polygon(ring)
    path = make_survey(fairway=layer([drawn], hole=[1]))
    (finding,) = [f for f in check(path) if f.layer == "fairway" and "corners" in f.message]
    tolerance = float(re.search(r"within ([\d.]+) m", finding.message).group(1))
    used = translate(gt.open_site(path).layer("fairway").geometry.iloc[0], -400_000, -300_000)
    assert len(used.exterior.coords) <= 5000
    away = shapely.distance(shapely.points(ring[::997]), used.exterior)
    assert away.max() <= tolerance + 1e-9
    assert used.area == pytest.approx(drawn.area, rel=1e-3)


def test_a_pond_of_many_stakes_is_staked_wider(make_survey, kit):
    turn = np.linspace(0, 2 * np.pi, 4000, endpoint=False)
    radius = 30 + 3 * np.sin(600 * turn)
    pond = Polygon(np.column_stack([60 + radius * np.cos(turn), 200 + radius * np.sin(turn)]))
    site = gt.open_site(make_survey(water=layer([pond], hole=[1]), ground=kit.level_ground()))
    with pytest.warns(GistoolsWarning, match=r"water feature 1 .*more than 999 points.*staked every"):
        points = gt.setting_out(site, hole=1)["setting_out"]
    staked = points[points["layer"] == "water"]
    assert 100 < len(staked) <= 999 and staked["number"].is_unique
    assert set(points["layer"]) >= {"tees", "greens", "bunkers"}


@pytest.mark.parametrize(("times", "says"), [(100, "rises or falls"), (1000, "m high at the tee")])
def test_heights_in_a_wrong_unit_are_told(times, says):
    """Heights of the sample in centimetres or millimetres: `check` says so, and no step blames an option."""
    site = sample_site()
    s = site.surface()
    wrong = Site.from_tables(dict(site.tables), 27700, Surface(s.z * times, s.x_west, s.y_north, s.cell))
    findings = [f for f in consistency_findings(wrong) if says in f.message]
    assert findings and all(f.level == "error" and f.layer == "tees" and f.remedy for f in findings)
    assert not [f for f in consistency_findings(site) if "heights" in f.remedy]
    if times == 1000:
        with pytest.raises(SiteError, match=r"hole 1 lies at .* correct the terrain"):
            gt.effective_carries(wrong, hole=1, players="scratch man", winds="calm")
    else:
        rows = gt.effective_carries(wrong, hole=1, players="scratch man", winds="calm")["effective_carries"]
        assert rows["note"].str.contains("check the terrain's heights").any()
