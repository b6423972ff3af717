"""What the page computes by itself, held against the program: designs that a hand comes to from one."""

from __future__ import annotations

from base64 import b64encode
from dataclasses import dataclass
from typing import Any

import numpy as np

from rigs.modules import ran
from stringflux.cases import Pickup
from stringflux.cases.live.answers import RESPONSE, Asked, answer
from stringflux.cases.live.frames import frame
from stringflux.postprocess.coil.controls import LoadedCoil, network

MOVED = 1.5e-3  # m
NEAREST = 0.4e-3  # m: the least gap that a string is put to
DECIBEL = 0.05  # of S and of the response: what is printed is a tenth
LINKAGE = 5e-3  # of λ at rest

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


@dataclass(frozen=True, kw_only=True)
class Moved:
    """What the page says of designs, and what the program does."""

    page: list[dict[str, Any]]
    program: list[dict[str, Any]]

    def linkage(self) -> float:
        """The largest difference in λ, of λ at rest."""
        assert all(one["held"] for one in self.page)
        return max(abs(page["linkage"] - program["linkage"]) / program["rest"]
                   for page, program in zip(self.page, self.program, strict=True))

    def sensitivity(self, which: str = "sensitivity") -> float:
        """The largest in S, dB; by "first" before the string's light swings are there."""
        return max(abs(20 * np.log10(page[which] / program["sensitivity"]))
                   for page, program in zip(self.page, self.program, strict=True))

    def levels(self) -> float:
        """The largest in the response, dB."""
        return max(float(np.max(np.abs(np.array(page["levels"]) - program["levels"])))
                   for page, program in zip(self.page, self.program, strict=True))


def moved(pickup: Pickup, string: int, turns: list[int], *, places: int, loads: int = 1, seed: int = 7) -> Moved:
    """A string, from 1, at random places; one coil's turns in turn; at each place so many other controls and cables.

    Without `turns` the coils stay as they are, and so does what hangs on them.
    """
    random = np.random.default_rng(seed)
    rest, given, program = pickup.prediction().strings[string - 1], [], []
    own = [c.turns for c in pickup.case.coils()]
    coils = {}
    for n in turns:
        wound = pickup.with_({"coil.turns": n})
        coils[n] = (wound.impedance().circuit, wound.winding()[0].capacitance)
    for i in range(places):
        y, z = random.uniform(-MOVED, MOVED), random.uniform(max(-MOVED, NEAREST - rest.gap), MOVED)
        changes: dict[str, Any] = {f"string.{string}.position": rest.y + y, f"string.{string}.gap": rest.gap + z}
        if turns:
            changes["coil.turns"] = n = turns[i % len(turns)]
        found = pickup.with_(changes).prediction(maps=False).strings[string - 1]
        state = {"y": found.y - rest.y, "z": found.height - rest.height, "turns": [n] if turns else own,
                 "capacitance": coils[n][1] if turns else 1e-10, "load": pickup.case.load.model_dump()}
        said = {"linkage": found.linkage, "sensitivity": found.sensitivity,
                "rest": rest.linkage * (n / own[0] if turns else 1)}
        if not turns:
            given.append(state)
            program.append(said)
            continue
        for _ in range(loads):
            load = pickup.case.load.model_copy(update=dict(
                volume_setting=random.uniform(0.01, 1), tone_setting=random.uniform(),
                volume=random.uniform(1e5, 1e6),
                volume_taper=str(random.choice(["audio", "linear"])), cable_length=random.uniform(0, 9),
                controls=str(random.choice(["volume and tone", "volume", "none"])),
                tone_capacitor=random.uniform(1e-9, 50e-9)))
            loaded = LoadedCoil(coil=coils[n][0], network=network(load))
            given.append(state | {"load": load.model_dump()})
            program.append(said | {"resistance": coils[n][0].resistance,
                                   "levels": 20 * np.log10(np.abs(loaded(RESPONSE))), "known": loaded.response()})
    sent = {topic: answer(topic, pickup, Asked(string=string), lambda stage, share: None)
            for topic in ("maps", "loop", "coil")}
    page: list[dict[str, Any]] = ran(PAGE, {"answers": b64encode(frame(sent)).decode(), "string": string,
                                            "states": given})
    return Moved(page=page, program=program)
