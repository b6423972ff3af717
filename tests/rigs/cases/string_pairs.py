"""Two equal plain strings over one linear magnet or one each; and one of them, the other a body of its steel."""

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
    """Diameter and distance in mm; `rods`: one under the first string, or one under each."""

    diameter: float
    apart: float
    rods: int

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
            content["body"] = [{
                "shape": "prism", "name": "other", "material": "wire", "outline": self._rim(), "length": LENGTH,
                "lies": "along the strings", "centre": ["0 mm", f"{self.apart / 2} mm"],
                "bottom": f"{4 + self.diameter / 2 - max(z for _, z in self._corners()):.6f} mm"}]
        return read_case(content, materials=built_in_uses())

    def _corners(self) -> list[tuple[float, float]]:
        """Of a polygon with the area of the string's section, mm; flat sides are easier to mesh than round ones."""
        r = self.diameter / 2 * np.sqrt(np.pi / (SIDES / 2 * np.sin(2 * np.pi / SIDES)))
        turn = (np.arange(SIDES) + 0.5) * 2 * np.pi / SIDES
        return list(zip((r * np.cos(turn)).tolist(), (r * np.sin(turn)).tolist(), strict=True))

    def _rim(self) -> list[list[str]]:
        return [[f"{y:.6f} mm", f"{z:.6f} mm"] for y, z in self._corners()]

    def _content(self) -> dict[str, Any]:
        content = read_content("bench-single")
        steel = find_material("string-steel")
        assert isinstance(steel, StringSteel)
        b = MU0 * (FIELDS + steel.magnetisation(FIELDS)[0])
        points = [[float(h), float(b)] for h, b in zip(FIELDS, b, strict=True)]
        content["materials"] = {
            "rod": {"kind": "linear magnet", "remanence": "0.8 T", "recoil_permeability": 2.0,
                    "transverse_permeability": 2.0, "reversible_permeability": 2.0},
            "wire": {"kind": "BH table", "field_unit": "A/m", "flux_unit": "T", "points": points,
                     "reversible_permeability": 91}}
        content["pole"][0]["part"][0]["material"] = "rod"
        places = [-self.apart / 2, self.apart / 2][:self.rods]
        content["row"] = {"positions": [f"{y} mm" for y in places], "face": "1.5 mm"}
        content["coil"] |= {"inner_length": f"{6 + 2 * self.apart} mm"} if self.rods > 1 else {
            "centre": f"{places[0]} mm"}
        content["strings"] |= {"gap": "2.5 mm", "spacing": f"{self.apart} mm"}
        content["string"][0] |= {"gauge": f"{self.diameter} mm", "pitch": "E2" if self.diameter > 0.7 else "G3"}
        return content
