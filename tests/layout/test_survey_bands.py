"""Bands that survey errors give, against draws of those errors (a second way of computing)."""

from __future__ import annotations

import dataclasses

import geopandas as gpd
import numpy as np
import pytest
from shapely import LineString
from shapely.affinity import translate

import gistools as gt
from gistools.compute.layout import survey_bands as bands
from gistools.compute.terrain.surface import Surface
from gistools.site.types import ArrayTerrain

DRAWS = 400


def half_of_95(values: np.ndarray) -> float:
    return float(np.quantile(np.abs(values - values.mean()), 0.95))


def test_without_a_stated_error_there_is_no_band(straight_site):
    assert gt.carries(straight_site)["carries"]["carry_band_m"].isna().all()
    assert gt.slopes(straight_site)["pin_slopes"]["slope_band_pct"].isna().all()
    assert gt.flag_views(straight_site, hole=1)["sightlines"]["flag_seen_band_pct"].isna().all()


def test_carry_bands_are_those_of_moved_hazards(straight_site):
    """The diagonal burn at 45 degrees: its carry moves by both parts of the error."""
    site = straight_site.with_settings(plan_error_m=0.5)
    row = gt.carries(site)["carries"].query("feature == 'Test Burn' and line == 'on line'").iloc[0]
    draw = np.random.default_rng(4)
    carries = []
    for dx, dy in draw.normal(0, 0.5 * np.sqrt(2), (60, 2)):
        burns = site.layer("burns").copy()
        burns["geometry"] = [translate(g, dx, dy) for g in burns.geometry]
        table = gt.carries(straight_site.replace(burns=burns))["carries"]
        carries.append(table.query("feature == 'Test Burn' and line == 'on line'")["carry_m"].iloc[0])
    assert row["carry_band_m"] == pytest.approx(1.96 * np.std(carries), rel=0.2)
    assert row["carry_band_m"] == pytest.approx(1.96 * 0.5 * np.sqrt(2) * np.sqrt(2), rel=0.02), "45 degrees"


def test_slope_band_of_a_plane_in_noise():
    """Slopes of least-squares planes through levels with noise, drawn 400 times."""
    cell, radius, error = 0.5, 2.5, 0.02
    reach = np.arange(-6, 7) * cell
    x, y = (v.ravel() for v in np.meshgrid(reach, reach))
    inside = x**2 + y**2 <= radius**2
    frame = np.column_stack([x[inside], y[inside], np.ones(inside.sum())])
    draw = np.random.default_rng(1)
    slopes = [
        np.linalg.lstsq(frame, draw.normal(0, error, len(frame)), rcond=None)[0][0] for _ in range(DRAWS)
    ]
    assert bands.slope_band_pct(error, radius, cell) == pytest.approx(
        100 * half_of_95(np.array(slopes)), rel=0.15
    )


def test_the_slope_step_agrees_with_noise_on_its_ground(straight_site):
    """Noise of 2 cm on the terrain: the east part of the slope round a pin spreads as the band says."""
    error = 0.02
    row = gt.slopes(straight_site.with_settings(level_error_m=error), hole=1)["pin_slopes"].iloc[0]
    s = straight_site.surface()
    parts = []
    for seed in range(80):
        z = s.z + np.random.default_rng(seed).normal(0, error, s.z.shape)
        noisy = dataclasses.replace(
            straight_site, ground=ArrayTerrain(Surface(z, s.x_west, s.y_north, s.cell)), memo={}
        )
        pin = gt.slopes(noisy, hole=1)["pin_slopes"].iloc[0]
        parts.append(pin["slope_pct"] * np.sin(np.deg2rad(pin["falls_to_deg"])))
    assert row["slope_band_pct"] == pytest.approx(1.96 * np.std(parts), rel=0.35)


def test_sight_over_a_crest():
    """Eye, crest and foot of the flag each in error, drawn 4000 times, crest at two thirds of the way."""
    t, error, stick = 2 / 3, 0.05, 2.13
    eye, crest, foot = np.random.default_rng(2).normal(0, error, (3, 4000))
    lowest = eye + (crest - eye) / t - foot
    assert bands.seen_band_pct(error, t, stick) == pytest.approx(100 * half_of_95(lowest) / stick, rel=0.05)
    assert np.isnan(bands.seen_band_pct(error, np.nan, stick))
    assert bands.seen_band_pct(5.0, 0.5, stick) == 100.0


def test_separations_between_two_places_in_error(straight_site):
    a, b = np.random.default_rng(3).normal(0, 0.3, (2, 20_000))
    assert bands.distance_band_m(0.3) == pytest.approx(half_of_95(a - b), rel=0.03)
    way = gpd.GeoDataFrame(
        {"fid": [1], "hole": [None], "name": ["Way"], "kind": ["public"], "width_m": [2.0]},
        geometry=[LineString([(25, 0), (25, 300)])],
        crs=straight_site.crs_metric,
    )
    site = straight_site.replace(paths=way).with_settings(plan_error_m=0.3)
    conflicts = gt.setbacks(site)["setback_conflicts"]
    assert (
        len(conflicts)
        and conflicts["separation_band_m"].round(3).eq(round(bands.distance_band_m(0.3), 3)).all()
    )
