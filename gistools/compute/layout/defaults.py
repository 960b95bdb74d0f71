"""Cautions of the steps of plan geometry; declared apart so that help is quick."""

from __future__ import annotations

SETBACK_CAUTIONS = (
    "Set-back distances are designers' practice, not a standard. Local codes, the planning authority,"
    " insurers and a licensed, qualified golf course architect decide; this flags, it never certifies.",
    "Rare wild shots reach far beyond every distance given here. Use the line players really take, not only"
    " the drawn one.",
)
