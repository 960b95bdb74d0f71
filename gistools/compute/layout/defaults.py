"""Distances and cautions the steps of plan geometry start from; declared apart so that help is quick."""

from __future__ import annotations

SNAP_M = 15.0  # assumption: a drawn line that begins nearer than this to a tee is meant to begin there
TURN_SHARE = 0.5  # assumption: see gistools.compute.layout.lines_of_play

SETBACK_CAUTIONS = (
    "Set-back distances are designers' practice, not a standard. Local codes, the planning authority,"
    " insurers and a licensed, qualified golf course architect decide; this flags, it never certifies.",
    "Rare wild shots reach far beyond every distance given here. Use the line players really take, not only"
    " the drawn one.",
)
