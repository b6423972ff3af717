"""Two rows of insulated wire against lattices of bare cylinders, a series with enamel, plates, published formulas."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.geometry.arrays import Array
from stringflux.solver.capacitance.cell import EPSILON_0, Lattice, wire_cell

FINE = {"angles": 64, "rings": (6, 8)}
EXACT = 1e-3  # chords in place of arcs, 2e-4 here, and the series' last terms
SHIPPED = 6e-3  # the mesh as shipped against the fine one
MEDIUM = {"hexagonal": 3**0.5, "square": 1.0}  # permittivity of the lattice as a medium over g/ε₀


def bare_lattice(lattice: Lattice, share: float) -> float:
    """Conduction of a lattice of perfectly conducting cylinders that fill this share of the plane.

    Perrins, McKenzie & McPhedran, Proc. R. Soc. A 369 (1979) 207, the formulas of low order (from memory); good to
    1e-4 where cylinders are well apart.
    """
    f = share
    if lattice == "square":
        return 1 + 2 * f / (1 - f - 0.305827 * f**4 / (1 - 1.402958 * f**8) - 0.013362 * f**8)
    return 1 + 2 * f / (1 - f - 0.075422 * f**6 / (1 - 1.060283 * f**12) - 0.000076 * f**12)


@pytest.mark.parametrize("lattice", ["hexagonal", "square"])
@pytest.mark.parametrize("share", [0.1, 0.3, 0.5])
def test_bare_cylinders(lattice: Lattice, share: float) -> None:
    area = 3**0.5 / 2 if lattice == "hexagonal" else 1.0
    d = float(np.sqrt(share * area * 4 / np.pi))
    found = wire_cell(bare=d, overall=d, enamel=1.0, pitch=1.0, lattice=lattice, **FINE)
    assert MEDIUM[lattice] * found.pair / EPSILON_0 == pytest.approx(bare_lattice(lattice, share), rel=EXACT)
    assert found.in_enamel == 0.0


def series(bare: float, overall: float, enamel: float, between: float = 1.0, terms: int = 24) -> float:
    """g/ε₀ of a square lattice of pitch 1 by harmonics that are exact at the wire, fitted at the cell's sides.

    V is odd about the row and even about the column: Σ c_m (r^m + b_m r^−m) sin mθ with m odd, and b_m from V = 0 on
    the copper and ε ∂V/∂r at the enamel's outside. V = 1/2 half-way to the next row, ∂V/∂x = 0 half-way along it.
    """
    m = 2 * np.arange(terms) + 1
    a, b = bare / 2, overall / 2
    q = (a / b) ** (2 * m)
    k = enamel / between * (1 + q) / (1 - q)  # ε ∂V/∂r over m V/r at the outside, seen from there
    mirror = b ** (2.0 * m) * (1 - k) / (1 + k)
    s = (np.arange(400) + 0.5) / 800

    def at(x: Array, y: Array) -> tuple[Array, Array, Array]:
        """V, ∂V/∂x and ∂V/∂y of every harmonic."""
        z = (x + 1j * y)[:, None]
        scale = 0.5 ** m
        up, down = z**m / scale, mirror / z**m / scale
        return (up - down).imag, (m / z * (up + down)).imag, (m / z * (up + down)).real  # r^−m sin mθ = −Im z^−m

    top, right = at(s, np.full(s.size, 0.5)), at(np.full(s.size, 0.5), s)
    c = np.linalg.lstsq(np.vstack([top[0], right[1]]), np.concatenate([np.full(s.size, 0.5), np.zeros(s.size)]),
                        rcond=None)[0]
    return float(between * np.mean(top[2] @ c))  # twice the flux through half a cell's line


@pytest.mark.parametrize(("bare", "overall", "enamel"), [(0.6, 0.62, 3.6), (0.6, 0.75, 3.6), (0.75, 0.85, 3.0)])
def test_enamelled_wire_against_a_series(bare: float, overall: float, enamel: float) -> None:
    found = wire_cell(bare=bare, overall=overall, enamel=enamel, pitch=1.0, lattice="square", **FINE)
    assert found.pair / EPSILON_0 == pytest.approx(series(bare, overall, enamel), rel=EXACT)


@pytest.mark.slow
def test_touching_wires_settle() -> None:
    """Elements without thickness at the contact are left out: the mesh hardly matters, nor does a hair's gap."""
    for lattice in ("hexagonal", "square"):
        wire = {"bare": 0.06334e-3, "overall": 0.071e-3, "enamel": 3.6, "lattice": lattice}
        fine = wire_cell(**wire, **FINE)
        finer = wire_cell(**wire, angles=128, rings=(9, 12))
        assert fine.pair == pytest.approx(finer.pair, rel=EXACT)
        assert fine.pair > wire_cell(**wire, pitch=0.071e-3 * 1.0001, **FINE).pair > 0.99 * fine.pair
        assert wire_cell(**wire).pair == pytest.approx(fine.pair, rel=SHIPPED)


