"""Two equal plain strings over one linear magnet, one each or a blade; and one of them, the other a body."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from stringflux.cases.files.load import built_in_uses, read_content
from stringflux.geometry.case.model import Case
from stringflux.geometry.reading.read import read_case
from stringflux.solver.constants import MU0
from stringflux.solver.materials import StringSteel, find_material

LENGTH, SIDES = "90 mm", 8
FIELDS = np.concatenate([[0.0], np.geomspace(20.0, 3e5, 60)])  # A/m


@dataclass(frozen=True)
class StringPair:
    """Diameter and distance in mm; `rods`: one under the first string, one under each, or 0: the blade of `blade-six`
    under both; `square`: each rod a square magnet under a square piece of steel."""

    diameter: float
    apart: float
    rods: int
    square: bool = False

    def strings(self) -> Case:
        """Both as strings."""
        content = self._content()
        content["string"] = [dict(content["string"][0]) for _ in range(2)]
        return read_case(content, materials=built_in_uses())

    def one(self, *, beside: bool) -> Case:
        """The first, and the other in the mesh if it is `beside` it."""
        content = self._content()
        content["string"][0]["position"] = f"{-self.apart / 2} mm"
        if beside:
            bottom = (4 if self.rods else 4.1) + self.diameter / 2 - max(z for _, z in self._corners())
            content.setdefault("body", []).append({
                "shape": "prism", "name": "other", "material": "wire", "outline": self._rim(), "length": LENGTH,
                "lies": "along the strings", "centre": ["0 mm", f"{self.apart / 2} mm"],
                "bottom": f"{bottom:.6f} mm"})
        return read_case(content, materials=built_in_uses())

    def _corners(self) -> list[tuple[float, float]]:
        """Of a polygon with the area of the string's section, mm; flat sides are easier to mesh than round ones."""
        r = self.diameter / 2 * np.sqrt(np.pi / (SIDES / 2 * np.sin(2 * np.pi / SIDES)))
        turn = (np.arange(SIDES) + 0.5) * 2 * np.pi / SIDES
        return list(zip((r * np.cos(turn)).tolist(), (r * np.sin(turn)).tolist(), strict=True))

    def _rim(self) -> list[list[str]]:
        return [[f"{y:.6f} mm", f"{z:.6f} mm"] for y, z in self._corners()]

    def _content(self) -> dict[str, Any]:
        content = read_content("bench-single" if self.rods else "blade-six")
        steel = find_material("string-steel")
        assert isinstance(steel, StringSteel)
        b = MU0 * (FIELDS + steel.magnetisation(FIELDS)[0])
        points = [[float(h), float(b)] for h, b in zip(FIELDS, b, strict=True)]
        content["materials"] = {
            "rod": {"kind": "linear magnet", "remanence": "0.8 T", "recoil_permeability": 2.0,
                    "transverse_permeability": 2.0, "reversible_permeability": 2.0},
            "wire": {"kind": "BH table", "field_unit": "A/m", "flux_unit": "T", "points": points,
                     "reversible_permeability": 91}}
        content["strings"] |= {"gap": "2.5 mm", "spacing": f"{self.apart} mm", "plane_angle": "0 deg"}
        content["string"] = [{"gauge": f"{self.diameter} mm", "pitch": "E2" if self.diameter > 0.7 else "G3"}]
        if not self.rods:
            del content["materials"]["rod"]
            return content
        content["pole"][0]["part"][0]["material"] = "rod"
        if self.square:
            sides = {"shape": "box", "along": "4.4 mm", "across": "4.4 mm"}
            content["pole"][0]["part"] = [sides | {"material": "steel-1008", "height": "6 mm"},
                                          sides | {"material": "rod", "height": "11 mm", "polarity": "north up"}]
        places = [-self.apart / 2, self.apart / 2][:self.rods]
        content["row"] = {"positions": [f"{y} mm" for y in places], "face": "1.5 mm"}
        content["coil"] |= {"inner_length": f"{6 + 2 * self.apart} mm"} if self.rods > 1 else {
            "centre": f"{places[0]} mm"}
        return content
