"""Names of player, tee and wind on the board stay clear of the figures beside them."""

from __future__ import annotations

import pandas as pd
import pytest

from gistools.sheets.drawings import board
from gistools.sheets.drawings.labels import Labels
from gistools.sheets.drawings.paper import Box, Sheet


@pytest.mark.parametrize("wind", ["calm", "prevailing", "prevailing in autumn"])
def test_names_end_before_the_first_figure(monkeypatch: pytest.MonkeyPatch, wind: str) -> None:
    lines = [["player, tee, wind", "front"], *([f"10-handicap man, forward, {wind}", "3=4: 4.45"],) * 3]
    monkeypatch.setattr(board, "by_player", lambda *_: ("First zones", lines))
    sheet = Sheet("A3")
    rows = pd.DataFrame({"zone": ["beyond left"], "wind": [wind]})
    board._by_player(sheet, Box(150.0, 60.0, 240.0, 60.0), rows, "m")
    measure = Labels(sheet)._renderer
    texts = [t for axes in sheet.figure.axes for t in axes.texts] + list(sheet.figure.texts)
    ends = [t.get_window_extent(measure).x1 for t in texts if "handicap" in t.get_text()]
    starts = [t.get_window_extent(measure).x0 for t in texts if t.get_text() == "3=4: 4.45"]
    assert len(ends) == len(starts) == 3
    assert max(ends) < min(starts)
