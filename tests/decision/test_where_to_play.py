"""The step where_to_play on a small hole: its cards beside positions and beside the shot explained."""

from __future__ import annotations

import itertools
import re

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import Point

import gistools as gt
from gistools.base.errors import InputError
from gistools.base.settings import LEVEL_CRITERIA
from gistools.design.compare import measure
from gistools.design.search_variants import first_margin
from gistools.hole import HoleModel
from gistools.site.model import Site
from gistools.steps.card_sentences import club_words, sentence
from gistools.steps.matrix import by_player, matrices, matrix
from gistools.steps.matrix import cards as card_lines
from gistools.steps.zone_cards import visibility_of
from tests.conftest import plane, straight_tables

PLAYED = {"players": ("scratch man",), "winds": ("calm",)}
BAND = 0.06  # wide enough that some zones are level on this hole


@pytest.fixture(scope="module")
def site() -> Site:
    """The straight hole with a burn on the diagonal, on a coarse mesh."""
    fine = Site.from_tables(straight_tables(), 27700, plane())
    return fine.with_settings(mesh_cell_m=10.0, level_band_strokes=BAND)


@pytest.fixture(scope="module")
def every_card(site) -> pd.DataFrame:
    return gt.where_to_play(site, players=("scratch man", "bogey man"), winds=("calm",))


@pytest.fixture(scope="module")
def cards(every_card) -> pd.DataFrame:
    """Those of the scratch man's tee shot."""
    return every_card[(every_card["player"] == "scratch man") & (every_card["shot_number"] == 1)]


@pytest.fixture(scope="module")
def later(every_card) -> pd.DataFrame:
    """Those of the shots after the tee shot."""
    return every_card[every_card["shot_number"] > 1]


def test_the_shot_and_the_total_are_those_of_positions(site, cards) -> None:
    ranked = gt.positions(site, **PLAYED)["positions"]
    both = cards.merge(ranked, on=["pin", "zone"], suffixes=("", "_ranked"))
    assert len(both) == len(cards) == len(ranked) == 8
    for column in ("total_strokes", "remaining_strokes", "aim_deg", "in_zone_pct", "remaining_rank"):
        assert np.allclose(both[column], both[f"{column}_ranked"])
    for column in ("club", "rank", "order_changes"):
        assert (both[column] == both[f"{column}_ranked"]).all()


def test_there_is_one_order_of_zones(site) -> None:
    """Where a criterion puts a level zone before one of less total, `positions` has it first as well."""
    by_total = 0
    for words in (("green_holds", "room_to_miss"), ("room_to_miss",), LEVEL_CRITERIA):
        other = site.with_settings(level_order=words)
        cards = gt.where_to_play(other, **PLAYED)
        ranked = gt.positions(other, **PLAYED)["positions"]
        both = cards[cards["shot_number"] == 1].merge(ranked, on=["pin", "zone"], suffixes=("", "_ranked"))
        assert len(both) == len(ranked) and (both["rank"] == both["rank_ranked"]).all()
        for _, here in both.groupby("pin"):
            first = here.loc[here["rank"].idxmin()]
            by_total += first["total_strokes"] > here["total_strokes"].min()
            assert "is first choice" in first["reading_ranked"]
            lead = here["total_strokes"].drop(first.name).min() - first["total_strokes"]
            assert first["gain_strokes"] == pytest.approx(lead) == pytest.approx(first["lead_strokes"])
            if first["decided_by"]:
                assert f"({first['decided_by']})" in first["reading_ranked"]
    assert by_total


def test_nine_in_ten_shots_finish_inside_the_ellipse_of_a_card(site, cards) -> None:
    """The shot played again; insideness by the equation of the ellipse, not by its outline."""
    from gistools.compute.decision.value_iteration import heading_of
    from gistools.hole import HoleModel
    from gistools.site.players import players_of, winds_of

    solved = HoleModel(site, 1).strokes(players_of(site, ("scratch man",))[0], winds_of(site, ("calm",))[0])
    labels = [shot.label for shot in solved.shot_table.shots]
    for card in cards.itertuples():
        heading, at = heading_of(card.aim_deg), card.geometry
        same = [  # a club is eased by more or less under one name
            solved.many_outcomes(0.0, 0.0, k, heading, lie=0)
            for k in range(len(labels))
            if labels[k] == card.club
        ]
        out = min(same, key=lambda o: np.hypot(np.median(o["x"]) - at.x, np.median(o["y"]) - at.y))
        dx, dy = out["x"] - card.geometry.x, out["y"] - card.geometry.y
        turn = np.radians(card.axis_bearing_deg)
        along, across = dx * np.sin(turn) + dy * np.cos(turn), dx * np.cos(turn) - dy * np.sin(turn)
        radius = np.hypot(2 * along / card.ellipse_length_m, 2 * across / card.ellipse_width_m)
        assert (radius <= 1.0 + 1e-9).mean() == pytest.approx(0.9, abs=0.01)


