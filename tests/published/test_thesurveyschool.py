"""Volumes from cross sections: thesurveyschool.com, fs-5-h-volume (exam notes); what-when-how.com eq. 6.4, 6.5.

Tag of the rules: [seen]. V = L (A1 + A2) / 2 and V = L (A1 + 4 Am + A2) / 6 with Am
*measured* half-way; a pyramid is L A / 3. The solids below are [derived]: their sections are exact.
"""

from __future__ import annotations

import numpy as np
import pytest

from gistools.compute.terrain.volumes import average_end_area, prismoidal


def test_pyramid_is_a_third_of_base_times_length() -> None:
    # base 6 x 6, length 9: half-way the section is 3 x 3
    assert prismoidal([36.0, 9.0, 0.0], 4.5) == pytest.approx(9 * 36 / 3)
    assert average_end_area([36.0, 0.0], 9) == pytest.approx(162)


def test_cone_frustum() -> None:
    """R = 20, r = 10, h = 5: 3665.1914 exactly, 3926.9908 by end areas, 261.7994 too much."""
    areas = np.pi * np.array([20.0, 15.0, 10.0]) ** 2
    assert prismoidal(areas, 2.5) == pytest.approx(3665.1914, abs=5e-5)
    assert average_end_area(areas[[0, 2]], 5) == pytest.approx(3926.9908, abs=5e-5)
    assert average_end_area(areas[[0, 2]], 5) - prismoidal(areas, 2.5) == pytest.approx(261.7994, abs=5e-5)


def test_the_mean_of_the_ends_is_not_the_middle_section() -> None:
    """Taking Am = (A1 + A2) / 2 gives back the end-area answer: the slip the notes warn of."""
    ends = np.pi * np.array([20.0, 10.0]) ** 2
    wrong = prismoidal([ends[0], ends.mean(), ends[1]], 2.5)
    assert wrong == pytest.approx(average_end_area(ends, 5))
    assert wrong > 1.07 * 3665.1914


def test_prismoidal_rule_over_many_spans_is_exact_for_a_cap() -> None:
    """Sections of a sphere are a polynomial of second degree in height: V = pi h^2 (3 a - h) / 3 = 1385.4424."""
    up = np.linspace(0, 3, 9)
    areas = np.pi * (50**2 - (47 + up) ** 2)
    assert prismoidal(areas, 3 / 8) == pytest.approx(1385.4424, abs=5e-5)
