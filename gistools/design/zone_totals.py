"""Expected scores over each landing zone, of one tee, player and wind."""

from __future__ import annotations

from gistools.base.errors import InputError
from gistools.base.names import match_one
from gistools.hole import HoleModel
from gistools.site.model import Site
from gistools.site.players import one_player, one_wind
from gistools.steps.zone_choices import best_at_zones


def hole_of(site: Site, hole: int | None) -> HoleModel:
    """Return the hole that is meant: its number, or the only one of the site.

    Raises
    ------
    InputError
        If the site has several and none is named.
    """
    numbers = site.selected_holes(hole)
    if len(numbers) != 1:
        raise InputError("say of which hole: hole=1 (--hole 1)")
    return HoleModel(site, numbers[0])


def asked_of(
    site: Site, hole: int | None, tee: str, player: str, wind: str
) -> tuple[HoleModel, str, str, str]:
    """Return the hole, and the names of the tee (the longest by default), player and wind that are meant.

    Raises
    ------
    InputError
        If one of them is unknown.
    """
    model = hole_of(site, hole)
    tees = [t.name for t in model.tees_by_length]
    name = match_one(tee, tees, "tee") if tee else tees[0]
    return model, name, one_player(site, player).name, one_wind(site, wind).name


def on_coarse_mesh(site: Site, cell_m: float) -> Site:
    """Return the site with cells of its mesh no smaller than ``cell_m`` [m]."""
    return site.with_settings(mesh_cell_m=max(cell_m, site.settings.get("mesh_cell_m", 0.0)))


def zone_totals(
    site: Site, hole: int | None, tee: str = "", player: str = "scratch man", wind: str = "calm"
) -> dict[str, dict[str, float]]:
    """Return hole location to landing zone to expected score; zones out of reach are left out.

    Parameters
    ----------
    site
        An open site.
    hole, tee
        Where from; the longest tee by default.
    player, wind
        By name.

    Raises
    ------
    InputError
        If the hole, tee, player or wind is unknown.
    """
    model = hole_of(site, hole)
    tees = {t.name: t for t in model.tees}
    from_tee = tees[match_one(tee, tees, "tee")] if tee else model.tees_by_length[0]
    who, air = one_player(site, player), one_wind(site, wind)
    names = [zone.zone for zone in model.zones]
    totals: dict[str, dict[str, float]] = {pin: {} for pin in model.strokes(who, air).pins}
    for choice in best_at_zones(model, from_tee, who, air):
        totals[list(totals)[choice.pin]][names[choice.zone]] = choice.total
    return totals
