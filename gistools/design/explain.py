"""Explain the shot from one place of a hole that has been solved."""

from __future__ import annotations

from gistools.base.names import match_one
from gistools.compute.decision.explain import Explanation
from gistools.compute.decision.explain import explain as explained
from gistools.hole import HoleModel
from gistools.site.model import Site
from gistools.site.players import one_player, one_wind


def explain(
    site: Site,
    x: float,
    y: float,
    *,
    hole: int,
    pin: str,
    player: str = "scratch man",
    wind: str = "calm",
    most: int = 5,
) -> Explanation:
    """Explain the best shot from a place, and what the others cost.

    Plays the hole out first, once for each player and wind (some five to ten seconds).

    Parameters
    ----------
    site
        An open site.
    x, y
        Easting and northing of the place, in the site's CRS.
    hole
        Number of the hole.
    pin
        Name of the hole location.
    player, wind
        By name, as in the steps.
    most
        Number of shots listed.

    Returns
    -------
    Explanation
        ``reading`` in words; ``options`` with club, bearing, expected strokes and where each finishes.

    Raises
    ------
    InputError
        If there is no such hole, pin, player or wind, or no ball is played from there.
    """
    site.selected_holes(hole)
    model = HoleModel(site, hole)
    pin = match_one(pin, [p.name for p in model.pins], "hole location")
    solved = model.strokes(one_player(site, player), one_wind(site, wind))
    return explained(solved, x * site.unit_m, y * site.unit_m, pin, most=most)
