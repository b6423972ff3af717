"""Sums by clusters against every charge by itself."""

from __future__ import annotations

import numpy as np
import pytest

from stringflux.solver.solid import charges as module
from stringflux.solver.solid.charges import Charges
from stringflux.solver.solid.clusters import FAR, STANDING, Beside, Clusters, potentials


def twelve_magnets() -> Charges:
    """Charges all over twelve rods and in a flat sheet under them, as many as a build has; one excitation complex."""
    rng = np.random.default_rng(7)
    rods = [np.stack([2.4e-3 * np.sqrt(a) * np.cos(6.283 * b), y + 2.4e-3 * np.sqrt(a) * np.sin(6.283 * b),
                      -17e-3 * c]) for y in np.linspace(-30e-3, 30e-3, 12)
            for a, b, c in [rng.random((3, 3000))]]
    sheet = np.stack([*(rng.random((2, 8000)) * np.array([[20e-3], [80e-3]]) - np.array([[10e-3], [40e-3]])),
                      np.full(8000, -18e-3)])
    places = np.concatenate([*rods, sheet], axis=1)
    return Charges(places=places, values=rng.normal(size=(2, places.shape[1])) * np.array([[1.0], [1.0 + 0.3j]]))


def along_a_string(y: float, over: float) -> np.ndarray:
    x, across, up = np.meshgrid(np.linspace(-30e-3, 30e-3, 41), y + np.linspace(-3e-3, 3e-3, 5),
                                over + np.linspace(0, 5e-3, 6), indexing="ij")
    return np.stack([x.ravel(), across.ravel(), up.ravel()])


@pytest.mark.parametrize("y", [0.0, 5.2e-3, 31e-3])
@pytest.mark.parametrize("over", [0.2e-3, 2e-3])
def test_clusters_give_what_every_charge_gives(y: float, over: float, monkeypatch: pytest.MonkeyPatch) -> None:
    charges, points = twelve_magnets(), along_a_string(y, over)
    chosen = [Beside(middle=y, reach=8e-3, inside=inside) for inside in (True, False)]
    found = [charges.beside(points, some) for some in chosen]
    monkeypatch.setattr(module, "_MANY", np.inf)
    for some, sums in zip(chosen, found, strict=True):
        each = charges.beside(points, some)
        for one, other in zip(sums, each, strict=True):
            assert np.abs(one - other).max() < 1e-5 * np.abs(other).max()
    assert sum(found) == pytest.approx(charges.field(points), abs=1e-5 * float(np.abs(found[1]).max()))


@pytest.mark.parametrize("sides", [(1, 1, 1), (1, 1, 0.1), (1, 0.2, 0.2), (1, 0.05, 0.05)])
@pytest.mark.parametrize("charged", ["ends", "all over", "at random"])
def test_few_charges_stand_for_a_box_as_near_as_they_serve(sides: tuple[float, ...], charged: str) -> None:
    rng = np.random.default_rng(1)
    places = rng.uniform(-1e-3, 1e-3, (3, 3000)) * np.array(sides)[:, None]
    if charged == "ends":
        places[2] = np.where(rng.random(3000) < 0.5, 1e-3, -1e-3) * sides[2]
    of = {"ends": np.sign(places[2]), "all over": np.ones(3000), "at random": rng.normal(size=3000)}
    values = of[charged][None]
    stand, charges = Clusters(places=places, values=values)._together
    assert charges.shape == (1, STANDING)
    around = rng.normal(size=(3, 300))
    around *= FAR * np.linalg.norm(np.ptp(places, axis=1)) / 2 / np.linalg.norm(around, axis=0)
    each = Charges(places=places, values=values).field(around)
    assert np.abs(Charges(places=stand, values=charges).field(around) - each).max() < 2e-5 * np.abs(each).max()


def test_field_is_the_slope_of_the_potential() -> None:
    charges, points, d = twelve_magnets(), along_a_string(5.2e-3, 2e-3)[:, ::40], 1e-6
    potential, field = charges.potential_and_field(points)
    assert potential == pytest.approx(charges.values @ potentials(charges.places, points))
    assert field == pytest.approx(charges.field(points))
    for axis, step in enumerate(np.eye(3)[:, :, None] * d):
        ahead, behind = (charges.potential_and_field(points + side * step)[0] for side in (1, -1))
        slope = (behind - ahead) / (2 * d)
        assert field[:, axis] == pytest.approx(slope, abs=1e-5 * float(np.abs(field).max()))