def test_one_medium() -> None:
    """What fills the cell as a whole multiplies g, and the shares of energy are those of the areas' fields."""
    air = wire_cell(bare=1.0, overall=1.15, enamel=1.0)
    wax = wire_cell(bare=1.0, overall=1.15, enamel=2.2, between=2.2)
    assert wax.pair == pytest.approx(2.2 * air.pair, rel=1e-9)
    assert wax.in_enamel == pytest.approx(air.in_enamel, rel=1e-9)


def test_share_in_the_enamel_is_the_slope() -> None:
    """∂ ln g/∂ ln ε of the enamel is its share of the energy: what tan δ of the winding is made of."""
    low, mid, high = (wire_cell(bare=1.0, overall=1.12, enamel=e) for e in (3.564, 3.6, 3.636))
    slope = np.log(high.pair / low.pair) / np.log(3.636 / 3.564)
    assert mid.in_enamel == pytest.approx(slope, rel=1e-4)


def test_between_bounds() -> None:
    """More of any dielectric is more capacitance; a square lattice's pair has more room than a hexagonal one's."""
    plain, waxed = (wire_cell(bare=1.0, overall=1.12, enamel=3.6, between=b) for b in (1.0, 2.2))
    assert plain.pair < waxed.pair < 2.2 * plain.pair
    assert wire_cell(bare=1.0, overall=1.12, enamel=3.6, lattice="square").pair > plain.pair


def straight(bare: float, overall: float, enamel: float, half: float) -> tuple[float, float]:
    """C of two touching wires over ε₀ l by straight lines along the line of centres, out to `half` either way, rad:
    enamels and air in series at every angle, and either the one or the other, whichever has less there.

    The second is C_tt = ε₀ l [ε θ*/ln(D/d) + cot(θ*/2) − cot(half/2)], θ* = arccos(1 − ln(D/d)/ε): Massarini &
    Kazimierczuk, *IEEE Trans. Power Electron.* 12 (1997) 671, for half = π/6 (the formula from memory). The first is
    derived here.
    """
    thick = np.log(overall / bare) / enamel
    theta = np.linspace(-half, half, 20001)
    series = float(np.trapezoid(1 / (2 * (1 - np.cos(theta)) + 2 * thick), theta))
    least = np.arccos(1 - thick)
    return series, float(least / thick + 1 / np.tan(least / 2) - 1 / np.tan(half / 2))


@pytest.mark.parametrize(("bare", "overall", "enamel"), [(0.06334, 0.071, 3.6), (1.0, 1.05, 3.5), (1.0, 1.2, 3.6)])
def test_between_published_formulas(bare: float, overall: float, enamel: float) -> None:
    """Straight lines through all layers miss what goes aside; with a layer less at every angle it is too much."""
    for lattice, half in (("hexagonal", np.pi / 6), ("square", np.pi / 4)):
        low, high = straight(bare, overall, enamel, half)
        found = wire_cell(bare=bare, overall=overall, enamel=enamel, lattice=lattice, **FINE).pair / EPSILON_0
        assert low < found < high
        assert found == pytest.approx(low, rel=0.11)  # the more, the thicker the enamel: 7 % at 10 %, 10 at 20


@pytest.mark.parametrize("wrong", [{"bare": 0.0}, {"overall": 0.9}, {"pitch": 1.0}, {"enamel": 0.5},
                                   {"between": float("nan")}])
def test_impossible_wires(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="write"):
        wire_cell(**{"bare": 1.0, "overall": 1.1, "enamel": 3.6} | wrong)