def test_ranks_and_levels_follow_from_totals(cards) -> None:
    some_level = False
    for _, here in cards.groupby("pin"):
        least = here["total_strokes"].min()
        behind = here["total_strokes"] - least
        assert np.allclose(here["behind_strokes"], behind)
        within = behind < BAND
        some_level |= within.sum() > 1
        assert (here["level_with_first"] == (within & (within.sum() > 1))).all()
        assert sorted(here["rank"]) == [1, 2, 3, 4]
        assert here.loc[within, "rank"].max() == within.sum()
        beyond = here[~within].sort_values("rank")
        assert beyond["total_strokes"].is_monotonic_increasing
    assert some_level


#: word of the setting level_order to what puts one card before another: figure (less is better), words
DECIDES = {
    "flag_seen": (lambda c: -c["flag_seen_pct"] / 10.0, "more of the flag is seen"),
    "forced_carry": (lambda c: np.nan_to_num(c["shot_must_carry_m"]) / 10.0, "its forced carry is shorter"),
    "over_mound": (lambda c: 2 * (c["mounds_crossed"] != ""), "the next shot comes over no mound"),
    "full_club": (lambda c: 2 * (" " in c["next_club"]), "the next shot is a full club"),
    "green_depth": (lambda c: -c["green_depth_m"] / 3.0, "the green is deeper on the line in"),
    "feeds": (
        lambda c: 2 * ["towards", "neither", "away"].index(c["feeds"]) if c["feeds"] else np.nan,
        "the ground feeds the next shot better",
    ),
    "room_to_miss": (
        lambda c: (c["trouble_pct"] + c["out_of_bounds_pct"]) / 3.0,
        "fewer shots find a hazard or leave the course",
    ),
    "green_holds": (lambda c: -c["hold_pct"] / 5.0, "the green holds more of the next shots"),
    "strokes_left": (lambda c: 1e6 * c["remaining_strokes"], "it leaves less"),
}


def decided_as_their_figures(cards: pd.DataFrame, words: tuple[str, ...]) -> list[str]:
    """Assert that the first criterion that differs is the one given; return the criteria that decided."""
    decided = []
    for _, here in cards.groupby("pin"):
        level = here[here["level_with_first"]].sort_values("rank").to_dict("records")
        for one, following in itertools.pairwise(level):
            for word in words:
                figure, reason = DECIDES[word]
                gain = figure(following) - figure(one)
                if abs(gain) > 1.0:
                    assert gain > 0 and one["decided_by"] == reason
                    decided.append(word)
                    break
            else:
                assert one["decided_by"] == ""
    return decided


def test_deciding_criterion_is_true_of_the_figures(cards) -> None:
    assert decided_as_their_figures(cards, LEVEL_CRITERIA)


def test_the_order_of_criteria_is_a_setting_of_the_site(site, cards) -> None:
    """Totals and shots stay; who stands first among level zones, and why, follows the words given."""
    words = ("green_holds", "room_to_miss")
    other = gt.where_to_play(site.with_settings(level_order=words), **PLAYED)
    other = other[other["shot_number"] == 1]
    assert set(decided_as_their_figures(other, words)) <= set(words)
    both = cards.merge(other, on=["pin", "zone"], suffixes=("", "_other"))
    assert np.array_equal(both["total_strokes"], both["total_strokes_other"])
    assert (both["level_with_first"] == both["level_with_first_other"]).all()
    assert (both["decided_by"] != both["decided_by_other"]).any()


def test_unknown_criterion_is_refused_naming_the_known(site) -> None:
    for bad in ("flag_seen, prettiness", "", "flag_seen, flag_seen", "flag_seen,,feeds"):
        with pytest.raises(
            InputError, match=r"level_order is .*flag_seen, forced_carry, over_mound.*each once"
        ):
            site.with_settings(level_order=bad)


