"""The small equivalent circuit as a SPICE subcircuit.

Three pins: `out` and `cold` are the coil's ends; a source from `emf` to `cold` is the strings' voltage, and `emf`
tied to `cold` leaves the bare two-terminal coil.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from .circuit import CoilCircuit

_WIDTH = 72


def subcircuit(circuit: CoilCircuit, name: str = "coil", remarks: Sequence[str] = ()) -> str:
    """Text of a `.subckt` with the winding's resistance, the fitted ladder and the capacitances of winding and lead.

    Parameters
    ----------
    circuit : CoilCircuit
    name : str
        Of the subcircuit; what SPICE would not take in it becomes an underscore.
    remarks : sequence of str
        Comment lines on top.

    Notes
    -----
    A loss factor of the capacitance becomes a resistor across it, right at the unloaded resonance only.
    """
    ladder = circuit.ladder
    chain: list[tuple[tuple[str, float], ...]] = [(("Rw", circuit.resistance),)] if circuit.resistance else []
    if ladder.inductance:
        chain.append((("L0", ladder.inductance),))
    chain += [((f"L{k}", l), (f"R{k}", r)) for k, (r, l) in enumerate(ladder.branches, start=1)]
    nodes = ["emf", *(f"n{i}" for i in range(1, len(chain))), "out"]
    lines = [f"* {line}" for text in remarks for line in _folded(text)]
    lines += ["* a source from emf to cold is the strings' voltage; tie emf to cold for the coil's impedance",
              f"* fitted to the field computation within {ladder.residual:.2g} of L - jR/w, "
              f"{circuit.frequency[0]:.6g} to {circuit.frequency[-1]:.6g} Hz",
              f".subckt {subcircuit_name(name)} out cold emf"]
    for start, end, elements in zip(nodes, nodes[1:], chain, strict=False):
        lines += [f"{element} {start} {end} {value:.8g}" for element, value in elements]
    lines.append(f"Cw out cold {circuit.capacitance:.8g}")
    if circuit.lead:
        lines.append(f"Cl out cold {circuit.lead:.8g}")
    top = circuit.resonance() if circuit.loss else None
    if top is not None:
        conductance = 2 * 3.141592653589793 * top.frequency * circuit.capacitance * circuit.loss
        lines.append(f"Rc out cold {1 / conductance:.8g}")
    return "\n".join([*lines, f".ends {subcircuit_name(name)}", ""])


def subcircuit_name(name: str) -> str:
    """A name SPICE takes: letters, digits and underscores, a letter first.

    Examples
    --------
    >>> subcircuit_name("6-string, no. 2")
    'c6_string_no_2'
    """
    plain = re.sub(r"[^A-Za-z0-9]+", "_", name).strip("_") or "coil"
    return plain if plain[0].isalpha() else f"c{plain}"


def _folded(text: str) -> list[str]:
    """Comment lines in plain letters, short enough for every reader."""
    plain = text.encode("ascii", "replace").decode("ascii").replace("\n", " ")
    return [plain[i : i + _WIDTH] for i in range(0, len(plain), _WIDTH)]
