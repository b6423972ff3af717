"""Make postprocess/string/wrap_cells.toml again: python tests/run.py wrap_cells > postprocess/string/wrap_cells.toml
(seconds)."""

from __future__ import annotations

from stringflux.solver.wrap_turn import wrap_susceptibility

GAPS = [0.001, 0.002, 0.004, 0.007, 0.012, 0.02, 0.035, 0.06, 0.1, 0.17, 0.28, 0.5]
CURVATURES = [0.0, 0.15, 0.3, 0.45]
SUSCEPTIBILITIES = [15.0, 60.0, 600.0]
CORE_MU = 100.0  # of the core under the wrap; 20 instead, or 700, moves χ by 0.4 %
HEAD = """\
# D0 = 1/chi_rings - 1/chi of the turns of a wrap on a core, computed by solver/wrap_turn.py (closed rings, core of
# permeability 100) with tests/measure/wrap_cells.py. tests/postprocess/string/test_wrap.py computes some of it again.
# factors[gap][curvature][susceptibility]"""


def main() -> None:
    """Print the table."""
    print(HEAD)
    print(f"gaps = {GAPS}\ncurvatures = {CURVATURES}\nsusceptibilities = {SUSCEPTIBILITIES}\nfactors = [")
    for gap in GAPS:
        rows = (", ".join(f"{1 / wrap_susceptibility(1 + chi, gap, c, core_mu=CORE_MU, helix=False) - 1 / chi:.6e}"
                          for chi in SUSCEPTIBILITIES) for c in CURVATURES)
        print("    [" + ", ".join(f"[{row}]" for row in rows) + "],")
    print("]")


if __name__ == "__main__":
    main()