def test_the_next_shot_is_the_one_explained_at_that_place(site, cards) -> None:
    for card in cards[cards["next_zone"] == ""].itertuples():
        explained = gt.explain(site, card.geometry.x, card.geometry.y, hole=1, pin=card.pin)
        assert explained.options[0].club == card.next_club


def test_distances_and_sight_on_level_ground(cards) -> None:
    """On a plane at 10 m in still air: nothing rises, everything is seen, the distance is that of the map."""
    pins = {"front": (0.0, 332.0), "back": (3.0, 347.0)}
    for card in cards.itertuples():
        x, y = pins[card.pin]
        assert card.pin_distance_m == pytest.approx(
            np.hypot(x - card.geometry.x, y - card.geometry.y), abs=0.01
        )
        assert card.rise_m == pytest.approx(0.0, abs=1e-6)
        assert card.flag_visibility == "visible" and card.hidden_by == ""
        assert f"Leaves {card.pin_distance_m:.0f} m" in card.reading


def test_the_mounds_a_straight_line_comes_over(site) -> None:
    """Two on the line, the nearer first; one beside it and one behind the hole location are not named."""
    tables = straight_tables()
    at = {"Far": (0, 300), "Near": (2, 250), "Beside": (25, 280), "Behind": (0, 362)}
    outlines = [Point(*xy).buffer(6) for xy in at.values()]
    mounds = gpd.GeoDataFrame({"name": list(at)}, geometry=outlines, crs=27700)
    places = HoleModel(Site.from_tables(tables | {"mounds": mounds}, 27700, plane()), 1).places
    assert places.mounds_on((0.0, 200.0), (0.0, 340.0)) == ["Near", "Far"]
    assert HoleModel(site, 1).places.mounds_on((0.0, 200.0), (0.0, 340.0)) == []


@pytest.mark.parametrize(
    ("seen_pct", "word"),
    [(100.0, "visible"), (90.0, "visible"), (89.0, "semi-blind"), (1.0, "blind"), (0.0, "blind")],
)
def test_words_of_sight(seen_pct, word) -> None:
    assert visibility_of(seen_pct) == word
    assert visibility_of(float("nan")) == ""


def test_search_margin_is_the_lead_less_the_band(site, cards) -> None:
    totals = cards[cards["pin"] == "back"].set_index("zone")["total_strokes"]
    for zone, total in totals.items():
        margin = first_margin(site, zone, "back", 1, "", "scratch man", "calm")
        assert margin == pytest.approx(totals.drop(zone).min() - total - BAND)


def test_who_is_asked_what(cards, every_card) -> None:
    """A line for each player: the numbers of the zones that are first, level ones together, and the score."""
    heading, (columns, *lines) = by_player(every_card)
    assert heading == "First zones and expected score for every player, tee and wind"
    assert columns == ["player, tee, wind", "front", "back"]
    assert [line[0] for line in lines] == ["scratch man, back, calm", "bogey man, back, calm"]
    for pin, cell in zip(columns[1:], lines[0][1:], strict=True):
        here = cards[cards["pin"] == pin]
        best = here[here["level_with_first"] | (here["rank"] == 1)]
        assert cell.split() == [
            "=".join(str(int(n)) for n in sorted(best["zone_number"])) + ":",
            f"{here['total_strokes'].min():.2f}",
        ]


def test_later_shots_start_where_the_shot_before_finishes(site, every_card, later) -> None:
    """The best of the ranked shots costs what the shot explained at the middle of those finishes costs."""
    assert len(later) and (later["from_zone"] != "").all()
    compared = 0
    for (player, pin, zone, number), here in later.groupby(["player", "pin", "from_zone", "shot_number"]):
        same = (every_card["player"] == player) & (every_card["pin"] == pin)
        before = every_card[same & (every_card["zone"] == zone) & (every_card["shot_number"] == number - 1)]
        firsts = set(zip(before["next_club"], before["next_zone"], strict=True))
        best = here[here["rank"] == 1].iloc[0]
        assert (best["club"], best["zone"]) in firsts  # the one shot, named on both cards
        if best["zone"] == "green":
            holds = before.loc[before["next_zone"] == "green", "hold_pct"]
            assert (holds - best["in_zone_pct"]).abs().min() < 16.0  # seldom from the very same place
        explained = [
            gt.explain(site, at.x, at.y, hole=1, pin=pin, player=player).options[0] for at in before.geometry
        ]
        gaps = [abs(best["total_strokes"] - option.remaining_strokes) for option in explained]
        assert min(gaps) < 0.1
        compared += 1
    assert compared >= 2


