"""A build that solves in a second: two rods in two stacked coils, over a keeper of steel."""

from __future__ import annotations

from typing import Any

from rigs.cases.designs import designs_of

_CASE: dict[str, Any] = {
    "row": {"positions": ["-5 mm", "5 mm"], "face": "1.5 mm"},
    "pole": [{"part": [{"material": "alnico-5", "diameter": "4.8 mm", "length": "15 mm", "polarity": "north up"}]}],
    "body": [{"shape": "box", "name": "keeper", "material": "steel-1008", "along": "10 mm", "across": "20 mm",
              "height": "2 mm", "top": "-13.8 mm"}],
    "coil": {"name": "upper", "inner_width": "6 mm", "inner_length": "16 mm", "build": "3 mm", "bottom": "-6.5 mm",
             "top": "-1 mm", "turns": 4000, "wire": "43 AWG"},
    "second_coil": [{"name": "lower", "coil": {
        "inner_width": "6 mm", "inner_length": "16 mm", "build": "3 mm", "bottom": "-13 mm", "top": "-7.5 mm",
        "turns": 3600, "wire": "43 AWG", "winding": "clockwise"}}],
    "strings": {"scale": "648 mm", "gap": "2.5 mm", "bridge_distance": "95 mm"},
    "string": [{"gauge": "0.018 in", "pitch": "D3"}, {"gauge": "0.014 in", "pitch": "A3"}],
}

document, task = designs_of(_CASE)
