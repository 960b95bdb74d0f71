"""Staking lists of a hole: features in an order to walk them, and their points with what each stake says."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from gistools.compute.layout.setting_out import walking_order
from gistools.compute.terrain.shaping import TOUCHED_M
from gistools.handoff.frame import Frame


def staking_lists(stakes: pd.DataFrame, frame: Frame) -> dict[str, pd.DataFrame]:
    """Return the list of features and the list of points, both in the order they are walked.

    The walk starts on the line of play at the tee and goes on to whatever feature is nearest; outlines begin
    at the point that is nearest then. Coordinates, levels and distances are in file units.

    Parameters
    ----------
    stakes
        Points of a hole, as the step ``setting_out`` lists them, in metres.
    frame
        Turns metres into file units.

    Returns
    -------
    dict
        ``Walk``: a row for each feature; ``Stakes``: a row for each point.
    """
    xy = np.column_stack([stakes.geometry.x, stakes.geometry.y])
    order = walking_order(xy, stakes["polyline_id"].to_numpy(), stakes["closed"].to_numpy(bool))
    walked = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy[order], axis=0).T))])
    rows = stakes.iloc[order]
    new = rows["polyline_id"].to_numpy() != rows["polyline_id"].shift().to_numpy()
    unit = f"[{frame.unit}]"

    def out(values: Any) -> Any:
        return np.round(frame.out(values), 3)

    points = pd.DataFrame(
        {
            "feature no.": np.cumsum(new),
            "feature": rows["feature"].to_numpy(),
            "code": rows["code"].to_numpy(),
            "point": rows["point"].to_numpy(),
            "number": rows["number"].to_numpy(),
            f"northing {unit}": out(rows.geometry.y),
            f"easting {unit}": out(rows.geometry.x),
            f"existing level {unit}": out(rows["existing_level_m"]),
            f"proposed level {unit}": out(rows["proposed_level_m"]),
            "stake says": [_cut_or_fill(v, frame) for v in rows["cut_fill_m"]],
            f"chainage {unit}": out(rows["chainage_m"]),
            f"offset {unit}": out(rows["offset_m"]),
            f"walked {unit}": np.round(frame.out(walked)).astype(int),
        }
    )
    meanings = rows.groupby("code")["meaning"].first()
    features = points.groupby("feature no.").agg(
        {"feature": "first", "code": "first", "point": ["size", "first", "last"], f"walked {unit}": "first"}
    )
    features.columns = pd.Index(["feature", "code", "points", "first", "last", f"walked to it {unit}"])
    features.insert(2, "meaning", [str(meanings[code]) for code in features["code"]])
    return {"Walk": features.reset_index(), "Stakes": points}


def _cut_or_fill(metres: float, frame: Frame) -> str:
    """Return what is written on a stake: cut or fill to the proposed level."""
    if not np.isfinite(metres):
        return ""
    if abs(metres) < TOUCHED_M:
        return "as it is"
    return f"{'fill' if metres > 0 else 'cut'} {abs(float(frame.out(metres))):.2f}"
