"""The search for the least change, on margins that are known; and what a comparison says in sentences."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

from gistools.base.errors import InputError, SiteError
from gistools.design import search, search_variants
from gistools.design.sentences import sentences
from gistools.hole import HoleModel
from gistools.site.sample import sample_site

KNOWE = {"action": "move", "feature": "Saltbush Knowe", "hole": 3}


@pytest.fixture(scope="module")
def site():
    return sample_site()


def moved_east(before, after) -> float:
    """How far the mound has moved east [m]."""
    row = [
        t.layer("mounds").set_index("name").loc["Saltbush Knowe"].geometry.centroid for t in (before, after)
    ]
    return row[1].x - row[0].x


@pytest.mark.parametrize("asked_m", [3.0, 7.5, -5.0])
def test_the_least_move_is_found(site, monkeypatch, asked_m) -> None:
    """The intention: the mound stands so far east or farther. The answer is known."""
    sign = 1.0 if asked_m > 0 else -1.0

    def margin(candidate, *_, **__):
        return sign * moved_east(site, candidate) - abs(asked_m)

    monkeypatch.setattr(search_variants, "first_margin", margin)
    result = search.search_edits(site, [KNOWE | {"east_m": [-12.0, 12.0]}], first="any", pin="any", hole=3)
    assert result.holds and result.margin_before == pytest.approx(-abs(asked_m))
    (edit,) = result.edits
    assert 0.0 <= sign * edit.east_m - abs(asked_m) <= search.LAST_STEP * 12.0
    assert (
        result.earth_m3 > 0 and len(result.tried) <= search_variants.STARTS + search_variants.MOST_STEPS + 1
    )


def test_figures_that_do_not_matter_are_left_out(site, monkeypatch) -> None:
    monkeypatch.setattr(search_variants, "first_margin", lambda v, *_, **__: moved_east(site, v) - 4.0)
    edits = [
        KNOWE | {"east_m": [0.0, 8.0]},
        {"action": "raise", "feature": "Saltbush Knowe", "rise_m": [0.0, 1.0]},
    ]
    result = search.search_edits(site, edits, first="any", pin="any", hole=3)
    assert [e.label for e in result.edits] == ["move Saltbush Knowe"] and result.holds


def test_unreachable_intention_reports_the_best_tried(site, monkeypatch) -> None:
    monkeypatch.setattr(search_variants, "first_margin", lambda v, *_, **__: moved_east(site, v) - 40.0)
    result = search.search_edits(site, [KNOWE | {"east_m": [-12.0, 12.0]}], first="any", pin="any", hole=3)
    assert not result.holds and result.margin == pytest.approx(-28.0, abs=0.01)
    assert "does not hold" in repr(result)


def test_nothing_moves_where_the_intention_holds_already(site, monkeypatch) -> None:
    monkeypatch.setattr(search_variants, "first_margin", lambda v, *_, **__: 1.0)
    result = search.search_edits(site, [KNOWE | {"east_m": [-12.0, 12.0]}], first="any", pin="any", hole=3)
    assert result.holds and result.edits == () and result.earth_m3 == 0.0


@pytest.mark.parametrize(
    ("edits", "message"),
    [
        ([KNOWE | {"east_m": 3.0}], "no figure of the edits is a range"),
        ([KNOWE | {"east_m": [2.0, 5.0]}], "should hold 0, no change"),
        ([KNOWE | {"east_m": [1.0, 2.0, 3.0]}], r"should be \[low, high\]"),
    ],
)
def test_ranges_that_cannot_be_searched(site, edits, message) -> None:
    with pytest.raises(InputError, match=message):
        search.search_edits(site, edits, first="any", pin="any", hole=3)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (None, "the edits cannot be read: No such file"),
        ("[[edit]\naction = ", "the edits cannot be read"),
        ("[[move]]\nfeature = 'Haar Knowe'\n", r"is \[\[edit\]\] tables, and nothing else; it has move"),
    ],
)
def test_files_of_edits_that_cannot_be_read_are_named(site, tmp_path, text, message) -> None:
    path = tmp_path / "edits.toml"
    if text is not None:
        path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=message) as error:
        search.search_edits(site, path, first="any", pin="any", hole=1)
    assert "edits.toml" in str(error.value)


def test_an_unknown_field_is_told_with_the_number_of_the_edit(site, monkeypatch) -> None:
    monkeypatch.setattr(search_variants, "first_margin", lambda *_, **__: -1.0)
    edits = [KNOWE | {"east_m": [-1.0, 1.0], "upwards_m": 2.0}]
    with pytest.raises(InputError, match="edit 1 has upwards_m; an edit can have"):
        search.search_edits(site, edits, first="any", pin="any", hole=3)


def test_a_variant_that_cannot_be_made_is_far_outside(site, monkeypatch) -> None:
    def margin(candidate, *_, **__):
        if moved_east(site, candidate) < -1.0:
            raise SiteError("the mound stands in the burn")
        return moved_east(site, candidate) - 4.0

    monkeypatch.setattr(search_variants, "first_margin", margin)
    result = search.search_edits(site, [KNOWE | {"east_m": [-12.0, 12.0]}], first="any", pin="any", hole=3)
    assert result.holds and result.tried["margin"].min() == search_variants.FAR_OUTSIDE


def test_every_variant_failing_is_an_error(site, monkeypatch) -> None:
    def margin(candidate, *_, **__):
        if candidate is not site:
            raise SiteError("the mound stands in the burn")
        return -1.0

    monkeypatch.setattr(search_variants, "first_margin", margin)
    with pytest.raises(InputError, match="no variant can be made; the mound stands in the burn"):
        search.search_edits(site, [KNOWE | {"east_m": [-12.0, 12.0]}], first="any", pin="any", hole=3)


def test_a_first_place_within_the_band_is_called_level() -> None:
    key = {"hole": 1, "tee": "back", "player": "scratch man", "wind": "calm", "pin": "back left"}
    for gain, words in ((0.05, "right becomes first"), (0.01, "right is now level with the first")):
        changes = pd.DataFrame(
            [
                key | {"zone": "right", "measure": "positions.rank", "before": 2, "after": 1},
                key | {"zone": "right", "measure": "positions.gain_strokes", "before": -0.03, "after": gain},
            ]
        )
        changes["change"] = changes["after"] - changes["before"]
        assert sentences(changes)[0] == f"{words} for back left, back, scratch man, calm."
    assert sentences(changes, band=0.005)[0].startswith("right becomes first")


def test_unknown_zone_and_hole_location_are_named(site) -> None:
    with pytest.raises(InputError, match="no landing zone 'nowhere'; there are: short, near"):
        search.search_edits(site, [KNOWE | {"east_m": [-1.0, 1.0]}], first="nowhere", pin="back left", hole=3)
    with pytest.raises(InputError, match="of which hole"):
        search.search_edits(site, [KNOWE | {"east_m": [-1.0, 1.0]}], first="beyond left", pin="back left")


def test_sentences_leave_out_what_is_within_the_band() -> None:
    key = {"hole": 1, "tee": "back", "player": "scratch man", "wind": "calm", "pin": "back left"}
    seen = "zone_views.flag_seen_mean_pct"
    rows = [
        key | {"zone": "right", "measure": "positions.total_strokes", "before": 4.30, "after": 4.34},
        key | {"zone": "left", "measure": "positions.total_strokes", "before": 4.30, "after": 4.31},
        {
            "pin": "back left",
            "zone": "right",
            "measure": seen,
            "before": 77,
            "after": 66,
        },
        {
            "pin": "back left",
            "zone": "left",
            "measure": seen,
            "before": 77,
            "after": 74,
        },
        {"measure": "ground.fill_m3", "before": 0.0, "after": 184.3},
        {"measure": "ground.steepest_pct", "before": 52.8, "after": 64.1},
    ]
    changes = pd.DataFrame(rows)
    changes["change"] = changes["after"] - changes["before"]
    lines = sentences(changes)
    assert lines == [
        "The order stays.",
        "right 0.04 dearer for back left, back, scratch man, calm.",
        "back left seen 11 points less from right.",
        "184 m3 fill, slopes to 64 % (too steep for ride-on mowers).",
    ]
    assert sentences(changes.iloc[:0]) == ["Nothing changes that shows."]


def test_trade_offs_are_the_variants_that_none_other_beats() -> None:
    tried = pd.DataFrame(
        {
            "1.rise_m": [1.0, 0.5, 2.0, 1.5, 0.25, 1.0],
            "margin": [0.03, 0.01, 0.05, 0.02, search_variants.FAR_OUTSIDE, 0.9],
            "earth_m3": [100.0, 60.0, 300.0, 200.0, 10.0, 5.0],
            "steepest_pct": [20.0, 10.0, 30.0, 20.0, 1.0, 1.0],
            "short_player_strokes": np.nan,
            "full": [False, False, False, False, False, True],
        }
    )
    result = search.SearchResult((), True, 0.03, -0.1, 100.0, tried)
    assert result.trade_offs["earth_m3"].tolist() == [60.0, 100.0, 300.0]
    assert result.trade_offs["margin"].tolist() == [0.01, 0.03, 0.05]
    assert "Trade-offs" in repr(result) and "300 m3, slopes to 30 %: margin +0.050 (1.rise +2.00 m)" in repr(
        result
    )


def test_earth_of_every_variant_is_counted(site, monkeypatch) -> None:
    monkeypatch.setattr(search_variants, "first_margin", lambda v, *_, **__: moved_east(site, v) - 4.0)
    result = search.search_edits(site, [KNOWE | {"east_m": [0.0, 8.0]}], first="any", pin="any", hole=3)
    earth = result.tried.sort_values("1.east_m")["earth_m3"]
    assert (earth > 0).all() and earth.is_monotonic_increasing


def test_trade_offs_are_edit_lists(site, monkeypatch) -> None:
    """Each row of the trade-offs names the edits that made it."""
    monkeypatch.setattr(search_variants, "first_margin", lambda v, *_, **__: moved_east(site, v) - 4.0)
    result = search.search_edits(site, [KNOWE | {"east_m": [0.0, 8.0]}], first="any", pin="any", hole=3)
    assert len(result.variants) == len(result.tried)
    for row in result.trade_offs.to_dict("records"):
        (edit,) = result.variants[row["number"]]
        assert edit.east_m == row["1.east_m"] and edit.feature == "Saltbush Knowe"
        assert row["steepest_pct"] > 10.0


def test_the_lead_asked_for_is_added_to_the_band(site, monkeypatch) -> None:
    monkeypatch.setattr(search_variants, "first_margin", lambda v, *_, **__: moved_east(site, v) - 4.0)
    edits = [KNOWE | {"east_m": [0.0, 8.0]}]
    level, ahead = (
        search.search_edits(site, edits, first="any", pin="any", hole=3, by_strokes=by) for by in (0.0, 2.0)
    )
    assert level.edits[0].east_m == pytest.approx(4.0, abs=0.25)
    assert ahead.edits[0].east_m == pytest.approx(6.0, abs=0.25)


def test_a_search_that_was_stopped_resumes(site, monkeypatch) -> None:
    """Stopped after three variants; asked again it plays only those that are missing."""
    played: list[float] = []

    def margin(candidate, *_, **__):
        if candidate is not site and abs(moved_east(site, candidate)) > 1e-6:
            played.append(moved_east(site, candidate))
            if len(played) == 4 and stop:
                raise KeyboardInterrupt
        return moved_east(site, candidate) - 4.0

    monkeypatch.setattr(search_variants, "first_margin", margin)
    edits, answers = [KNOWE | {"east_m": [0.0, 9.0]}], []
    stop = True
    with pytest.raises(KeyboardInterrupt):
        search.search_edits(site, edits, first="any", pin="any", hole=3)
    stop = False
    for expected in (-3, 0):  # the second time everything is played: nothing is kept of a search that ended
        played.clear()
        answers.append(search.search_edits(site, edits, first="any", pin="any", hole=3))
        assert len(played) == len(answers[-1].tried) + expected
    assert answers[0].edits == answers[1].edits
    pd.testing.assert_frame_equal(answers[0].tried, answers[1].tried)


def test_ranges_on_the_command_line() -> None:
    from gistools.design.search import moves

    assert moves("Haar Knowe: along -10..10, across -6..6, rise -1..2.5") == [
        {"action": "move", "feature": "Haar Knowe", "along_m": [-10.0, 10.0], "across_m": [-6.0, 6.0]},
        {"action": "raise", "feature": "Haar Knowe", "rise_m": [-1.0, 2.5]},
    ]
    for text in ("Haar Knowe", "Haar Knowe: up 1..2", "Haar Knowe: along 3", ": along 0..1", "X: along a..b"):
        with pytest.raises(InputError, match="should be a name and ranges of along"):
            moves(text)


def test_a_burn_moves_along_the_line_of_the_hole_searched(site, monkeypatch) -> None:
    """A burn belongs to no hole: along is that of the hole that is named for the search."""
    monkeypatch.setattr(search_variants, "first_margin", lambda *_, **__: -1.0)
    answer = search.search_edits(site, ["Teasel Burn: along -4..0"], first="any", pin="any", hole=1)
    assert not answer.refused and len(answer.tried) > 1
    assert answer.variants[1][0].hole == 1


def test_the_command_writes_trade_offs_and_a_picture(site, monkeypatch, tmp_path) -> None:
    import gistools as gt
    from gistools.cli.main import main

    monkeypatch.setattr(search_variants, "first_margin", lambda v, *_, **__: moved_east(site, v) - 4.0)
    path = gt.write_sample(tmp_path / "m.gpkg")
    words = ["search", str(path), "--hole", "3", "--move", "Saltbush Knowe: east 0..8", "--first", "far"]
    words += [
        "--pin",
        "back left",
        "--trade-offs",
        str(tmp_path / "ways"),
        "--picture",
        str(tmp_path / "p.png"),
    ]
    done = CliRunner().invoke(main, [*words, "--to", str(tmp_path / "e.toml")], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    lists = sorted((tmp_path / "ways").glob("*.toml"))
    assert len(lists) > 2 and (tmp_path / "p.png").stat().st_size > 5000
    assert gt.read_edits(lists[-1])[0].east_m == 8.0
    assert gt.read_edits(tmp_path / "e.toml")[0].east_m == pytest.approx(4.0, abs=0.6)
    again = CliRunner().invoke(main, words)
    assert again.exit_code == 2 and "already there" in again.output


def test_a_search_whose_brief_was_edited_plays_its_variants_anew(site, tmp_path, monkeypatch) -> None:
    """Stopped, the rows of the brief file changed under the same name: no margin of the old rows is taken."""
    played: list[float] = []

    def margin(candidate, *_):
        if candidate is not site and abs(moved_east(site, candidate)) > 1e-6:
            played.append(moved_east(site, candidate))
            if len(played) == 4 and stop:
                raise KeyboardInterrupt
        return moved_east(site, candidate) - 4.0

    monkeypatch.setattr(search_variants, "brief_margin", margin)
    edits, rows = [KNOWE | {"east_m": [0.0, 9.0]}], tmp_path / "rows.toml"
    rows.write_text("# old", encoding="utf-8")
    stop = True
    with pytest.raises(KeyboardInterrupt):
        search.search_edits(site, edits, hole=3, brief_file=str(rows))
    rows.write_text("# new", encoding="utf-8")
    stop = False
    played.clear()
    answer = search.search_edits(site, edits, hole=3, brief_file=str(rows))
    assert len(played) == len(answer.tried)


class Known:
    """A stand-in for playing: the margin of a moved mound, the same in every thread."""

    def __init__(self, site) -> None:
        self.site = site

    def __call__(self, candidate, *_, **__) -> float:
        return 4.0 - (moved_east(self.site, candidate) - 6.0) ** 2


@pytest.mark.parametrize("workers", [1, 3])
def test_the_number_of_workers_does_not_change_the_answer(site, monkeypatch, workers):
    """The mound stands 4 to 8 m east: no end of the range holds, the least move inside does."""
    from concurrent.futures import ThreadPoolExecutor

    monkeypatch.setattr(search_variants, "first_margin", Known(site))
    edits = [KNOWE | {"east_m": [-12.0, 12.0]}]
    alone = search.search_edits(site, edits, first="any", pin="any", hole=3)
    with ThreadPoolExecutor(workers) as executor:
        apart = search.search_edits(site, edits, first="any", pin="any", hole=3, executor=executor)
    assert alone.holds and alone.edits[0].east_m == pytest.approx(4.0, abs=0.4)
    assert apart.edits == alone.edits and apart.margin == alone.margin
    pd.testing.assert_frame_equal(apart.tried, alone.tried)


def test_a_process_that_dies_is_named(site, monkeypatch) -> None:
    from concurrent.futures import Executor, Future
    from concurrent.futures.process import BrokenProcessPool

    from gistools.base.errors import GistoolsError

    class Broken(Executor):
        def submit(self, *_):
            task: Future = Future()
            task.set_exception(BrokenProcessPool("gone"))
            return task

    monkeypatch.setattr(search_variants, "first_margin", Known(site))
    with pytest.raises(GistoolsError, match="use fewer workers"):
        search.search_edits(
            site, [KNOWE | {"east_m": [-1.0, 1.0]}], first="any", pin="any", hole=3, executor=Broken()
        )


def test_costs_of_the_short_player_are_among_the_trade_offs(site, monkeypatch) -> None:
    """The player gains 0.1 a metre of the move, the short player loses 0.02 from the shortest tee: +0.12."""
    played = set()

    def totals(candidate, _hole, tee, player, _wind):
        metres = moved_east(site, candidate)
        played.add((tee, player))
        return {
            "back left": {"short": 5.0 + (0.02 if player == "bogey woman" else -0.1) * metres, "far": 6.0}
        }

    monkeypatch.setattr(search_variants, "first_margin", lambda v, *_, **__: moved_east(site, v) - 4.0)
    monkeypatch.setattr(search_variants, "zone_totals", totals)
    edits = [KNOWE | {"east_m": [0.0, 8.0]}]
    result = search.search_edits(
        site, edits, first="short", pin="back left", hole=3, short_player="bogey woman"
    )
    coarse = result.tried[~result.tried["full"]]
    assert coarse["short_player_strokes"].to_numpy() == pytest.approx(0.12 * coarse["1.east_m"], abs=1e-6)
    tees = [t.name for t in HoleModel(site, 3).tees_by_length]
    assert played == {(tees[0], "scratch man"), (tees[-1], "bogey woman")}
    assert "short player +0." in repr(result)
    with pytest.raises(InputError, match="no player 'nobody'"):
        search.search_edits(site, edits, first="short", pin="back left", hole=3, short_player="nobody")


def test_a_fairer_variant_stays_among_the_trade_offs() -> None:
    """By hand: the second is dearer at the same margin, but fairer; the third is nowhere better."""
    tried = pd.DataFrame(
        {
            "1.rise_m": [1.0, 2.0, 3.0, 4.0],
            "margin": [0.03, 0.03, 0.02, 0.03],
            "earth_m3": [100.0, 150.0, 160.0, 100.0],
            "steepest_pct": [20.0, 25.0, 33.0, 32.0],
            "short_player_strokes": [0.04, 0.01, 0.02, 0.04],
            "full": False,
        }
    )
    result = search.SearchResult((), True, 0.03, -0.1, 100.0, tried)
    assert result.trade_offs["number"].tolist() == [0, 1]
