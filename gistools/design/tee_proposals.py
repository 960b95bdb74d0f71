"""Where a tee should stand so that its player meets the same shot as another from another tee.

The same shot is the same share of the player's longest carry: a forced carry of 72 % of the drive of one is
72 % of the drive of the other. Carries of the built-in players are those of the model players of course
rating and of fits to published strokes (:mod:`gistools.compute.ballistics.players`); that equal shares make
equal shots is a designer's rule [common practice, no source].
"""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
from shapely.geometry import Point

from gistools.base.names import match_one
from gistools.base.units import show_length
from gistools.compute.ballistics.players import Player
from gistools.compute.layout.alignment import Alignment
from gistools.compute.terrain.slopes import fitted_at
from gistools.design.zone_totals import hole_of
from gistools.hole import HoleModel
from gistools.site.model import Site
from gistools.site.players import one_player, players_of
from gistools.steps.catalogue import need

#: hazards farther off than this share of the drive are not the tee shot's (assumption)
FARTHEST_SHARE = 1.1
#: disk that the fall of the ground at a proposed tee is fitted to [m]
FALL_RADIUS_M = 5.0
WHOLE_HOLE = "length of the hole"


def propose_tees(
    site: Site,
    *,
    hole: int | None = None,
    players: tuple[str, ...] | None = None,
    like: str = "scratch man",
    from_tee: str = "",
    units: str = "m",
) -> gpd.GeoDataFrame:
    """Propose where the tees of other players should stand so that they meet the shot of one player.

    For each hazard that ``like`` has to carry on the line of play from ``from_tee``, and for the length of
    the hole, the place on the line of play from which it asks the same share of the player's drive. Nothing
    is played out and nothing written.

    Parameters
    ----------
    site
        An open site.
    hole
        Number of the hole; not needed where there is one.
    players
        For whom; by default those the site is studied for, but ``like``.
    like, from_tee
        Whose shot, from which tee; the longest tee by default.
    units
        Lengths of the readings in ``"m"`` or ``"yd"``.

    Returns
    -------
    GeoDataFrame
        Points in the CRS of the site: `basis` (the hazard, or the length of the hole), `share_pct` of the
        drive asked, `chainage_m` along the line of play from ``from_tee``, `carry_m` over the hazard,
        `length_m` of the hole from there, `fall_pct` of the ground, the existing tee that comes nearest with
        its share, a reading, and `easting` and `northing` in the unit of the site.

    Raises
    ------
    InputError
        If hole, tee or player is unknown.
    """
    model = hole_of(site, hole)
    names = [t.name for t in model.tees_by_length]
    tee_name = match_one(from_tee, names, "tee") if from_tee else names[0]
    reference = one_player(site, like)
    others = [p for p in players_of(site, players) if p.name != reference.name]
    tee = next(t for t in model.tees if t.name == tee_name)
    line = Alignment(np.asarray(tee.line))
    carries = need(site, "carries", hole=model.number)["carries"]
    forced = _carries_on_line(carries, reference)
    lengths = {t.name: Alignment(np.asarray(t.line)).length for t in model.tees}
    rows = []
    for player in others:
        drives = float(player.clubs[0].carry_m), float(reference.clubs[0].carry_m)
        for row in forced[forced["tee"] == tee_name].to_dict("records"):
            share = row["carry_m"] / drives[1]
            chainage = float(row["chainage_m"]) - share * drives[0]
            same = (carries["feature"] == row["feature"]) & (carries["crossing"] == row["crossing"])
            here = carries[same & (carries["line"] == "on line")]
            shares = {t: c / drives[0] for t, c in zip(here["tee"], here["carry_m"], strict=True)}
            over = str(row["feature"])
            rows.append(_row(model, tee_name, line, player, over, share, chainage, shares, units))
        share = line.length / drives[1]
        shares = {t: length / drives[0] for t, length in lengths.items()}
        chainage = line.length - share * drives[0]
        rows.append(_row(model, tee_name, line, player, WHOLE_HOLE, share, chainage, shares, units))
    key = {"hole": model.number, "like": reference.name, "from_tee": tee_name}
    table = gpd.GeoDataFrame([key | row for row in rows], geometry="geometry", crs=site.crs_metric)
    table = site.to_output_crs(table)
    table["easting"], table["northing"] = table.geometry.x, table.geometry.y
    return table


def _carries_on_line(carries: Any, reference: Player) -> Any:
    """Return the carries on the line of play that are the tee shot's."""
    drive = float(reference.clubs[0].carry_m)
    on_line = carries[(carries["line"] == "on line") & (carries["layer"] != "fairway")]
    return on_line[on_line["carry_m"] <= FARTHEST_SHARE * drive]


def _row(
    model: HoleModel,
    tee: str,
    line: Alignment,
    player: Player,
    basis: str,
    share: float,
    chainage: float,
    shares: dict[str, float],
    units: str,
) -> dict[str, Any]:
    """Return the row of one proposal."""
    place = line.at(chainage) if 0 <= chainage <= line.length else _beyond(line, chainage)
    nearest = min(shares, key=lambda t: abs(shares[t] - share))
    surface = model.surface_or_none
    p, q = (np.nan, np.nan) if surface is None else fitted_at(surface, place[0], place[1], FALL_RADIUS_M)[:2]
    whole = basis == WHOLE_HOLE

    def words(figure: float) -> str:
        return f"{figure:.2f} drives" if whole else f"{100 * figure:.0f} % of the drive"

    away = show_length(abs(chainage), units)
    side = "in front of" if chainage >= 0 else "behind"
    return {
        "player": player.name,
        "basis": basis,
        "share_pct": 100 * share,
        "chainage_m": chainage,
        "carry_m": np.nan if whole else share * float(player.clubs[0].carry_m),
        "length_m": line.length - chainage,
        "fall_pct": 100 * float(np.hypot(p, q)),
        "nearest_tee": nearest,
        "nearest_share_pct": 100 * shares[nearest],
        "reading": (
            f"{player.name}: {'the hole' if whole else basis} asks {words(share)} from a tee {away} {side}"
            f" the {tee} tee; from the {nearest} tee, which comes nearest, it asks {words(shares[nearest])}"
        ),
        "geometry": Point(place),
    }


def _beyond(line: Alignment, chainage: float) -> Any:
    """Return a place on the first or last leg drawn on beyond its end."""
    if chainage < 0:
        return line.points[0] + chainage * line.legs[0]
    return line.points[-1] + (chainage - line.length) * line.legs[-1]
