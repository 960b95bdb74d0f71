"""The rows a desktop shows first: one tee, player, wind and hole location, asked of the file by SQL."""

from __future__ import annotations

import sqlite3

import pandas as pd
import pytest

from gistools.sheets.shown_first import filter_of, shown_first

CARDS = [
    {"hole": h, "tee": tee, "player": player, "wind": wind, "pin": f"{pin} {h}", "shot_number": shot}
    for h in (1, 3)
    for tee in ("back", "forward")
    for player in ("long O'Hara", "short")
    for wind in ("Prevailing west", "calm")
    for pin in ("front", "back")
    for shot in (1, 2)
]


def shown(rows: list[dict[str, object]]) -> tuple[pd.DataFrame, str]:
    """Return the rows that the condition leaves, asked of SQLite as the desktop does, and its words."""
    condition, words = filter_of(rows)
    with sqlite3.connect(":memory:") as link:
        pd.DataFrame(rows).to_sql("layer", link)
        return pd.read_sql(f"select * from layer where {condition or 'true'}", link), words


def test_one_of_each_is_shown_the_first_of_the_layer() -> None:
    left, words = shown(CARDS)
    assert len(left) == 2 and set(left["hole"]) == {1, 3}
    assert set(left["tee"]) == {"back"} and set(left["player"]) == {"long O'Hara"}
    assert set(left["wind"]) == {"Prevailing west"} and set(left["shot_number"]) == {1}
    assert list(left["pin"]) == ["front 1", "front 3"]
    assert words == "back tee, long O'Hara, Prevailing west"


def test_rows_about_no_tee_stay() -> None:
    left, _ = shown(
        [*CARDS, *({**CARDS[0], "tee": empty, "wind": "Prevailing west"} for empty in ("", None))]
    )
    assert len(left) == 4


@pytest.mark.parametrize(
    "rows",
    [
        [{"hole": 1, "pin": "front"}, {"hole": 1, "pin": "back"}],  # the layer is about its hole locations
        [{"hole": 1, "tee": "back", "feature": f} for f in ("burn", "bunker")],  # nothing to choose
        [],
    ],
)
def test_layers_without_a_choice_are_shown_whole(rows) -> None:
    assert filter_of(rows) == ("", "")


def test_layers_of_a_file(tmp_path) -> None:
    import gistools as gt
    from gistools.site.sample import write_sample

    path = write_sample(tmp_path / "m.gpkg")
    site = gt.open_site(path)
    site.write([gt.carries(site), gt.lengths(site), gt.zones(site)])
    first = {table: (condition, words) for table, condition, words in shown_first(path)}
    assert set(first) == {"study_carries", "study_carry_fan", "study_zone_carries"}  # lengths are of tees
    condition, words = first["study_carries"]
    assert words == "back tee"
    with sqlite3.connect(path) as link:
        tees = link.execute(f"SELECT DISTINCT hole, tee FROM study_carries WHERE {condition}").fetchall()
    assert sorted(tees) == [(1, "back"), (2, "back"), (3, "back")]
