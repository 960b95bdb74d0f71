"""Single values: missing or not, as JSON, in names."""

from __future__ import annotations

import json
import re

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from gistools.base.units import heading, show_area
from gistools.base.values import is_missing, json_text, json_value, slug


@pytest.mark.parametrize(
    "value", [None, np.nan, float("nan"), np.float32("nan"), pd.NA, pd.NaT, np.datetime64("NaT")]
)
def test_missing_values(value) -> None:
    assert is_missing(value)


@pytest.mark.parametrize("value", [0, 0.0, "", "nan", False, [], np.zeros(3), np.inf, shapely.Point(), {}])
def test_values_that_are_there(value) -> None:
    assert not is_missing(value)


def test_json_of_what_tables_hold() -> None:
    values = {
        1: np.int64(3),
        "a": np.array([1.0, np.nan]),
        "b": (pd.NA, True, np.inf),
        "c": pd.NaT,
        "d": np.bool_(True),
    }
    assert json_value(values) == {"1": 3, "a": [1.0, None], "b": [None, True, None], "c": None, "d": True}
    assert json_value([1.23456, {"x": 2 / 3}], 2) == [1.23, {"x": 0.67}]
    assert json.loads(json_text({"b": np.nan, "a": "é"})) == {"a": "é", "b": None}


def test_names_for_tables_and_files() -> None:
    assert slug("Überhang") == "uberhang" and slug("Jörg  (Links)") == "jorg_links"
    assert slug("") == "x" and slug("--", "result") == "result"
    assert slug("北") != slug("南"), "names of another script stay apart"


@given(st.text())
def test_a_slug_is_never_a_path(text: str) -> None:
    assert re.fullmatch(r"[a-z0-9][a-z0-9_]*", slug(text))


def test_areas_and_volumes_in_yards_are_square_and_cubic() -> None:
    """A yard is 0.9144 m (International Yard and Pound Agreement, 1959)."""
    words, factor, _ = heading("feed_area_m2", "m2", "yd")
    assert words == "feed area [yd²]" and 100.0 * factor == pytest.approx(119.599, abs=0.001)
    words, factor, _ = heading("cut_m3", "m3", "yd")
    assert words == "cut [yd³]" and 100.0 * factor == pytest.approx(130.795, abs=0.001)
    assert heading("feed_area_m2", "m2", "m")[:2] == ("feed area [m²]", 1.0)
    assert [show_area(100.0, units) for units in ("m", "yd")] == ["100 m²", "120 yd²"]