def test_later_shots_aim_ahead_or_at_the_green(site, every_card, later) -> None:
    centre = {z.zone: z.geometry.centroid.y for z in gt.zones(site)["zones"].itertuples()} | {"green": 340.0}
    assert (later["zone"].map(centre) > later["from_zone"].map(centre)).all()
    green = later[later["zone"] == "green"]
    assert len(green) and green["zone_number"].isna().all() and green["pin_distance_m"].isna().all()
    rest = every_card[every_card["zone"] != "green"]
    assert (rest["zone_number"] == [list(centre).index(z) + 1 for z in rest["zone"]]).all()
    assert set(rest["next_from"]) <= {"middle of finishes", "zone centre"}
    starts = later.groupby(["player", "pin", "from_zone"])["shot_number"].nunique()
    assert (starts == 1).all()


def test_from_within_reach_of_the_green_nothing_is_ranked(every_card, later) -> None:
    """A scratch man past the burn has an approach left; a bogey man short of it has not."""
    starts = {(r.player, r.from_zone) for r in later.itertuples()}
    close = every_card[every_card["pin_distance_m"] < 120.0]
    assert len(close) and not {(r.player, r.zone) for r in close.itertuples()} & starts
    assert (close["next_zone"] == "").all()
    assert any(player == "bogey man" and zone.startswith("short") for player, zone in starts)


def test_sentences_in_yards_hold_the_same_lengths(every_card) -> None:
    card = every_card[every_card["pin_distance_m"].notna()].iloc[0].to_dict()
    yards = card["pin_distance_m"] / 0.9144
    assert f"{yards:.0f} yd" in sentence(card, "yd") and not re.search(r"\d m\b", sentence(card, "yd"))
    assert sentence(card) == card["reading"]
    lines = "\n".join(card_lines(every_card, "yd"))
    assert " yd, playing " in lines and " m, playing " not in lines


def test_part_shots_are_named_in_the_unit_asked_for() -> None:
    assert club_words("63 m pitch", "yd") == "69 yd pitch" and club_words("63 m pitch") == "63 m pitch"
    assert club_words("eased 3-wood", "yd") == "eased 3-wood"


def test_a_hole_without_zones_opens_with_its_hole_locations() -> None:
    """The tee 140 m from the green: club, share that holds, flag and score for each hole location."""
    from shapely.geometry import box

    tables = straight_tables()
    tables["tees"].geometry = [box(-4, 197, 4, 203)]
    tables["fairway"].geometry = [box(-20, 290, 20, 310)]
    tables["burns"] = tables["burns"].iloc[:0]
    short = Site.from_tables(tables, 27700, plane()).with_settings(mesh_cell_m=10.0)
    table = gt.where_to_play(short, players=("scratch man", "bogey man"), winds=("calm",))
    assert list(table["pin"]) == ["front", "back"] * 2 and (table["zone"] == "").all()
    assert np.allclose(table["pin_distance_m"], [132.0, np.hypot(3, 147)] * 2)
    assert (table["remaining_strokes"] == table["total_strokes"]).all()
    lines = matrices(table, 1)
    head, front = (line.split() for line in lines[1:3])
    assert head[:2] == ["hole", "location"]
    first = table.iloc[0]
    assert (
        front[0] == "front"
        and f"{first['hold_pct']:.0f}" in front
        and f"{first['total_strokes']:.2f}" in front
    )
    assert first["club"] in lines[2] and "visible" in front
    heading, (columns, *players) = by_player(table)
    assert heading == "Club, shots that hold the green and expected score for every player, tee and wind"
    assert columns == ["player, tee, wind", "front", "back"] and [p[0] for p in players] == [
        f"{who}, back, calm" for who in ("scratch man", "bogey man")
    ]
    for row in table.to_dict("records"):
        cells = players[["scratch man", "bogey man"].index(row["player"])][1:]
        cell = cells[["front", "back"].index(row["pin"])]
        assert cell == f"{row['club']} {row['hold_pct']:.0f} %: {row['total_strokes']:.2f}"
        assert any(cell in line and row["player"] in line for line in lines)
    assert re.match(f"The tee shot is an? {first['club']}; ", first["reading"])
    assert (np.hypot(table.geometry.x, table.geometry.y - 340.0) < 25.0).all()  # where it finishes
    assert (table["ellipse_length_m"] >= table["ellipse_width_m"]).all()


