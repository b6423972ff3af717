"""Mixes: finding a mix file, and the cases of its pickups, each at its place under the same strings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import Any

from stringflux.geometry.case.controls import Load
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.changes import dotted_values
from stringflux.geometry.units import shown

from .load import at_line, find_file, load_case, shipped_cases, shipped_mixes
from .mix_file import LEAST_APART, MixFile, MixPickup, check_mix, read_mix, too_near
from .text import read_text_file
from .toml_faults import toml_content

ALIKE = 1e-4
"""Two figures of a string that differ by less mean the same."""


@dataclass(frozen=True, kw_only=True)
class LoadedMix:
    """A mix with the cases of its pickups, in the order of the file.

    Attributes
    ----------
    name, text : str
        Of the file.
    file : MixFile
    cases : tuple of Case
        With the changes and the place of each pickup.
    """

    name: str
    text: str
    file: MixFile
    cases: tuple[Case, ...]

    def controls(self, i: int) -> Load:
        """The controls of pickup i, from 0: those of [load] with its own values."""
        return self.file.load.model_copy(update=self.file.pickup[i].own_controls())

    def on(self) -> tuple[int, ...]:
        """Pickups that are switched on, from 0."""
        return tuple(i for i, p in enumerate(self.file.pickup) if p.on)

    def nearest(self) -> float:
        """Least distance of two pickups, from row to row, m."""
        return min(self.apart(i, j) for i, j in combinations(range(len(self.cases)), 2))

    def apart(self, i: int, j: int) -> float:
        """From the rows of pickup i to those of pickup j (from 0), m."""
        places = [[self.file.pickup[k].bridge_distance - x for x in row_places(self.cases[k])] for k in (i, j)]
        return min(abs(a - b) for a in places[0] for b in places[1])


def load_mix(which: str) -> LoadedMix:
    """Read and check a mix, given by its file or by the name of a shipped one.

    Raises
    ------
    CaseError
        One sentence.
    """
    path = find_mix(which)
    text = read_text_file(path, "a mix file")
    data = toml_content(text, path.name)
    try:
        file = read_mix(data, path.stem)
        check_mix(file)
        cases = tuple(_case(i, raw, file.pickup[i - 1], path.parent) for i, raw in enumerate(data["pickup"], start=1))
        _check_strings(file, cases)
    except CaseError as error:
        raise CaseError(f"{path.name}{at_line(str(error), text)}: {error}") from None
    loaded = LoadedMix(name=path.stem, text=text, file=file, cases=cases)
    for i, j in combinations(range(len(cases)), 2):
        if loaded.apart(i, j) < LEAST_APART - 1e-9:
            raise CaseError(f"{path.name}: {too_near(i + 1, j + 1, loaded.apart(i, j))}")
    return loaded


def row_places(case: Case) -> tuple[float, ...]:
    """Where a case is heard along the strings: the middle of every coil, x in m, each once."""
    return tuple(sorted({round(c.x_centre, 6) for c in case.racetracks()}))


def find_mix(which: str) -> Path:
    """File of a mix given by path or by shipped name."""
    cases = dict.fromkeys(shipped_cases(), "is a case of one pickup; stringflux mix wants a file that names several")
    return find_file(which, "mix", shipped_mixes(), cases)


def _case(i: int, raw: Mapping[str, Any], pickup: MixPickup, folder: Path) -> Case:
    """The case of pickup i (from 1) with its changes, at its place."""
    changes = {**dotted_values(pickup.change), "strings.bridge_distance": raw["bridge_distance"]}
    which = pickup.case if pickup.case in shipped_cases() else str(folder / pickup.case)
    try:
        case = load_case(which, changes)
    except CaseError as error:
        raise CaseError(f"pickup {i}, case: {error}") from None
    shortest = min(s.scale for s in placed_strings(case))
    if pickup.bridge_distance >= shortest:
        raise CaseError(f"pickup {i}, bridge_distance: received {pickup.bridge_distance * 1e3:.6g} mm, but the "
                        f"shortest string sounds over only {shortest * 1e3:.6g} mm; write less")
    return case


def _check_strings(file: MixFile, cases: tuple[Case, ...]) -> None:
    """The same strings run over all pickups."""
    first, one = cases[0], file.pickup[0].name
    for other, pickup in zip(cases[1:], file.pickup[1:], strict=True):
        if len(other.string) != len(first.string):
            raise CaseError(
                f"pickup {shown(pickup.name)} has {len(other.string)} strings in its case and {shown(one)} has "
                f"{len(first.string)}; the same strings run over both, so make them alike"
            )
        for n, (a, b) in enumerate(zip(_facts(first), _facts(other), strict=True), start=1):
            for what, value in a.items():
                if abs(b[what] - value) > ALIKE * value:
                    raise CaseError(
                        f"string {n}: its {what} is {value:.6g} in the case of {shown(one)} and {b[what]:.6g} in "
                        f"that of {shown(pickup.name)}; the same string runs over both, so make them alike"
                    )


def _facts(case: Case) -> list[dict[str, float]]:
    """What makes a string vibrate as it does."""
    return [
        {"pitch in Hz": s.pitch, "length in mm": 1e3 * s.scale, "gauge in mm": 1e3 * (2 * s.shape.outer_radius),
         "core in mm": 1e3 * (2 * s.shape.core_radius), "mass in g/m": 1e3 * s.unit_mass}
        for s in placed_strings(case)
    ]
