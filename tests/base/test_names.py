"""Typed names: any case, unique beginnings, commas; the unknown and the ambiguous are refused with a list."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gistools.base.errors import InputError
from gistools.base.names import match_names

PINS = ["back left", "back right", "front right", "front"]


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("back left", ("back left",)),
        ("BACK L", ("back left",)),
        ("front", ("front",)),
        ("front r, back left", ("front right", "back left")),
        (["Front R", "back r,back left", "front right"], ("front right", "back right", "back left")),
    ],
)
def test_names_are_matched(typed: list[str] | str, meant: tuple[str, ...]) -> None:
    assert match_names(typed, PINS, "hole location") == meant


def test_ambiguous_beginning_of_a_name_lists_the_names() -> None:
    with pytest.raises(InputError, match=r"'back' may be any of: back left, back right; type more"):
        match_names("back", PINS, "hole location")


@pytest.mark.parametrize("typed", ["left", "", "back left,", "front rights"])
def test_an_unknown_name_is_refused_with_the_list(typed: str) -> None:
    with pytest.raises(InputError, match=r"there is no hole location .*; there are: back left, back right"):
        match_names(typed, PINS, "hole location")


def test_a_name_that_holds_a_comma_can_be_typed_whole() -> None:
    assert match_names("Ann, 12", ["Ann, 12", "Bert"], "player") == ("Ann, 12",)


def test_a_name_with_a_space_at_its_end_means_itself() -> None:
    assert match_names(["Ann ", "Bert"], ["Ann ", "Bert"], "player") == ("Ann ", "Bert")


def test_names_that_differ_in_case_alone_are_told_apart() -> None:
    assert match_names("Ann", ["ann", "Ann"], "player") == ("Ann",)
    with pytest.raises(InputError, match="may be any of: ann, Ann"):
        match_names("ANN", ["ann", "Ann"], "player")


@given(st.lists(st.text("abc ", min_size=1).map(str.strip).filter(bool), min_size=1, unique=True))
def test_every_name_typed_whole_means_itself(names: list[str]) -> None:
    assert match_names(names, names, "zone") == tuple(names)
