"""The row: coupling of poles, mirror images, history of the magnets, azimuthal orders."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rigs.fields.shapes import BENCH_MAGNET, placed, rod
from stringflux.geometry.arrays import Array
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.shapes.row import PartShape, PlacedPole, PoleShape, Racetrack
from stringflux.solver.materials import ConstantPermeability, find_material
from stringflux.solver.row.coupling import mirror_images
from stringflux.solver.row.numerics import SHIPPED, RowNumerics
from stringflux.solver.row.rings import ring_kernel
from stringflux.solver.row.solve import SolvedRow, solve_row

COIL = Racetrack(inner_radius=3e-3, straight=20e-3, build=4e-3, bottom=-13e-3, top=-2e-3, turns=1)
ALNICO = find_material("alnico-5")
STEEL = ConstantPermeability(name="steel", mu_r=300.0)


def row(places: list[PlacedPole], material: object, history: str = "after",
        numerics: RowNumerics = SHIPPED) -> SolvedRow:
    return solve_row(places, COIL, {places[0].shape.parts[0].material: material}, quality=QUALITIES["draft"],
                     history=history, band=(1e-3, 7e-3), numerics=numerics)


def three(material: str = "alnico-5", faces: tuple[float, ...] = (0.0, 0.0, 0.0)) -> list[PlacedPole]:
    polarity = 0 if material == "steel" else 1
    shape = rod(material=material, polarity=polarity)
    return [placed(shape, y=y, face=f) for y, f in zip((-10e-3, 0.0, 10e-3), faces, strict=True)]


def test_mirror_images_are_found_and_change_nothing() -> None:
    """The half that is copied from its mirror image must equal a full solve (broken by a trifle of height)."""
    even = row(three(), ALNICO)
    uneven = row(three(faces=(0.0, 0.0, 1e-9)), ALNICO)
    assert mirror_images(three()) == [0, 1, 0]
    assert mirror_images(three(faces=(0.0, 0.0, 1e-4))) is None
    p = np.array([[0.5e-3] * 3, [-11e-3, 0.3e-3, 10e-3], [2.5e-3] * 3])
    assert even.field.bias(p) == pytest.approx(uneven.field.bias(p), rel=2e-4, abs=1e-6)
    assert even.field.reciprocal(p) == pytest.approx(uneven.field.reciprocal(p), rel=2e-4, abs=1e-9)


def test_neighbours_of_equal_polarity_demagnetise_each_other() -> None:
    alone = row([placed(rod(material="alnico-5"))], ALNICO).face_field(0.5e-3)[0]
    middle = row(three(), ALNICO).face_field(0.5e-3)[1]
    assert 0.6 < middle / alone < 0.98


def test_history_of_the_magnets() -> None:
    """Equal polarity: the neighbours demagnetise, both histories end on the major curve. Alternating: they
    help, and magnets charged before assembly only climb their recoil line."""
    both = [row(three(), ALNICO, h).face_field(1e-3) for h in ("before", "after")]
    assert both[0] == pytest.approx(both[1], rel=2e-3)
    turned = rod(material="alnico-5", polarity=-1)
    alternating = [p if i != 1 else replace(p, shape=turned) for i, p in enumerate(three())]
    before, after = (np.abs(row(alternating, ALNICO, h).face_field(1e-3)) for h in ("before", "after"))
    assert np.all(before < after)
    alone = row([placed(rod(material="alnico-5"))], ALNICO).face_field(1e-3)[0]
    assert before[1] > alone


def test_what_signals_meet_is_no_part_of_the_bias() -> None:
    """Straight magnets beside each other: B₀ goes by the recoil line, and b by what a signal meets."""
    places = three("bench")
    as_recoil, less = (row(places, replace(BENCH_MAGNET, mu_reversible=mu)) for mu in (None, 2.0))
    p = np.array([[0.5e-3] * 3, [-11e-3, 0.3e-3, 10e-3], [2.5e-3] * 3])
    assert less.field.bias(p) == pytest.approx(as_recoil.field.bias(p), rel=2e-4, abs=1e-6)
    assert np.all(less.field.reciprocal(p)[2] < 0.95 * as_recoil.field.reciprocal(p)[2])


def test_coupling_of_steel_is_stronger_than_of_rods() -> None:
    steel, rods = row(three("steel"), STEEL), row(three("bench"), BENCH_MAGNET)
    assert steel.signal.coupling > 1.5 * rods.signal.coupling > 0.01


def test_steel_over_a_magnet_has_settled_when_the_rounds_end() -> None:
    """Neighbours 19 mm off change so little that a residual in A/m hardly shows it, the B of steel all the more:
    solved as roughly as magnets are (`steel` 1), the slugs' fields end 6e-4 off."""
    def cylinder(radius: float, top: float, length: float) -> tuple[tuple[float, float], ...]:
        return (0.0, top - length), (radius, top - length), (radius, top), (0.0, top)

    parts = (PartShape(material="steel-1008", outline=cylinder(2.4e-3, 0.0, 12e-3)),
             PartShape(material="ndfeb-38", outline=cylinder(4.5e-3, -12e-3, 4e-3), polarity=1))
    up, down = (PoleShape(parts=(parts[0], replace(parts[1], polarity=p))) for p in (1, -1))
    materials = {name: find_material(name) for name in ("steel-1008", "ndfeb-38")}

    def fields(numerics: RowNumerics = SHIPPED) -> Array:
        places = [placed(up, y=-9.5e-3), placed(down, y=9.5e-3, face=0.1e-3)]
        return solve_row(places, COIL, materials, quality=QUALITIES["draft"], history="before",
                         band=(1e-3, 6e-3), numerics=numerics).face_field(2.5e-3)

    settled = fields(RowNumerics(tolerance=1e-8, steel=1e-4))
    assert fields() == pytest.approx(settled, rel=2e-5)  # a fifth of what the rounds promise


