"""The swing that the page shows is the program's loop, also between the amplitudes that it was sent."""

from __future__ import annotations

from base64 import b64encode

import numpy as np
import pytest

from rigs.modules import ran
from stringflux.cases import load_case, solve
from stringflux.cases.live.answers import Asked, answer
from stringflux.cases.live.frames import frame

AMPLITUDES = (0.1e-3, 0.16e-3, 0.35e-3, 0.7e-3, 1e-3)  # m
DECIBEL = 0.05  # of S
LINKAGE = 2e-3  # of what λ goes through: the loop is open by 3 % of that

PAGE = """
const { unpacked } = await load('frames.js');
const { surface } = await load('linkage.js'), { heard, round, SAMPLES } = await load('swing.js');
const { maps, loop } = unpacked(Uint8Array.from(atob(data.answers), (c) => c.charCodeAt(0)).buffer);
const map = maps.strings[0], s = surface(map.y, map.z, map.linkage);
return data.amplitudes.map((a) => {
  const [linkage, falling] = [new Float64Array(SAMPLES), new Float64Array(SAMPLES)];
  round(s, loop.loops, a, { y: 0, z: 0, by: 1 }, linkage, falling);
  return { linkage: [...linkage], falling: [...falling], heard: heard(linkage, a) };
});
"""


def test_a_swing_is_the_programs_loop() -> None:
    pickup = solve(load_case("bench-single"), quality="draft")
    sent = {topic: answer(topic, pickup, Asked(), lambda stage, share: None) for topic in ("maps", "loop")}
    assert len(sent["loop"]["loops"]) == 4
    found = ran(PAGE, {"answers": b64encode(frame(sent)).decode(), "amplitudes": AMPLITUDES})
    for amplitude, page in zip(AMPLITUDES, found, strict=True):
        program = pickup.loop(1, amplitude)
        linkage = np.array(page["linkage"])
        n = program.linkage.size
        there = linkage[(np.arange(1, n + 1) * linkage.size // n) % linkage.size]
        assert np.max(np.abs(there - program.linkage)) < LINKAGE * np.ptp(program.linkage), amplitude
        assert abs(20 * np.log10(page["heard"] / program.sensitivity)) < DECIBEL, amplitude
        # e is how λ falls: the differences of the one are the other
        steps = -(np.roll(linkage, -1) - np.roll(linkage, 1)) * linkage.size / (4 * np.pi)
        assert np.array(page["falling"]) == pytest.approx(steps, abs=1e-3 * np.max(np.abs(steps)))
