"""Kinds of ground a ball can land on or be played from, as small whole numbers for arrays."""

from __future__ import annotations

from enum import IntEnum


class Kind(IntEnum):
    """What covers the ground in one cell. Stored as ``uint8``."""

    ROUGH = 0
    FAIRWAY = 1
    GREEN = 2
    TEE = 3
    SAND = 4
    WATER = 5
    PATH = 6
    TREES = 7
    OUT = 8
    OFF_MAP = 255


KIND_NAMES: dict[int, str] = {
    Kind.ROUGH: "rough",
    Kind.FAIRWAY: "fairway",
    Kind.GREEN: "green",
    Kind.TEE: "tee",
    Kind.SAND: "sand",
    Kind.WATER: "water",
    Kind.PATH: "path",
    Kind.TREES: "trees",
    Kind.OUT: "out of bounds",
    Kind.OFF_MAP: "off the map",
}
