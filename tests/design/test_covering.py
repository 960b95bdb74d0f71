"""Edits that put a feature on a green, a tee or a hole location are refused before anything is played."""

from __future__ import annotations

import pytest

from gistools.base.errors import InputError
from gistools.design import search, search_variants
from gistools.design.edits import apply_edits
from gistools.site.sample import sample_site

KNOWE = {"action": "move", "feature": "Haar Knowe", "hole": 1}
BURDOCK = {"action": "move", "feature": "Burdock", "hole": 1}


@pytest.fixture(scope="module")
def site():
    return sample_site()


@pytest.mark.parametrize(
    ("edit", "message"),
    [
        (KNOWE | {"across_m": 8.0}, "edit 1, move Haar Knowe: 'Haar Knowe' would lie on the green 'Haar'"),
        (BURDOCK | {"across_m": -6.0}, "'Burdock' would lie on the green 'Haar', on 3 % of it"),
        (
            {"action": "add", "layer": "trees", "feature": "oak", "hole": 1, "along_m": 0.0},
            "'oak' would lie on the tee 'back', on less than 1 % of it",
        ),
        (
            {"action": "add", "layer": "pins", "feature": "new", "hole": 1, "along_m": 342, "across_m": 16},
            "'Burdock' would lie on the hole location 'new'",
        ),
        (
            {"action": "move", "feature": "Haar", "layer": "greens", "hole": 1, "along_m": 14.0},
            "'Wrack' would lie on the green 'Haar'",
        ),
    ],
    ids=["mound", "bunker", "tree", "hole location", "green"],
)
def test_features_on_greens_tees_and_pins_are_refused(site, edit, message) -> None:
    with pytest.raises(InputError) as error:
        apply_edits(site, [edit])
    assert message in str(error.value)


@pytest.mark.parametrize(
    "edit",
    [
        KNOWE | {"across_m": 3.0},  # its foot raises the edge of the green by 0.2 m
        KNOWE | {"along_m": -12.0},
        {"action": "lower", "feature": "Haar", "rise_m": 0.5},  # with the foot of the mound on it
        BURDOCK | {"across_m": 3.0},
        {"action": "move", "feature": "back right", "layer": "pins", "hole": 1, "along_m": 1.0},
    ],
)
def test_features_that_stay_beside_are_not_refused(site, edit) -> None:
    apply_edits(site, [edit])


def test_the_share_is_that_of_the_outlines(site) -> None:
    """Beside shapely on the outlines moved by hand."""
    from shapely.affinity import translate

    from gistools.hole import HoleModel

    (x0, y0), (x1, y1) = HoleModel(site, 1).tees_by_length[0].line[-2:]
    length = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
    right = (y1 - y0) / length, -(x1 - x0) / length
    green = site.layer("greens").set_index("name").geometry.loc["Haar"]
    bunker = site.layer("bunkers").set_index("name").geometry.loc["Burdock"]
    moved = translate(bunker, *(-9.0 * r for r in right))
    share = 100.0 * moved.intersection(green).area / green.area
    assert share > 3.0
    with pytest.raises(InputError, match=f"on {share:.0f} % of it"):
        apply_edits(site, [BURDOCK | {"across_m": -9.0}])


def test_a_search_does_not_play_such_variants(site, monkeypatch) -> None:
    """Named with their figures in the answer; no margin is asked of one."""
    played: list[float] = []

    def margin(candidate, *_, **__):
        centre = [
            s.layer("bunkers").set_index("name").geometry.loc["Burdock"].centroid for s in (site, candidate)
        ]
        away = centre[0].distance(centre[1])
        played.append(away)
        return away - 1.0

    monkeypatch.setattr(search_variants, "first_margin", margin)
    result = search.search_edits(site, [BURDOCK | {"across_m": [-12.0, 3.0]}], first="any", pin="any", hole=1)
    assert result.holds and result.refused and max(played) < 6.0
    assert all(result.tried["margin"].iloc[row] == search_variants.FAR_OUTSIDE for row, _ in result.refused)
    assert "edit 1, move Burdock: 'Burdock' would lie on the green 'Haar'" in result.refused[0][1]
    assert f"{len(result.refused)} of them could not be made or played; with 1.across -" in repr(result)
    assert (result.tried["margin"] == search_variants.FAR_OUTSIDE).sum() == len(result.refused)
