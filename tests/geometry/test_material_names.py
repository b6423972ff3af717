"""Materials as people call them."""

from __future__ import annotations

import pytest

from stringflux.geometry.material_names import materials_called
from stringflux.solver.materials import known_materials

CALLED = {
    "alnico-v": "alnico-5", "Alnico V": "alnico-5", "alnico5": "alnico-5", "ALNICO_II": "alnico-2",
    "alnico IV": "alnico-4", "alnico-viii": "alnico-8", "A5": "alnico-5", "a-3": "alnico-3", "A5-7": "alnico-5-7",
    "ceramic 8": "ceramic-8", "C8": "ceramic-8", "neo": "ndfeb-38", "Neodymium": "ndfeb-38", "N38": "ndfeb-38",
    "nickel silver": "nickel-silver", "aluminum": "aluminium", "alnco-5": "alnico-5", "alnico-5": "alnico-5",
}  # fmt: skip


@pytest.mark.parametrize("word", CALLED)
def test_one_is_meant(word: str) -> None:
    assert materials_called(word, known_materials())[0] == CALLED[word]


def test_a_family_is_told_whole() -> None:
    known = known_materials()
    assert materials_called("ferrite", known) == ("ceramic-1", "ceramic-5", "ceramic-8")
    assert materials_called("samarium cobalt", known) == ("smco-5", "sm2co17")
    assert materials_called("alnico", known) == tuple(n for n in known if n.startswith("alnico"))


@pytest.mark.parametrize("word", ["", "xyzzy", "V", "5", "x" * 5000, "alnico-xx"])
def test_nonsense_is_answered(word: str) -> None:
    assert len(materials_called(word, known_materials())) <= 3
