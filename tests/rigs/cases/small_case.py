"""A case that solves quickly and yet has two different poles that feel each other, a soft one and two magnets."""

from __future__ import annotations

from typing import Any

from rigs.cases.designs import designs_of

_CASE: dict[str, Any] = {
    "row": {"positions": ["-5 mm", "5 mm"], "face": ["1.5 mm", "1 mm"], "charged": "after assembly"},
    "pole": [
        {"at": [1], "part": [{"material": "alnico-5", "diameter": "4.8 mm", "length": "15 mm",
                              "polarity": "north up"}]},
        {"at": [2], "part": [{"material": "steel-1008", "diameter": "5 mm", "length": "9 mm"},
                             {"material": "ceramic-8", "diameter": "5 mm", "length": "4 mm",
                              "polarity": "north up"}]},
    ],
    "coil": {"inner_width": "6 mm", "inner_length": "16 mm", "build": "4 mm", "bottom": "-10 mm", "top": "-1 mm",
             "turns": 5000, "wire": "42 AWG"},
    "strings": {"scale": "648 mm", "gap": "2.5 mm", "bridge_distance": "95 mm"},
    "string": [{"gauge": "0.018 in", "pitch": "D3"}, {"gauge": "0.014 in", "pitch": "A3"}],
}

document, task = designs_of(_CASE)
