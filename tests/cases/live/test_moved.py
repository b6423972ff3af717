"""What the page computes by itself is what the program says: on 200 designs that a hand comes to."""

from __future__ import annotations

from base64 import b64encode
from typing import Any

import numpy as np
import pytest

from rigs.modules import ran
from stringflux.cases import Pickup, load_case, solve
from stringflux.cases.live.answers import RESPONSE, Asked, answer
from stringflux.cases.live.frames import frame
from stringflux.cases.live.moved import unmoved
from stringflux.geometry.reading.read import changed_case
from stringflux.postprocess.coil.controls import LoadedCoil, network

DECIBEL = 0.05  # of S and of the response: what is printed is a tenth
LINKAGE = 5e-3  # of λ at rest
OF_PEAK = 3e-3  # of its frequency: the page reads it from steps of 3 %
MOVED = 1.5e-3  # m
PLACES, LOADS, TURNS = 40, 5, 4  # designs with a string moved, of each with other controls, and with other turns

PAGE = """
const { unpacked } = await load('frames.js');
const l = await load('linkage.js'), n = await load('network.js');
const bytes = Uint8Array.from(atob(data.answers), (c) => c.charCodeAt(0));
const { maps, loop, coil } = unpacked(bytes.buffer);
const map = maps.strings[data.string - 1];
const s = l.surface(map.y, map.z, map.linkage);
const swings = l.throughSwings(s, loop.places, loop.sensitivity);
const rest = l.nearRest(s, map.sensitivity, map.gap_slope);
const source = { frequency: coil.frequency, series: coil.series, shunt: coil.shunt, resistance: coil.resistance };
return data.states.map(({ y, z, turns, capacitance, load }) => {
  const by = l.turned(turns, maps.turns);
  const wound = n.wound(source, by, capacitance / coil.capacitance), hung = n.network(load);
  return { held: l.holds(s, y, z), linkage: by * l.at(s, y, z).linkage,
    sensitivity: by * l.sensitivity(s, swings, y, z),
    first: by * l.sensitivity(s, rest, y, z), resistance: wound.resistance,
    levels: [...n.levels(hung, wound)], known: n.known(hung, wound) };
});
"""


def sent(pickup: Pickup, string: int) -> dict[str, Any]:
    """What the page has of a design."""
    return {topic: answer(topic, pickup, Asked(string=string), lambda stage, share: None)
            for topic in ("maps", "loop", "coil")}


def answered(pickup: Pickup, string: int, states: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """What the page makes of states that a hand comes to from a design."""
    found: list[dict[str, Any]] = ran(PAGE, {"answers": b64encode(frame(sent(pickup, string))).decode(),
                                             "string": string, "states": states})
    return found


@pytest.fixture(scope="module")
def states() -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """What the page says of 200 designs, and what the program does."""
    random = np.random.default_rng(7)
    pickup = solve(load_case("bench-single"), quality="draft")
    rest, given, program = pickup.prediction().strings[0], [], []
    turns = [pickup.case.coil.turns, *random.integers(2000, 8000, TURNS - 1).tolist()]
    coils = {}
    for n in turns:
        wound = pickup.with_({"coil.turns": n})
        coils[n] = (wound.impedance().circuit, wound.winding()[0].capacitance)
    for i in range(PLACES):
        y, z = random.uniform(-MOVED, MOVED, 2)
        n = turns[i % TURNS]
        moved = pickup.with_({"string.1.position": rest.y + y, "string.1.gap": rest.gap + z, "coil.turns": n})
        string = moved.prediction(maps=False).strings[0]
        for _ in range(LOADS):
            load = pickup.case.load.model_copy(update=dict(
                volume_setting=random.uniform(0.01, 1), tone_setting=random.uniform(),
                volume=random.uniform(1e5, 1e6),
                volume_taper=str(random.choice(["audio", "linear"])), cable_length=random.uniform(0, 9),
                controls=str(random.choice(["volume and tone", "volume", "none"])),
                tone_capacitor=random.uniform(1e-9, 50e-9)))
            loaded = LoadedCoil(coil=coils[n][0], network=network(load))
            given.append({"y": string.y - rest.y, "z": string.height - rest.height, "turns": [n],
                          "capacitance": coils[n][1], "load": load.model_dump()})
            program.append({"linkage": string.linkage, "sensitivity": string.sensitivity, "rest": rest.linkage * n
                            / pickup.case.coil.turns, "resistance": coils[n][0].resistance,
                            "levels": 20 * np.log10(np.abs(loaded(RESPONSE))), "known": loaded.response()})
    return answered(pickup, 1, given), program


def test_linkage_of_a_moved_string(states: tuple[list[Any], list[Any]]) -> None:
    assert len(states[0]) == 200
    assert all(page["held"] for page in states[0])
    off = [abs(page["linkage"] - program["linkage"]) / program["rest"] for page, program in zip(*states, strict=True)]
    assert max(off) < LINKAGE


def test_sensitivity_of_a_moved_string(states: tuple[list[Any], list[Any]]) -> None:
    of = [page["sensitivity"] / program["sensitivity"] for page, program in zip(*states, strict=True)]
    assert np.max(np.abs(20 * np.log10(of))) < DECIBEL


def test_response_with_other_controls_and_turns(states: tuple[list[Any], list[Any]]) -> None:
    for page, program in zip(*states, strict=True):
        assert abs(page["resistance"] / program["resistance"] - 1) < 1e-6
        assert np.max(np.abs(np.array(page["levels"]) - program["levels"])) < DECIBEL


def test_what_a_response_is_known_by(states: tuple[list[Any], list[Any]]) -> None:
    for page, program in zip(*states, strict=True):
        own, known = page["known"], program["known"]
        assert abs(own["level"] - known.level) < DECIBEL
        assert (own["peak"] is None) == (known.peak is None) or (known.peak or own["peak"]) < 2 * DECIBEL
        if own["peak"] is not None and known.peak is not None:
            assert abs(own["peak"] - known.peak) < DECIBEL
            if known.peak > 1:
                assert abs(own["resonance"] / known.resonance - 1) < OF_PEAK
        if known.corner is not None and own["corner"] is not None:
            assert abs(own["corner"] / known.corner - 1) < OF_PEAK


def test_what_is_the_same_but_for_what_the_page_moves() -> None:
    case = load_case("baritone-six")
    for same in ({"string.3.gap": "2 mm"}, {"strings.spacing": "9 mm"}, {"coil.turns": 6000},
                 {"load.tone_setting": 0.5}, {"title": "another"}):
        assert unmoved(changed_case(case, same)) == unmoved(case), same
    for other in ({"pole.1.part.1.diameter": "4.5 mm"}, {"string.3.gauge": "0.020 in"}, {"coil.wire": "43 AWG"}):
        assert unmoved(changed_case(case, other)) != unmoved(case), other
