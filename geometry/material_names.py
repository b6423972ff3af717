"""Materials as people call them: Roman numerals, letters with a number, families. Common practice, no source."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable

_ROMAN = {"i": "1", "ii": "2", "iii": "3", "iv": "4", "v": "5", "vi": "6", "viii": "8", "ix": "9"}
_LETTERS = {"a": "alnico", "al": "alnico", "c": "ceramic", "n": "ndfeb"}
_FAMILIES = {
    "ferrite": "ceramic", "ceramic": "ceramic", "hard-ferrite": "ceramic", "neo": "ndfeb", "neodymium": "ndfeb",
    "ndfeb": "ndfeb", "samarium": "sm", "samarium-cobalt": "sm", "smco": "sm", "alnico": "alnico", "rare-earth": "sm",
    "mild-steel": "steel", "steel": "steel", "german-silver": "nickel-silver", "aluminum": "aluminium",
}
_NUMBERED = re.compile(r"([a-z]+?)-?(\d[\d-]*|[ivx]+)")


def materials_called(word: str, known: Iterable[str]) -> tuple[str, ...]:
    """Those of `known` that a person may mean: one that is called so, a family, or the nearest spellings; or none.

    Examples
    --------
    >>> names = ("alnico-2", "alnico-5", "ceramic-5", "ceramic-8", "ndfeb-38")
    >>> materials_called("Alnico V", names), materials_called("A5", names), materials_called("ferrite", names)
    (('alnico-5',), ('alnico-5',), ('ceramic-5', 'ceramic-8'))
    """
    names = tuple(known)
    said = re.sub(r"[\s_.]+", "-", word[:100].strip().lower())
    numbered = _NUMBERED.fullmatch(said)
    if numbered:
        family = _LETTERS.get(numbered[1], _FAMILIES.get(numbered[1], numbered[1]))
        wanted = f"{family}-{_ROMAN.get(numbered[2], numbered[2])}"
        if wanted in names:
            return (wanted,)
    if said in names:
        return (said,)
    if said in _FAMILIES:
        family = _FAMILIES[said]
        return tuple(n for n in names if n == family or re.match(rf"{family}(?![a-z]{{4}})", n))[:12]
    return tuple(difflib.get_close_matches(said, sorted(names), n=3, cutoff=0.5))
