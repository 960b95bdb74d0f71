"""Words that surveyors use for layers and fields, and numbers of holes in words.

Trade words (common practice, no source). ``check`` asks "did you mean" with them, and the
import guesses a mapping.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping

#: survey layer -> words that name it, in lower case and singular
LAYER_WORDS: dict[str, tuple[str, ...]] = {
    "tees": ("tee", "teeing area", "teeing ground", "tee box", "tee deck", "abschlag", "depart", "départ"),
    "fairway": ("fairway", "fwy", "fw", "closely mown", "spielbahn", "mown area"),
    "greens": ("green", "putting green", "putting surface", "putting area", "gruen", "grün"),
    "pins": ("pin", "flag", "hole location", "flagstick", "cup", "fahne", "drapeau"),
    "bunkers": ("bunker", "sand", "sand trap", "trap", "sand bunker", "pot bunker"),
    "burns": ("burn", "stream", "ditch", "brook", "creek", "watercourse", "drain", "waterway", "bach"),
    "water": ("water", "pond", "lake", "water hazard", "penalty area", "river", "sea", "teich", "see"),
    "mounds": ("mound", "hummock", "knoll", "dune", "berm", "hillock"),
    "trees": ("tree", "wood", "thicket", "copse", "vegetation", "scrub", "shrub", "forest", "baum"),
    "paths": ("path", "cart path", "cartpath", "buggy path", "track", "footpath", "road", "lane", "street"),
    "boundary": ("boundary", "course boundary", "out of bounds", "oob", "ob", "property line", "site limit"),
    "play_lines": ("play line", "line of play", "hole line", "centreline", "centerline", "hole"),
    "structures": ("structure", "building", "house", "shelter", "wall", "fence", "pylon", "clubhouse"),
    "zones": ("zone", "landing zone", "landing area"),
    "shapes": ("shape", "shaping", "earthwork", "grading"),
    "control": ("control", "control point", "benchmark", "station"),
    "as_built": ("as built", "asbuilt", "as constructed"),
}  # fmt: skip

#: what levels of the ground are called, by the kind of feature
TERRAIN_WORDS: dict[str, tuple[str, ...]] = {
    "contours": ("contour", "contour line", "isoline", "hoehenlinie"),
    "spot_levels": (
        "spot level",
        "spot height",
        "spot",
        "ground level",
        "ground point",
        "topo point",
        "mass point",
    ),
    "breaklines": ("breakline", "break line", "top of bank", "toe of bank", "bottom of bank", "ridge line"),
}

#: field -> names that surveyors give it, in lower case with words parted by blanks
FIELD_WORDS: dict[str, tuple[str, ...]] = {
    "hole": (
        "hole", "hole no", "hole nr", "hole number", "holeno", "holenum", "hole num", "ref", "golf hole",
        "nr", "loch", "trou", "bahn",
    ),
    "tee": ("tee", "tee set", "teeset", "colour", "color", "tee name", "tee colour", "tee color", "marker"),
    "name": ("name", "label", "title", "bezeichnung", "nom", "feature name"),
    "pin": ("pin", "position", "flag", "location", "pin name"),
    "width_m": ("width m", "width", "w", "breite", "est width"),
    "height_m": ("height m", "height", "ht", "tree height", "hoehe", "building height"),
    "crown_m": ("crown m", "crown", "crown diameter", "diameter crown", "canopy", "spread", "spread m"),
    "kind": ("kind", "type", "class", "category"),
    "stimp_ft": ("stimp ft", "stimp", "green speed"),
    "point": ("point", "point no", "pt", "pt no", "point id", "number", "id"),
    "level_m": ("level m", "level", "rl", "elevation", "elev", "z"),
}  # fmt: skip

_HOLE = re.compile(
    r"(?:hole|loch|trou|bahn|no|nr|number|h)?[\s._#-]*0*(\d{1,2})(?:st|nd|rd|th)?(?:[\s._-]*(?:hole|green|tee))?",
    re.IGNORECASE,
)


def words_of(name: str) -> str:
    """Return a name as lower-case words: parted by one blank, years and running numbers left out.

    ``Bunkers_2024`` gives ``bunkers``; ``HoleNo`` gives ``hole no``.
    """
    text = re.sub(r"([a-z])([A-Z])", r"\1 \2", name)
    text = re.sub(r"[^\w]+|_", " ", text).lower()
    return " ".join(w for w in text.split() if not w.isdigit())


def _singular(words: str) -> str:
    parts = words.split()
    if parts and len(parts[-1]) > 3 and parts[-1].endswith("s") and not parts[-1].endswith("ss"):
        parts[-1] = parts[-1][:-1]
    return " ".join(parts)


def layer_meant(name: str, among: Mapping[str, tuple[str, ...]] = LAYER_WORDS) -> tuple[str, str] | None:
    """Return the survey layer that a layer's name speaks of, and the reason in words; None for none.

    Parameters
    ----------
    name
        A name in a file.
    among
        Layers to choose from, with the words for them.
    """
    words = _singular(words_of(name))
    for layer, terms in among.items():
        if words == layer or words == _singular(layer.replace("_", " ")) or words in terms:
            return layer, f"`{name}` is a word for it"
    joined = f" {words} "
    hits = [
        (len(term), layer, term)
        for layer, terms in among.items()
        for term in terms
        if f" {term} " in joined or f" {term}s " in joined
    ]
    if hits:
        _, layer, term = max(hits)
        return layer, f"`{name}` has the word {term!r}"
    close = difflib.get_close_matches(words, [t for terms in among.values() for t in terms], 1, cutoff=0.8)
    if close:
        layer = next(k for k, terms in among.items() if close[0] in terms)
        return layer, f"`{name}` is spelt almost like {close[0]!r}"
    return None


def field_meant(field: str, names: Iterable[str]) -> tuple[str, str] | None:
    """Return the name among a file's fields that speaks of a field, and the reason; None for none."""
    by_words = {words_of(n): n for n in reversed(list(names))}
    for term in (field.replace("_", " "), *FIELD_WORDS.get(field, ())):
        if term in by_words:
            same = by_words[term].lower() == field
            return by_words[term], "same name" if same else f"`{by_words[term]}` is a word for it"
    return None


def hole_number(value: object) -> int | None:
    """Return the hole that a text names (``"7"``, ``"Hole 07"``, ``"18th hole"``), or None for none."""
    fits = _HOLE.fullmatch(str(value).strip())
    number = int(fits.group(1)) if fits else 0
    return number if 1 <= number <= 36 else None