def test_a_green_out_of_reach_is_told_in_words() -> None:
    """No effective distance where no shot of the player reaches: no nan on the screen."""
    card = {
        "zone": "",
        "club": "driver",
        "hazards": "",
        "pin_distance_m": 352.0,
        "effective_distance_m": np.nan,
    }
    card |= {"next_club": "", "next_zone": "", "hidden_by": "", "flag_visibility": "blind", "feeds": ""}
    card |= {"hold_pct": 0.0, "playable_misses": ""}
    assert sentence(card) == "The tee shot is a driver; 352 m; flag blind; 0 % hold the green."
    row = card | {"pin": "middle", "trouble_pct": 0.0, "total_strokes": 4.9, "tee": "back", "player": "one"}
    lines = matrix(pd.DataFrame([row | {"wind": "calm", "shot_number": 1, "from_zone": ""}]))
    assert "out of reach" in lines[-1] and "nan" not in " ".join(lines)


def test_the_shot_of_a_card_in_words(every_card) -> None:
    """What it carries and where it runs: a positive run across is to the right of the line."""
    card = every_card[every_card["shot_hazards_carried"] != ""].iloc[0].to_dict()
    card |= {"club": "driver", "carry_mean_m": 220.0, "effective_carry_m": 231.0, "shot_must_carry_m": 200.0}
    card |= {"shot_carried_pct": 96.0, "shot_run_along_m": 21.0, "shot_run_across_m": 4.0}
    card |= {
        "shot_hazards_carried": "Sea Burn",
        "shot_runs_into": "Old Pit 3 %",
        "hazards": "Old Pit 9 %; x 1 %",
    }
    assert (
        "; 1 in 11 finds Old Pit. The driver carries 220 m, playing 231 m, over Sea Burn"
        " (200 m; 96 % carry it)" in sentence(card)
    )
    assert "; it runs 21 m on and 4 m right; 3 % run into Old Pit." in sentence(card)
    assert "; it runs 23 yd on and 4 yd left; " in sentence(card | {"shot_run_across_m": -4.0}, "yd")
    assert "; it runs 21 m on; " in sentence(card | {"shot_run_across_m": -0.3})
    back = card | {"shot_run_along_m": -2.2, "shot_run_across_m": 0.0}
    assert "; it runs 2 m back; " in sentence(back)
    assert "; it stops where it lands; " in sentence(back | {"shot_run_along_m": -0.4})
    assert "; 46 % find Old Pit." in sentence(card | {"hazards": "Old Pit 46 %"})


def test_a_row_of_the_brief_is_about_the_tee_shot(site, every_card, tmp_path) -> None:
    """A zone that is ranked for a later shot too: the brief asks for its rank from the tee."""
    keys = ["tee", "player", "pin", "zone"]
    first, after = (every_card[every_card["shot_number"] == n] for n in (1, 2))
    both = first.merge(after, on=keys, suffixes=("", "_later"))
    row = both[both["rank"] != both["rank_later"]].iloc[0]
    path = tmp_path / "wishes.toml"
    fields = {"measure": "where_to_play.rank", "wind": "calm", **{k: row[k] for k in keys}}
    lines = [f'{k} = "{v}"' for k, v in fields.items()]
    path.write_text(
        "\n".join(["[[brief]]", "hole = 1", *lines, f"is_value = {int(row['rank'])}"]), encoding="utf-8"
    )
    checked = gt.brief(site, brief_file=str(path))
    assert list(checked["result"]) == ["holds"] and list(checked["rows_count"]) == [1]


def test_changes_of_later_shots_stand_by_themselves(site) -> None:
    """Rows of a comparison are told apart by the shot and where it is played from."""
    table = measure(site, "where_to_play.total_strokes", hole=1, **PLAYED)
    keys = [c for c in table.columns if c != "value"]
    assert (table["shot_number"] > 1).any() and not table.duplicated(keys).any()
