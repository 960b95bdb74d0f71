"""A player like another but for some figures, to see what hangs on them."""

from __future__ import annotations

import pandas as pd

from gistools.compute.ballistics.players import built_in_names
from gistools.site.model import Site
from gistools.site.players import one_player

TRIAL = "trial player"


def with_trial_player(site: Site, player: str, **figures: float) -> Site:
    """Return the site with a player called *trial player*: as another of the site, but for some figures.

    Parameters
    ----------
    site
        An open site.
    player
        Name of a built-in player, or of one of the table ``players``.
    figures
        Fields of that table: ``driver_carry_m`` [m], ``handicap``, ``direction_sd_deg`` [degrees],
        ``distance_sd_pct`` [%].

    Raises
    ------
    InputError
        If there is no such player.
    """
    table = site.layer("players")
    row = dict.fromkeys(table.columns) | {"based_on": player}
    if player not in built_in_names():
        row = table[table["player"] == player].iloc[0].to_dict()
    row |= {"player": TRIAL, "fid": int(table["fid"].max()) + 1 if len(table) else 1}
    row["driver_carry_m"] = one_player(site, player).clubs[0].carry_m
    added = pd.DataFrame([row | figures])
    return site.replace(players=pd.concat([table, added], ignore_index=True) if len(table) else added)
