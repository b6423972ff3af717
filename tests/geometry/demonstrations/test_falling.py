# ruff: noqa: E501  (a table of sentences reads best one to a line)
"""The case of a falling magnet: what it says in SI, and one sentence for each thing that cannot be."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from stringflux.geometry import CaseError
from stringflux.geometry.demonstrations.falling import FallingMagnet, read_falling

USES = {"ndfeb-38": "magnet", "alnico-5": "magnet", "steel-1008": "soft", "air": "soft", "copper": "conductor",
        "aluminium": "conductor", "spacer": "spacer"}
PLAIN: dict[str, Any] = {
    "magnet": {"material": "ndfeb-38", "diameter": "10 mm", "length": "20 mm", "down": "south", "mass": "12 g"},
    "coil": {"inner_diameter": "16 mm", "outer_diameter": "22 mm", "length": "12 mm", "turns": 1000, "wire": "0.080 mm"},
    "drop": {"start": "0.15 m"},
}
CORE = {"material": "steel-1008", "diameter": "14 mm", "length": "30 mm"}
TUBE = {"material": "copper", "inner_diameter": "12 mm", "outer_diameter": "15 mm", "length": "0.5 m"}
GONE = object()


def changed(**changes: Any) -> dict[str, Any]:
    data = copy.deepcopy(PLAIN)
    for path, value in changes.items():
        table, _, key = path.partition("__")
        home, name = (data.setdefault(table, {}), key) if key else (data, table)
        if value is GONE:
            del home[name]
        else:
            home[name] = value
    return data


def read(**changes: Any) -> FallingMagnet:
    return read_falling(changed(**changes), USES)


def test_in_si() -> None:
    case = read(tube=TUBE, tube__top="0.1 m")
    assert (case.magnet.diameter, case.magnet.mass, case.drop.start, case.last) == (0.01, 0.012, 0.15, -0.15)
    assert case.tube is not None
    assert (case.tube.upper, case.tube.length) == (0.1, 0.5)
    part = case.magnet.part(0.02)
    assert (part.top, part.bottom, part.radius, part.polarity) == (0.03, 0.01, 0.005, 1)
    coil = case.coil.racetrack()
    assert (coil.inner_radius, coil.build, coil.bottom, coil.top, coil.sense) == (0.008, 0.003, -0.006, 0.006, 1)


def test_onto_a_core() -> None:
    case = read(core=CORE, drop__speed="0.3 m/s", drop__gap="2 mm", magnet__diameter="20 mm")
    assert case.nearest == pytest.approx(0.006 + 0.002 + 0.01)
    core = case.core_part()
    assert (core.top, core.bottom, core.radius) == (0.006, -0.024, 0.007)
    with pytest.raises(CaseError, match="core: this case has none"):
        read().core_part()


FAULTS: list[tuple[str, dict[str, Any], str]] = [
    ("no magnet", {"magnet": GONE}, "magnet: it is missing; add it"),
    ("no coil", {"coil": GONE}, "coil: it is missing; add it"),
    ("too wide", {"magnet__diameter": "16 mm"}, "magnet, diameter: a magnet of 16 mm does not pass coil, inner_diameter 16 mm; write at most 15.8 mm"),
    ("too wide for the tube", {"magnet__diameter": "12 mm", "tube": TUBE}, "a magnet of 12 mm does not pass tube, inner_diameter 12 mm"),
    ("start in the coil", {"drop__start": "15 mm"}, "drop, start: at 15 mm the magnet is in the coil already; write at least 16 mm"),
    ("end in the coil", {"drop__end": "-10 mm"}, "drop, end: at -10 mm the magnet is still in the coil; write -16 mm or lower"),
    ("no speed at all", {"drop__speed": "0 m/s"}, 'drop, speed: received "0 m/s"; write a speed from 0.01 m/s to 20 m/s'),
    ("a speed that is none", {"drop__speed": "3 mm"}, 'drop, speed: received "3 mm", which is not a speed; write a speed with its unit (m/s, cm/s, mm/s)'),
    ("not a magnet", {"magnet__material": "copper"}, 'magnet, material: received "copper", which is not a magnet; write a magnet: ndfeb-38, alnico-5'),
    ("unknown magnet", {"magnet__material": "ndfeb38"}, 'magnet, material: received "ndfeb38" (did you mean "ndfeb-38"?)'),
    ("without a charge", {"magnet__charge": 0}, "magnet, charge: received 0; write a number without a unit from 0.01 to 1"),
    ("key of another table", {"magnet__turns": 3}, 'magnet: "turns" is not a key here; it belongs under [coil]'),
    ("thin coil", {"coil__outer_diameter": "16 mm"}, "coil, outer_diameter: received 16 mm; write at least 0.2 mm more than inner_diameter, 16 mm"),
    ("too many turns", {"coil__turns": 9000}, "coil, turns: 9000 of 0.080 mm"),
    ("unknown wire", {"coil__wire": "36 AWG"}, "coil, wire: received \"36 AWG\", which is not in the table"),
    ("gap to nothing", {"drop__gap": "2 mm"}, "drop, gap: there is no core that it could be the gap to"),
    ("falls onto steel", {"core": CORE, "drop__gap": "2 mm"}, "drop, speed: with a core the magnet would strike it"),
    ("no gap", {"core": CORE, "drop__speed": "1 m/s"}, "drop, gap: it is missing; write how near to the core"),
    ("end with a core", {"core": CORE, "drop__speed": "1 m/s", "drop__gap": "2 mm", "drop__end": "-1 m"}, "drop, end: with a core the magnet turns over it"),
    ("core and tube", {"core": CORE, "tube": TUBE}, "tube: received together with core"),
    ("core too wide", {"core": CORE | {"diameter": "17 mm"}, "drop__speed": "1 m/s", "drop__gap": "2 mm"}, "core, diameter: received 17 mm, wider than the coil's bore, 16 mm"),
    ("begins at the core", {"core": CORE, "drop__speed": "1 m/s", "drop__gap": "10 mm", "drop__start": "26.5 mm"}, "drop, start: received 26.5 mm, but over the core the magnet's middle is at 26 mm already"),
    ("deep core", {"core": CORE | {"top": "0 mm"}, "drop__speed": "1 m/s", "drop__gap": "2 mm", "magnet__diameter": "16 mm"}, "magnet, diameter: a magnet of 16 mm does not go into the coil's bore"),
    ("core of copper", {"core": CORE | {"material": "copper"}, "drop__speed": "1 m/s", "drop__gap": "2 mm"}, 'core, material: received "copper", which is not a steel; write a steel: steel-1008'),
    ("tube of steel", {"tube": TUBE | {"material": "steel-1008"}}, 'tube, material: received "steel-1008", which is not a metal that is not magnetic; write a metal'),
    ("tube without mass", {"tube": TUBE, "magnet__mass": GONE}, "magnet, mass: it is missing; weigh the magnet"),
    ("tube by hand", {"tube": TUBE, "drop__speed": "1 m/s"}, "drop, speed: in a tube the magnet finds its own speed"),
    ("tube too wide", {"tube": TUBE | {"outer_diameter": "17 mm"}}, "tube, outer_diameter: received 17 mm, wider than the coil's bore"),
    ("no wall", {"tube": TUBE | {"outer_diameter": "12 mm"}}, "tube, outer_diameter: received 12 mm; write at least 0.2 mm more"),
]


@pytest.mark.parametrize(("changes", "says"), [f[1:] for f in FAULTS], ids=[f[0] for f in FAULTS])
def test_one_sentence(changes: dict[str, Any], says: str) -> None:
    with pytest.raises(CaseError) as caught:
        read(**changes)
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)
