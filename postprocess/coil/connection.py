r"""Several coils of one pickup, coupled by their fields, as one two-terminal source.

Coil i has the voltage e_i of the strings in its winding, the resistance R_i, its own capacitance C_i (loss tan δ)
across it; L(f) = L − jR_e/ω is the complex matrix of all of them, Z = diag(R) + jωL, Y_C = diag(jωC(1 − j tan δ)).
With the currents j into the coils' ends ::

    v = (1 + Z Y_C)⁻¹ (e + Z j)

    series      j = s J, V = sᵀv:   Z_out = sᵀ(1 + Z Y_C)⁻¹ Z s,        V_open = wᵀe,  w = sᵀ(1 + Z Y_C)⁻¹
    one alone   the same with s = 0 for the others: they stay there with open ends, coupled and with their C
    parallel    v = s V, J = sᵀj:   Z_out = 1/(sᵀ Z⁻¹ s + sᵀ Y_C s),    V_open = wᵀe,  w = Z_out sᵀ Z⁻¹

s = ±1, −1 for a coil with its ends exchanged. One coil R, L_c, C has the same terminals where ::

    series      R = Σ R_i,   L_c = sᵀLs,   C = Σ C_i a_i²,   a_i = (Ls)_i/(sᵀLs): share of the voltage across coil i
    one alone   the same; so an open coil of coupling M/L_i adds C_j (M/L_i)²
    parallel    1/R = Σ 1/R_i,   R + jωL_c = 1/(sᵀZ⁻¹s),   C = Σ C_i                                        (exact)

In series it is exact for identical coils, coupled or not; for others it holds below resonance, and
:meth:`CoilNetwork.circuit_error` tells how well. Two identical coils with the mutual inductance M of their connected
senses have L + M and C in both: one resonance for both, at 1/√(1 + M/L) of that of a coil alone; without M it is
the coil's own (Paiva et al.). Capacitance between coils is left out. The lead is one, at the terminals of all: with
its admittance Y_l there, Z_out and w are both over 1 + Z_out Y_l.

References
----------
Coils in series and their one resonance: R. C. D. Paiva, J. Pakarinen, V. Välimäki, *J. Audio Eng. Soc.* 60(10)
(2012). The rest: derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from stringflux.geometry.arrays import Array, ComplexArray

from .circuit import CoilCircuit, Resonance, coil_circuit, highest
from .ladder import BRANCHES
from .shares import joined_resistance, static_weights


@dataclass(frozen=True, kw_only=True, eq=False)
class CoilNetwork:
    """Connected coils; make one by :func:`coil_network`.

    Attributes
    ----------
    coils : tuple of CoilCircuit
        Each as if it were alone.
    coupling : complex array (n, k, k)
        L_ij/√(L_ii L_jj) at the coils' frequencies.
    signs : array (k,)
        s: 1, −1, or 0 for a coil with open ends.
    parallel : bool
    static_weights : array (k,)
        w at low frequencies; in parallel where ωL is well over R.
    lead : float
        Capacitance of the pickup's lead, F.
    """

    coils: tuple[CoilCircuit, ...]
    coupling: ComplexArray
    signs: Array
    parallel: bool
    static_weights: Array
    lead: float = 0.0

    @property
    def frequency(self) -> Array:
        """Where the inductances are known, Hz (n,)."""
        return self.coils[0].frequency

    @property
    def resistance(self) -> float:
        """At the terminals at direct current, Ω."""
        return self.resistance_of([c.resistance for c in self.coils])

    def resistance_of(self, each: Sequence[float]) -> float:
        """The same if the coils had these, Ω."""
        return joined_resistance(np.asarray(each)[self.signs != 0], self.parallel)

    @property
    def inductance(self) -> float:
        """L of the equivalent coil, wᵀLw with the static weights at the lowest frequency, H."""
        L = self.matrix(self.frequency[:1])[0].real
        return float(self.static_weights @ L @ self.static_weights)

    @property
    def capacitance(self) -> float:
        """C of the equivalent coil without the lead, F."""
        C = np.array([c.capacitance for c in self.coils])
        return float(np.sum(C) if self.parallel else C @ self._shares**2)

    @property
    def loss(self) -> float:
        """tan δ of that capacitance."""
        part = np.array([c.capacitance * c.loss for c in self.coils])
        return float(np.sum(part) if self.parallel else part @ self._shares**2) / self.capacitance

    @property
    def _shares(self) -> Array:
        """a (k,): the voltage across each coil as part of the whole, in series."""
        across = self.matrix(self.frequency[:1])[0].real @ self.signs
        return np.asarray(across / (self.signs @ across))

    def matrix(self, frequency: Array) -> ComplexArray:
        """L_c (m, k, k), H, at any frequencies (m,) from 0 Hz.

        The coils' own as :meth:`CoilCircuit.inductance_at` has them; the coupling runs straight over log f between
        the computed frequencies and stays beyond them.
        """
        f = np.asarray(frequency, dtype=float)
        own = np.sqrt(np.stack([c.inductance_at(f) for c in self.coils], axis=1))
        known = np.log(self.frequency)
        at = np.log(np.clip(f, self.frequency[0], self.frequency[-1]))
        k = len(self.coils)
        between = np.empty((f.size, k, k), dtype=complex)
        for i in range(k):
            for j in range(k):
                r = self.coupling[:, i, j]
                between[:, i, j] = np.interp(at, known, r.real) + 1j * np.interp(at, known, r.imag)
        return np.asarray(own[:, :, None] * between * own[:, None, :])

    def impedance(self, frequency: Array) -> ComplexArray:
        """Z at the terminals, Ω (m,)."""
        return self._solved(frequency)[0]

    def weights(self, frequency: Array) -> ComplexArray:
        """w (k, m): the open terminals' voltage is Σ w_i e_i."""
        return self._solved(frequency)[1]

    def opened(self, frequency: Array) -> ComplexArray:
        """Voltage at the open terminals over that at low frequencies (m,), the coils' own as √L_ii and adding.

        For identical coils it is that of any voltages.
        """
        e = np.sqrt(self.matrix(self.frequency[:1])[0].real.diagonal()) * np.sign(self.static_weights)
        return np.asarray(e @ self.weights(frequency) / (self.static_weights @ e))

    def series(self, frequency: Array) -> ComplexArray:
        """Voltage of the strings over the current into a short circuit, Ω, for the same voltages."""
        return np.asarray(self.impedance(frequency) / self.opened(frequency))

    def shunt(self, frequency: Array) -> ComplexArray:
        """Admittance that stands across it at the terminals, S: what :class:`.LoadedCoil` asks a coil for."""
        return np.asarray((1 - self.opened(frequency)) / self.impedance(frequency))

    def ways(self, frequency: Array) -> ComplexArray:
        """w_k over :meth:`opened` (k, m): what each coil's voltage counts in the EMF of `series` and `shunt`.

        In series and identical it is the static weight at all frequencies.
        """
        return np.asarray(self.weights(frequency) / self.opened(frequency))

    def _solved(self, frequency: Array) -> tuple[ComplexArray, ComplexArray]:
        """Z (m,) and w (k, m) with the lead."""
        f = np.atleast_1d(np.asarray(frequency, dtype=float))
        out, w = self._without_lead(f)
        share = 1 / (1 + 2j * np.pi * f * self.lead * out)
        return out * share, w * share

    def _without_lead(self, f: Array) -> tuple[ComplexArray, ComplexArray]:
        Z = self._windings(f)
        Y = np.stack([c.shunt(f) for c in self.coils], axis=1)  # (m, k)
        s = self.signs
        if self.parallel:
            x = np.linalg.solve(Z, np.broadcast_to(s[:, None], (f.size, s.size, 1)))[:, :, 0]
            out = 1 / (x @ s + Y @ s**2)
            return out, np.asarray((out[:, None] * x).T)
        to_open = np.swapaxes(np.eye(s.size) + Z * Y[:, None, :], 1, 2)
        w = np.linalg.solve(to_open, np.broadcast_to(s[:, None], (f.size, s.size, 1)))[:, :, 0]
        return np.einsum("mi,mij,j->m", w, Z, s), np.asarray(w.T)

    def _windings(self, f: Array) -> ComplexArray:
        """Z of the windings without their capacitance (m, k, k), Ω."""
        R = np.diag([c.resistance for c in self.coils])
        return np.asarray(R + 2j * np.pi * f[:, None, None] * self.matrix(f))

    def resonance(self) -> Resonance | None:
        """The unloaded resonance: the highest peak of |Z|, or None."""
        peak = highest(lambda f: np.abs(self.impedance(f)))
        if peak is None:
            return None
        return Resonance(frequency=peak[0], magnitude=peak[1],
                         quality=peak[1] * 2 * np.pi * peak[0] * (self.capacitance + self.lead))

    def with_capacitance(self, capacitance: Sequence[float]) -> CoilNetwork:
        """The same with other capacitances of the windings, F."""
        return replace(self, coils=tuple(replace(c, capacitance=value)
                                         for c, value in zip(self.coils, capacitance, strict=True)))

    def circuit(self, branches: int = BRANCHES) -> CoilCircuit:
        """The one coil that has these terminals: for loads, mixes and SPICE."""
        f = self.frequency
        if self.parallel:
            x = np.linalg.solve(self._windings(f), np.broadcast_to(self.signs[:, None], (f.size, self.signs.size, 1)))
            L = (1 / (x[:, :, 0] @ self.signs) - self.resistance) / (2j * np.pi * f)
        else:
            L = np.einsum("i,mij,j->m", self.signs, self.matrix(f), self.signs)
        return coil_circuit(frequency=f, inductance=L, resistance=self.resistance, capacitance=self.capacitance,
                            loss=self.loss, lead=self.lead, branches=branches)

    def circuit_error(self) -> float:
        """Largest relative error of that coil's Z between the first and the last frequency."""
        f = np.geomspace(self.frequency[0], self.frequency[-1], 400)
        return float(np.max(np.abs(self.circuit().impedance(f) / self.impedance(f) - 1)))


