"""Make postprocess/helix3d.json again: python tests/run.py helix > tests/postprocess/string/helix3d.json (ngsolve).

With `mesh`: how far one case has converged, the thin wrap with a gap of 0.5 %, core and wire of permeability 701
and 501. Found: wire 39.297, 39.280, 39.279, 39.279 along the string, 2.936, 2.942, 2.942, 2.943 across it.
"""

from __future__ import annotations

import json
import sys
from dataclasses import asdict

from rigs.fields.helix3d import Helix, solve_helix

CURVATURES = {"thin wrap, 0.4 and 0.2 mm": 0.2 / 0.6, "bass, 0.040 and 0.029 in": 0.029 / 0.069}
GAPS = [0.005, 0.05]
METALS = [(701.0, 501.0), (91.0, 101.0)]  # string-steel and string-nickel-steel at rest, and for small movements
MESHES = [(3, 8, 2), (3, 8, 3), (4, 12, 3), (4, 12, 4)]  # n, layers, order; the last wants 8 GB


def main() -> None:
    """Print the table of cases, or of meshes."""
    if sys.argv[1:] == ["mesh"]:
        for n, layers, order in MESHES:
            print(n, layers, order, solve_helix(Helix(curvature=1 / 3, gap=0.005), *METALS[0], n=n, layers=layers,
                                                order=order), flush=True)
        return
    found = [{"name": name, "curvature": c, "gap": gap, "core_mu": core, "wire_mu": wire,
              **asdict(solve_helix(Helix(curvature=c, gap=gap), core, wire, n=3, layers=8, order=3))}
             for name, c in CURVATURES.items() for gap in GAPS for core, wire in METALS]
    print(json.dumps(found, indent=1))


if __name__ == "__main__":
    main()