def test_every_pair_is_coupled() -> None:
    """Take away a pole two places off: the first pole must notice."""
    places = three("steel")
    near = row(places[:2], STEEL)
    far = row(places, STEEL)
    change = np.linalg.norm(far.signal.charges[0] - near.signal.charges[0]) / np.linalg.norm(far.signal.charges[0])
    assert change > 1e-3


def test_azimuthal_order_1_matters_off_the_axis_and_order_2_hardly() -> None:
    """b_z 1 and 2 mm off the end pole of a steel row: without order 1 it errs by per cents, order 2 adds little."""
    p = np.array([[0.0] * 4, [8e-3, 9e-3, 11e-3, 12e-3], [3e-3] * 4])
    b = {n: row(three("steel"), STEEL, numerics=RowNumerics(orders=n)).field.reciprocal(p)[2] for n in (1, 2, 3)}
    assert np.max(np.abs(b[1] / b[2] - 1)) > 0.02
    assert np.max(np.abs(b[3] / b[2] - 1)) < 0.01


def test_sense_and_turns_after_the_solve() -> None:
    one = row(three("bench"), BENCH_MAGNET)
    wound = one.wound(-100.0)
    p = np.array([[0.5e-3], [1e-3], [3e-3]])
    assert wound.field.reciprocal(p) == pytest.approx(-100 * one.field.reciprocal(p))
    assert wound.field.bias(p) == pytest.approx(one.field.bias(p))
    assert wound.inductance == pytest.approx(1e4 * one.inductance)


def test_bias_has_no_divergence_and_no_curl_between_the_poles() -> None:
    field = row(three(), ALNICO).field
    at = np.array([1.1e-3, 3.7e-3, 2.9e-3])
    h = 2e-5
    d = np.empty((3, 3))
    for i in range(3):
        e = np.zeros(3)
        e[i] = h
        d[i] = (field.bias((at + e)[:, None]) - field.bias((at - e)[:, None]))[:, 0] / (2 * h)
    scale = np.max(np.abs(d))
    assert abs(np.trace(d)) < 2e-3 * scale
    assert np.max(np.abs(d - d.T)) < 2e-3 * scale


def test_a_steel_pole_beside_a_magnet() -> None:
    """A pole without a magnet of its own takes its bias from its neighbours: opposite in sign beside a rod."""
    places = [placed(rod(material="steel", polarity=0), y=-8e-3), placed(rod(material="bench"), y=0.0)]
    mixed = solve_row(places, COIL, {"steel": STEEL, "bench": BENCH_MAGNET}, quality=QUALITIES["draft"],
                      history="before", band=(1e-3, 7e-3))
    field = mixed.face_field(1e-3)
    assert field[1] > 0.1
    assert -0.5 * field[1] < field[0] < 0


def test_tables_over_poles_of_unequal_height() -> None:
    """A string over a low pole lies beside a tall one, below its face: the tall pole's table must serve both."""
    places = three("bench", faces=(0.0, 3e-3, 0.0))
    uneven = solve_row(places, COIL, {"bench": BENCH_MAGNET}, quality=QUALITIES["draft"], history="after",
                       band=(1e-3, 8e-3), floors=(1e-3, 4e-3, 1e-3))
    cells = uneven.cells[rod()]
    r, z = cells.section.nodes[:, cells.section.pole]
    r = np.maximum(r, 5e-5)  # a charge is per r^m, on the axis the limit
    for height, off, pole in ((1.2e-3, 0.4e-3, 1), (2.5e-3, 1.0e-3, 1), (-1.5e-3, 9e-3, 1), (1.5e-3, 0.3e-3, 0)):
        charges = uneven.bias.charges[pole]
        kernel = ring_kernel(np.array([off]), np.array([height]), r, z, len(charges), 40)
        h = sum(np.cos(m * np.pi / 2) * (kernel[m, 2, 0] @ (q / r**m)) for m, q in enumerate(charges)) / (4 * np.pi)
        table = uneven.field.poles[pole](np.array([off]), np.array([0.0]), np.array([height]))[0, 2, 0]
        assert table == pytest.approx(h, rel=3e-4, abs=8.0)  # 8 A/m is 0.01 mT, beside 60 mT of the own pole
