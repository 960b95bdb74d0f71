"""Names that people type: of players, winds, tees, hole locations and zones."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from gistools.base.errors import InputError

#: where more names of a kind can be given
HINTS = {
    "wind": "; add winds in the table `winds`",
    "player": "; add players in the table `players`",
}


def match_names(typed: Sequence[str] | str, known: Iterable[str], noun: str) -> tuple[str, ...]:
    """Return the known names that are meant, in the order they are typed, each once.

    A name counts in any case, and by its beginning where one name alone begins so. Names may stand in one
    text with commas between them.

    Parameters
    ----------
    typed
        One text or several.
    known
        The names there are.
    noun
        What they name, for the message: ``"player"``.

    Raises
    ------
    InputError
        Where no name begins so, or several do; the message lists them.

    Examples
    --------
    >>> match_names("back l, Front right", ["back left", "back right", "front right"], "hole location")
    ('back left', 'front right')
    """
    names = list(dict.fromkeys(known))
    texts = [typed] if isinstance(typed, str) else typed
    meant: list[str] = []
    for text in texts:
        whole = text in names or any(text.casefold() == name.casefold() for name in names)
        for part in [text] if whole else [word.strip() for word in text.split(",")]:
            meant.append(_match(part, names, noun))
    return tuple(dict.fromkeys(meant))


def match_one(typed: str, known: Iterable[str], noun: str) -> str:
    """Return the one known name that is meant; as :func:`match_names`, but of a single name.

    Raises
    ------
    InputError
        Where no name begins so, several do, or several names are typed.
    """
    meant = match_names(typed, known, noun)
    if len(meant) != 1:
        raise InputError(f"one {noun} is asked for, not {len(meant)}: {', '.join(meant)}")
    return meant[0]


def _match(word: str, names: list[str], noun: str) -> str:
    """Return the one name a word means: itself, itself in another case, or the one that begins so."""
    if word in names:
        return word
    low = word.casefold()
    same = [name for name in names if name.casefold() == low]
    begin = [name for name in names if low and name.casefold().startswith(low)]
    fitting = same or begin
    if len(fitting) == 1:
        return fitting[0]
    if fitting:
        raise InputError(f"{noun} {word!r} may be any of: {', '.join(fitting)}; type more of the name")
    hint = HINTS.get(noun, "")
    raise InputError(f"there is no {noun} {word!r}; there are: {', '.join(names) or 'none'}{hint}")
