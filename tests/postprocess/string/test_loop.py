"""Strings whose metal remembers: the limit of no pinning, a trial apart from the program, steps, energy, rooms."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np
import pytest

from rigs.source_tree import CLOSE_BASS
from stringflux.cases import load_case, solve
from stringflux.geometry.errors import CaseError
from stringflux.geometry.shapes.row import StringShape
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.linkage import rest_model, rest_slopes
from stringflux.postprocess.string.loop import COARSE, Steps, SwungString
from stringflux.postprocess.string.magnetisation import Layer
from stringflux.postprocess.string.together import swing_together
from stringflux.postprocess.string.wrap import WrapLaw
from stringflux.solver.materials import StringSteel, is_magnet
from stringflux.solver.seam import StringField

pytestmark = pytest.mark.usefixtures("shared_solutions")

PINNING = 1200.0


@lru_cache
def over(name: str, string: int = 0, gap: str = "", quality: str = "draft",  # type: ignore[no-untyped-def]
         tried: bool = False):
    pickup = solve(load_case(name), quality=quality)
    if tried:  # the trial's magnet: a signal met its recoil line, and 3 across
        pickup.solved.__dict__["materials"] = {
            n: replace(m, mu_reversible=m.mu_recoil, mu_transverse=3.0) if is_magnet(m) else m
            for n, m in pickup.solved.materials.items()}
    if gap:
        pickup = pickup.with_({f"string.{string + 1}.gap": gap})
    solved = pickup.solved
    shape = solved.strings[string].shape
    return solved.solution().field, shape, layers_of(shape, solved.materials)


def placed(field: StringField, shape: StringShape, layers, pinning: float | None = PINNING,  # type: ignore[no-untyped-def]
           **more: object) -> SwungString:
    """Core and wrap held alike; None: as the table has it."""
    if pinning is not None:
        layers = tuple(_pinned(layer, pinning) for layer in layers)
    return SwungString(field, shape, layers, **more)  # type: ignore[arg-type]


def _pinned(layer: Layer, pinning: float) -> Layer:
    return _metal(layer, pinning=pinning)


def _metal(layer: Layer, softer: float = 1.0, **changes: Any) -> Layer:
    """Of another metal, with so much of its initial susceptibility and of a wrap's gaps."""
    law = layer.law
    if isinstance(law, WrapLaw):
        metal = replace(law.metal, chi_initial=softer * law.metal.chi_initial, **changes)
        return replace(layer, law=replace(law, metal=metal, gap_factor=softer * law.gap_factor))
    assert isinstance(law, StringSteel)
    return replace(layer, law=replace(law, chi_initial=softer * law.chi_initial, **changes))


@pytest.mark.parametrize(("name", "string", "gap"), [("bench-single", 0, ""), (CLOSE_BASS, 2, ""),
                                                      ("bench-single", 0, "0.5 mm")])
def test_no_pinning_is_the_static_curve(name: str, string: int, gap: str) -> None:
    """λ on the way, of a plain string, one with a nickel wrap and one close to its pole."""
    field, shape, layers = over(name, string, gap)
    string_placed = placed(field, shape, layers, 1e-9, steps=Steps(settled=1e-6))
    moved = np.linspace(-0.9, 1.0, 6) * string_placed.reach
    static = string_placed.model.at(np.full(6, shape.y), shape.axis_height + moved).linkage
    np.testing.assert_allclose(string_placed.along(moved), static, rtol=0, atol=1e-6 * np.max(np.abs(static)))
    slope = abs(rest_slopes(rest_model(field, shape, layers)).z)
    assert string_placed.loop(5e-6).sensitivity == pytest.approx(slope, rel=1e-4)  # S falls off as A²


@pytest.mark.parametrize(("name", "string"), [("bench-single", 0), (CLOSE_BASS, 2)])
def test_strings_side_by_side_come_to_what_they_come_to_alone(name: str, string: int) -> None:
    """At two heights, and of two metals that go shorter ways, one of them hardly held."""
    field, shape, layers = over(name, string)

    def several() -> list[SwungString]:
        first = placed(field, shape, layers)
        ends = [tuple(_metal(layer, softer=part, pinning=pinning) for layer in layers)
                for part, pinning in ((1.0, 300.0), (0.8, 1800.0))]
        return [first, first.of(ends[0], COARSE), first.above(), first.of(ends[1], COARSE)]

    together, alone = several(), several()
    swing_together(together)
    assert all(s.swung for s in together)
    assert len({s.light().sensitivity for s in together}) == 4
    for a, b in zip(together, alone, strict=True):
        assert not b.swung
        np.testing.assert_allclose(a.light().linkage, b.light().linkage, rtol=1e-9)
        assert a.light().heat == pytest.approx(b.light().heat, rel=1e-6)
        assert a.loop(0.05e-3).sensitivity == pytest.approx(b.loop(0.05e-3).sensitivity, rel=1e-7)
        assert a.pulled()[1] == pytest.approx(b.pulled()[1], rel=1e-6)