def coil_network(*, how: str, names: Sequence[str], turned: Sequence[str] = (), frequency: Array,
                 inductance: ComplexArray | Array, resistance: Sequence[float], capacitance: Sequence[float],
                 loss: Sequence[float] = (), lead: float = 0.0) -> CoilNetwork:
    """Connect coils.

    Parameters
    ----------
    how : str
        "series", "parallel", or the name of the only coil that is connected.
    names, turned : sequence of str
        Of all coils, and of those with their ends exchanged.
    frequency : array (n,)
        Hz, rising.
    inductance : array (n, k, k) or (k, k)
        L − jR_e/ω of the coils as they are wound, H; one real matrix stands for all frequencies.
    resistance, capacitance : sequence of float
        Of each coil's wire, Ω, and of each winding, F.
    loss : sequence of float
        tan δ of each capacitance; 0 where it is left out.
    lead : float
        Capacitance of the lead of all, F.

    Raises
    ------
    ValueError
        If the numbers do not fit each other, or the coils would give energy away.

    Examples
    --------
    Two equal coils far apart resonate as one alone does, in series and in parallel:

    >>> for how in ("a", "series", "parallel"):
    ...     pair = coil_network(how=how, names=("a", "b"), frequency=np.array([100.0]), inductance=2.0 * np.eye(2),
    ...                         resistance=(4e3, 4e3), capacitance=(100e-12, 100e-12))
    ...     print(pair.resistance, round(pair.inductance, 9), round(pair.resonance().frequency))
    4000.0 2.0 11254
    8000.0 4.0 11254
    2000.0 1.0 11254
    """
    f, k = np.asarray(frequency, dtype=float), len(names)
    L = np.broadcast_to(np.asarray(inductance, dtype=complex), (f.size, k, k))
    if len(resistance) != k or len(capacitance) != k or min(resistance, default=0.0) <= 0:
        raise ValueError(f"received {len(resistance)} resistances and {len(capacitance)} capacitances for {k} coils; "
                         "write one above 0 for each")
    if len(loss) not in (0, k):
        raise ValueError(f"received {len(loss)} losses for {k} coils; write one for each, or none")
    if how not in ("series", "parallel", *names):
        raise ValueError(f"received the connection {how!r}; write series, parallel or one of {', '.join(names)}")
    if np.max(np.abs(L - np.swapaxes(L, 1, 2))) > 1e-3 * np.max(np.abs(L)):
        raise ValueError("inductance: received a matrix that is not symmetric; coils act on each other alike")
    if (np.linalg.eigvalsh((L + np.swapaxes(L, 1, 2)).real / 2) <= 0).any():
        raise ValueError("inductance: received a matrix with a coupling over 1; M is less than the root of both L")
    own = np.sqrt(np.diagonal(L, axis1=1, axis2=2))
    coils = tuple(coil_circuit(frequency=f, inductance=L[:, i, i], resistance=float(resistance[i]),
                               capacitance=float(capacitance[i]), loss=float(loss[i]) if len(loss) else 0.0)
                  for i in range(k))
    parallel = how == "parallel"
    signs = static_weights("series" if parallel else how, turned, names, L[0].real)
    return CoilNetwork(coils=coils, coupling=L / (own[:, :, None] * own[:, None, :]), signs=signs, parallel=parallel,
                       static_weights=static_weights(how, turned, names, L[0].real), lead=lead)
