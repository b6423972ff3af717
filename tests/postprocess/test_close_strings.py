"""Strings close over faces of every width: S = ∂λ/∂z, fields against closed forms, answers that have converged."""

from __future__ import annotations

from dataclasses import replace

import magpylib
import numpy as np
import pytest
from shapes import BENCH_COIL, BENCH_LENGTH, placed, rod

from stringflux.cases import load_case
from stringflux.cases.case_materials import case_materials
from stringflux.cases.case_row import forget_rows, one_thread, solve_inputs
from stringflux.cases.prediction import solve_case_row
from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh import QUALITIES
from stringflux.postprocess.layers import layers_of
from stringflux.postprocess.linkage import LOWEST, RestStencil, Slopes, rest_model
from stringflux.postprocess.string_model import StringModel
from stringflux.solver import pole_cells
from stringflux.solver.materials import linear_magnet
from stringflux.solver.solved_row import SolvedRow, solve_row

THIN, THICK = "0.010 in", "0.046 in"
IDEAL = {"kind": "linear magnet", "remanence": "1 T", "recoil_permeability": 1.0}
TIPS = {
    "flat": {"shape": "flat"}, "bevelled": {"shape": "bevelled", "depth": "0.4 mm", "width": "0.4 mm"},
    "domed": {"shape": "domed", "rise": "0.6 mm"}, "cupped": {"shape": "cupped", "depth": "0.5 mm"},
}


def over(diameter: float, gap: float, gauge: str = THIN, quality: str = "draft",
         part: dict[str, object] | None = None) -> tuple[SolvedRow, StringModel]:
    """The bench rig with another rod, mm, and a string so far over it, mm."""
    values: dict[str, object] = {
        "pole.1.part.1.diameter": f"{diameter} mm", "strings.gap": f"{gap} mm", "string.1.gauge": gauge,
        "coil.inner_width": f"{diameter + 1} mm", "coil.outer_width": f"{diameter + 9} mm",
    }
    values |= {f"pole.1.part.1.{key}": value for key, value in (part or {}).items()}
    case = load_case("bench-single", values)
    materials = case_materials(case)
    row = solve_case_row(case, quality, materials)
    shape = case.string_shapes()[0]
    return row, rest_model(row.field, shape, layers_of(shape, materials))


def slopes(*args: object, **kwargs: object) -> Slopes:
    return RestStencil(over(*args, **kwargs)[1]).static()  # type: ignore[arg-type]


def law(diameter: float, gap: float, **kwargs: object) -> float:
    """S over the difference of λ of two other gaps, − 1."""
    step = 0.05 * gap
    middle = max(gap, 0.2 + step)
    low, here, high = (slopes(diameter, round(middle + s * step, 5), **kwargs) for s in (-1, 0, 1))
    return here.z / ((high.linkage - low.linkage) / (2e-3 * step)) - 1


@pytest.mark.parametrize("gauge", [THIN, THICK])
@pytest.mark.parametrize("diameter", [1.0, 2.0, 4.8, 8.0, 13.0])
def test_s_is_the_slope_of_the_linkage(diameter: float, gauge: str) -> None:
    with one_thread():
        for gap in (0.2, 0.26, 0.4, 0.8, 2.0):
            assert law(diameter, gap, gauge=gauge) == pytest.approx(0, abs=5e-3), f"gap {gap} mm"
    forget_rows()


@pytest.mark.parametrize("tip", ["bevelled", "domed", "cupped"])
@pytest.mark.parametrize("material", [{"material": "steel-1008", "polarity": None}, {}])
def test_s_is_the_slope_over_tips_and_slugs(tip: str, material: dict[str, object]) -> None:
    """Steel without a magnet is magnetised by nothing: it stands on a disc."""
    part = {"tip": TIPS[tip]}
    with one_thread():
        for diameter in (4.8, 10.0):
            assert law(diameter, 0.22, part=part) == pytest.approx(0, abs=5e-3), f"diameter {diameter} mm"
    forget_rows()


@pytest.mark.parametrize("quality", ["normal", "fine"])
def test_s_is_the_slope_at_every_quality(quality: str) -> None:
    with one_thread():
        assert law(8.0, 0.25, quality=quality) == pytest.approx(0, abs=5e-3)
    forget_rows()


def test_fields_of_a_uniform_rod_close_over_its_face() -> None:
    """Of the modulus, from where the thinnest string has its axis at the least gap, against the closed form."""
    heights, share = np.array([0.28e-3, 0.33e-3, 0.6e-3, 1.5e-3]), np.array([0.0, 0.3, 0.7, 0.9, 1.0, 1.1, 1.5])
    for radius in (0.5e-3, 2.4e-3, 4e-3, 6.5e-3):
        field = uniform(radius).field
        Z, X = (g.ravel() for g in np.meshgrid(heights, share * radius, indexing="ij"))
        magnet = magpylib.magnet.Cylinder(polarization=(0, 0, 1.0), dimension=(2 * radius, BENCH_LENGTH),
                                          position=(0, 0, -BENCH_LENGTH / 2))
        exact = magnet.getB(np.stack([X, 0 * X, Z], axis=-1)).T
        off = np.linalg.norm(field.bias(np.stack([X, 0 * X, Z])) - exact, axis=0) / np.linalg.norm(exact, axis=0)
        assert off.max() < 1e-2, f"radius {1e3 * radius} mm: {off.reshape(heights.size, -1)}"


def uniform(radius: float) -> SolvedRow:
    ideal = linear_magnet(name="ideal", remanence=1.0, mu_recoil=1.0)
    return solve_row([placed(rod(radius))], replace(BENCH_COIL, inner_radius=radius + 1e-3), {"bench": ideal},
                     quality=QUALITIES["draft"], history="after", band=(LOWEST, 8e-3))
