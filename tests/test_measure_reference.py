"""The table by azimuthal orders solves with the orders it names."""

from __future__ import annotations

from dataclasses import replace

from measure.reference import ROWS
from stringflux.solver.row.numerics import SHIPPED


def test_a_row_of_the_table_has_its_orders() -> None:
    few, all_of = (ROWS["3_six_rods"](replace(SHIPPED, orders=count)) for count in (1, SHIPPED.orders))
    assert (len(few.signal.charges[0]), len(all_of.signal.charges[0])) == (1, 3)
    assert 1e-3 < abs(few.inductance / all_of.inductance - 1) < 0.01  # 0.28 against 0.01 % off
