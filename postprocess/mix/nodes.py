r"""A network of admittances between named nodes, Y v = J, for many frequencies at once.

With J a unit current into one node, v are the transfer impedances from there, Ω. Resistors of 0 Ω are no large
admittances: their ends are one node, so nothing is lost to rounding.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from stringflux.geometry.arrays import Array, ComplexArray

GROUND = "ground"


class Nodes:
    """Admittances between named nodes, for many frequencies at once."""

    def __init__(self, frequency: Array) -> None:
        self.frequency = frequency
        self._joined: dict[str, str] = {}
        self._parts: list[tuple[str, str, ComplexArray | complex]] = []

    def admittance(self, a: str, b: str, value: ComplexArray | complex) -> None:
        """Put an admittance (k,), S, between two nodes."""
        self._parts.append((a, b, value))

    def resistor(self, a: str, b: str, ohms: float) -> None:
        """Put a resistor; one of 0 Ω makes both nodes one, one of infinite resistance is nothing."""
        if ohms == 0:
            a, b = self.name(a), self.name(b)
            keep, drop = (a, b) if a == GROUND else (b, a)
            if keep != drop:
                self._joined[drop] = keep
        elif np.isfinite(ohms):
            self.admittance(a, b, 1 / ohms)

    def name(self, node: str) -> str:
        """The node that a name stands for."""
        while node in self._joined:
            node = self._joined[node]
        return node

    def matrix(self) -> tuple[dict[str, int], ComplexArray]:
        """Rows of the nodes besides ground, and Y (k, n, n)."""
        ends = [(self.name(a), self.name(b), y) for a, b, y in self._parts]
        rows = {n: i for i, n in enumerate(sorted({n for a, b, _ in ends for n in (a, b)} - {GROUND}))}
        Y = np.zeros((self.frequency.size, len(rows), len(rows)), dtype=complex)
        for a, b, y in ends:
            if a == b:
                continue
            for p, q in ((a, b), (b, a)):
                if p != GROUND:
                    Y[:, rows[p], rows[p]] += y
                    if q != GROUND:
                        Y[:, rows[p], rows[q]] -= y
        return rows, Y

    def voltages(self, driven: str, wanted: Sequence[str]) -> ComplexArray:
        """Voltages (len(wanted), k) for a unit current into a node."""
        rows, Y = self.matrix()
        out = np.zeros((len(wanted), self.frequency.size), dtype=complex)
        if self.name(driven) == GROUND:
            return out
        current = np.zeros((len(rows), 1), dtype=complex)
        current[rows[self.name(driven)]] = 1.0
        v = np.linalg.solve(Y, current)[:, :, 0]
        for i, node in enumerate(wanted):
            if self.name(node) != GROUND:
                out[i] = v[:, rows[self.name(node)]]
        return out