def test_metals_of_other_laws_go_alone() -> None:
    field, shape, layers = over("bench-single")
    first = placed(field, shape, layers)
    other = first.of(tuple(_metal(layer, law="frohlich") for layer in layers))
    swing_together([first, other])
    assert not first.swung
    assert other.light().sensitivity != pytest.approx(first.light().sensitivity, rel=1e-3)


def test_a_trial_apart_from_the_program() -> None:
    """χ 700, κ 1200 A/m, w₀ 0.13: S at 0.02, 0.1 and 1 mm, mV per m/s. The trial leaves the pole's answer out, and
    its own steps move it by up to 1 %."""
    loops = [placed(*over("bench-single", quality="normal", tried=True)).loop(a) for a in (0.02e-3, 0.1e-3, 1e-3)]
    np.testing.assert_allclose([1e3 * loop.sensitivity for loop in loops], [55.2, 55.6, 60.0], rtol=0.02)
    assert 0 < np.degrees(loops[1].lag) < 2.5


ROWS = [("bench-single", 1), ("baritone-six", 6), (CLOSE_BASS, 4), ("lap-steel-eight", 8)]


@pytest.mark.parametrize(("name", "string"), [(name, i) for name, strings in ROWS for i in range(strings)])
def test_steps_of_the_way(name: str, string: int) -> None:
    """Every string of the shipped rows, of its own metal: steps halved, and shares doubled."""
    once = placed(*over(name, string), pinning=None)
    s = once.light().sensitivity
    assert s == pytest.approx(_cut(once, 13, Steps().halved), rel=5e-4)
    assert s == pytest.approx(_cut(once, 26, Steps()), rel=7e-4)
    assert s == pytest.approx(_cut(once, 13, COARSE), rel=2e-3)


def _cut(string: SwungString, cells: int, steps: Steps) -> float:
    """S of the same string, its metal in so many shares, in other steps."""
    other = string.of((), steps)
    other.layers = tuple(replace(layer, memory=replace(layer.memory, cells=cells))  # type: ignore[type-var]
                         for layer in string.layers)
    return other.light().sensitivity


def test_it_does_not_matter_to_which_side_a_string_is_shaken_first(monkeypatch: pytest.MonkeyPatch) -> None:
    """Both ways lead to the state that slower and slower swings lead to."""
    string = placed(*over(CLOSE_BASS, 3), pinning=None)
    down, shaking = string.light().sensitivity, SwungString._shaking
    monkeypatch.setattr(SwungString, "_shaking",
                        lambda self: np.concatenate([[self.reach], shaking(self)]))
    assert placed(*over(CLOSE_BASS, 3), pinning=None).light().sensitivity == pytest.approx(down, rel=2e-4)


def test_a_loop_is_closed_and_makes_heat() -> None:
    string = placed(*over("bench-single"))
    loop = string.loop(0.5e-3)
    assert loop.heat > 0
    assert string.loop(0.1e-3).heat < loop.heat
    np.testing.assert_allclose(string.along(np.zeros(1)), np.mean(loop.linkage), rtol=0.05)
    assert string.loop(1e-3).sensitivity > loop.sensitivity > string.loop(1e-5).sensitivity


def test_draft_and_fine() -> None:
    draft, fine = (placed(*over("bench-single", quality=q)).loop(1e-4).sensitivity for q in ("draft", "fine"))
    assert draft == pytest.approx(fine, rel=5e-3)


def test_both_polarities() -> None:
    """Magnets turned round: λ turns its sign, S stays."""
    field, shape, layers = over("bench-single")
    pickup = solve(load_case("bench-single"), quality="draft").with_({"pole.1.part.1.polarity": "south up"})
    other = placed(pickup.solved.solution().field, shape, layers).loop(1e-4)
    loop = placed(field, shape, layers).loop(1e-4)
    np.testing.assert_allclose(other.linkage, -loop.linkage, rtol=1e-6)


def test_beside_its_face() -> None:
    field, shape, layers = over("bench-single")
    beside = placed(field, replace(shape, y=6e-3), layers)
    assert beside.loop(1e-4).sensitivity < placed(field, shape, layers).loop(1e-4).sensitivity


def test_no_room() -> None:
    string = placed(*over("bench-single", gap="0.5 mm"))
    assert string.reach == pytest.approx(0.2e-3)
    with pytest.raises(CaseError, match="amplitude of 1 mm"):
        string.loop(1e-3)
