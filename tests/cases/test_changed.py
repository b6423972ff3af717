"""A changed pickup: to the last digit what its case gives with nothing kept, and only what changed is computed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest

from rigs.cases.small_case import task
from stringflux.cases import Pickup, solve
from stringflux.cases.files.load import built_in_uses
from stringflux.cases.kept.digest import digest
from stringflux.cases.kept.store import Store
from stringflux.cases.solved.solve_row import forget_meshes
from stringflux.geometry.case.placed_strings import PlacedString
from stringflux.geometry.reading.read import read_case

ALL = {"string": 2, "map": 2}  # also where one string changed: each lies in the fields of the others
OTHER_ROW = {"row": 1, "solved row": 1, "faces": 1, "signal ends": 1, **ALL}
MOVED = {"drive": 1, "link": 2}
OTHER_POLE = {"mesh": 1, "bias": 1, "small signal": 1, "signal end": 2, "rings": 1, "table": 1, "answer": 1,
              **OTHER_ROW, **MOVED}
CHANGES: dict[str, tuple[dict[str, Any], dict[str, int]]] = {
    "nothing": ({}, {}),
    "gap": ({"string.1.gap": "2.2 mm"}, ALL),
    "gaps": ({"strings.gap": "2.3 mm"}, ALL),
    "place": ({"string.1.position": "-5.4 mm"}, ALL),
    "gauge": ({"string.2.gauge": "0.013 in"}, ALL),
    "steel": ({"strings.steel": "string-nickel-steel"}, ALL),
    "slope": ({"strings.plane_angle": "0.7 deg"}, ALL),
    "turns": ({"coil.turns": 4321}, {}),
    "sense": ({"coil.winding": "clockwise"}, {}),
    "wire": ({"coil.wire": "44 AWG"}, {}),
    "height": ({"row.face": ["1.5 mm", "1.1 mm"]}, {**OTHER_ROW, **MOVED}),
    "charge": ({"pole.1.part.1.charge": 0.8}, {"bias": 1, **OTHER_ROW}),
    "charge under steel": ({"pole.2.part.2.charge": 0.8}, {
        "bias": 1, "small signal": 1, "signal end": 2, "answer": 1, **OTHER_ROW}),
    "pole": ({"pole.1.part.1.length": "13 mm"}, OTHER_POLE),
}


@pytest.fixture(scope="module")
def kept() -> Iterator[tuple[Pickup, Store]]:
    """A pickup whose prediction is there."""
    store = Store(None, code="1")
    pickup = solve(read_case(task().document, materials=built_in_uses()), quality="draft", keep=store)
    pickup.prediction()
    yield pickup, store
    forget_meshes()


def content(pickup: Pickup) -> str:
    return digest(replace(pickup.prediction(), timings={}))


@pytest.mark.slow
@pytest.mark.parametrize("name", CHANGES)
def test_a_change_gives_what_the_changed_case_gives_and_computes_what_it_touches(
        name: str, kept: tuple[Pickup, Store]) -> None:
    (changes, expected), (pickup, store) = CHANGES[name], kept
    before = store.counts.copy()
    changed = pickup.with_(changes)
    found = content(changed)
    assert {kind: n for (kind, what), n in (store.counts - before).items() if what == "made"} == expected
    forget_meshes()
    assert found == content(solve(changed.case, quality="draft"))
    assert (found == content(pickup)) == (name in ("nothing", "wire"))


def test_strings_are_the_same_alone_and_together() -> None:
    """A store that lost some strings computes these alone."""
    case = read_case(task().document, materials=built_in_uses())
    store = Store(None, code="1")
    together = solve(case, quality="draft", keep=store).prediction(maps=False).strings

    def lost_the_first(kind: str, key: Any, make: Any, /) -> Any:
        first = kind == "string" and any(isinstance(part, PlacedString) and part.number == 1 for part in key)
        return make() if first else store(kind, key, make)

    before = store.counts.copy()
    alone = solve(case, quality="draft", keep=lost_the_first).prediction(maps=False).strings
    assert (store.counts - before)["string", "made"] == 0
    assert digest(alone) == digest(together)


@pytest.mark.slow
def test_maps_of_strings_that_are_known_are_all_that_is_added(kept: tuple[Pickup, Store]) -> None:
    pickup, store = kept
    changed = pickup.with_({"strings.gap": "2.6 mm"})
    plain, before = changed.prediction(maps=False), store.counts.copy()
    found = changed.prediction()
    assert {kind for (kind, what), n in (store.counts - before).items() if what == "made"} == {"map"}
    assert not plain.strings[0].map_y.size
    assert content(changed) == content(solve(changed.case, quality="draft"))
    assert plain.strings[0].sensitivity == found.strings[0].sensitivity


@pytest.mark.slow
@pytest.mark.parametrize(("name", "expected"), [
    ("gap", {"swing": 2, "string pull": 2, "sensed": 2}), ("turns", {"sensed": 2})])
def test_what_follows_of_a_change_is_computed_for_what_it_touches(
        name: str, expected: dict[str, int], kept: tuple[Pickup, Store]) -> None:
    changes, (pickup, store) = CHANGES[name][0], kept

    def told(pickup: Pickup) -> tuple[str, ...]:
        return tuple(digest(record) for record in (
            pickup.impedance().terminals.circuit.inductance, pickup.hum().signal, pickup.pull().strings,
            [played.signal for played in pickup.signal()]))

    told(pickup)
    changed = pickup.with_(changes)
    changed.prediction()
    before = store.counts.copy()
    found = told(changed)
    counts = {kind: n for (kind, what), n in (store.counts - before).items() if what == "made"}
    assert {kind: n for kind, n in counts.items() if kind in ("eddies", "swing", "string pull", "sensed")} == expected
    forget_meshes()
    assert found == told(solve(changed.case, quality="draft"))
