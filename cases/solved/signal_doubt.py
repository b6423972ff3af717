"""What the doubt about the permeability that a signal meets does to a case: its inductance, and S.

Of magnets and steel it is known within a range alone. With all of them at one end of theirs together the small-signal
field is solved again; S goes as b at the string (the bias, and what poles answer to a string's own field, are kept).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from stringflux.solver.materials import BodyMaterial, Materials, is_magnet, is_steel, is_string_metal
from stringflux.solver.materials.doubt import at_signal_end

if TYPE_CHECKING:
    from .abstract import SolvedCase

_SMALL = 5e-4  # of L and S: less is not worth a sentence


def signal_materials(materials: Materials) -> tuple[Materials, ...]:
    """All materials at the least and at the largest of what signals meet; () where nothing is in doubt."""
    ends = tuple({name: m if is_string_metal(m) else at_signal_end(m, end) for name, m in materials.items()}
                 for end in (0, 1))
    return ends if any(m is not materials[name] for name, m in ends[0].items()) else ()


def inductance_span(nominal: complex, ends: Sequence[complex]) -> tuple[float, float]:
    """Least and largest L that this doubt leaves open, over the nominal one, from those at both ends; (1, 1) for no
    ends."""
    shares = [1.0, *(abs(end) / abs(nominal) for end in ends)]
    return min(shares), max(shares)


def signal_notes(solved: SolvedCase, stage: Callable[[str], None] = lambda stage: None) -> tuple[str, ...]:
    """What is assumed of magnets and steel for a signal, and what that leaves open, as a sentence; () for nothing."""
    assumed = _assumed(solved)
    if not assumed:
        return ()
    stage("doubt about signals")
    ends, solution = solved.signal_ends(), solved.solution()
    told = f"a signal meets a permeability of {'; '.join(assumed)}"
    if not ends:
        return (f"{told}; what that leaves open in L and S is not computed for long bars.",)
    L = [abs(end.inductance) for end in ends]
    at = np.array([[0.0, s.y, s.shape.axis_height] for s in solved.strings]).T
    b = np.abs(solution.field.reciprocal(at)[2])
    heard = b > 1e-2 * np.max(b)
    share = [np.abs(end.field.reciprocal(at)[2])[heard] / b[heard] - 1 for end in ends]
    span = (min(np.min(s) for s in share), max(np.max(s) for s in share))
    if max(*np.abs(span), *(abs(x / abs(solution.inductance) - 1) for x in L)) < _SMALL:
        return ()
    low, high = (f"{x:.3g} H" if x >= 0.1 else f"{x * 1e3:.3g} mH" for x in (min(L), max(L)))
    heard_so = f" and S {_percent(span[0])} to {_percent(span[1])} %" if solved.case.is_magnetised else ""
    return (f"{told}; by that doubt alone L is {low if low == high else f'{low} to {high}'}{heard_so}, "
            "which the printed ranges leave out.",)


def _percent(share: float) -> str:
    return f"{100 * share + 0.0:+.2g}"


def _assumed(solved: SolvedCase) -> list[str]:
    """Of every material in doubt: its name, nominal value and range; of steel what its bias leaves of it is used."""
    names = {b.material for b in solved.case.solid_bodies()}
    return [said for name in sorted(names) if (said := _of(solved.materials[name]))]


def _of(m: object) -> str:
    material: BodyMaterial = m  # type: ignore[assignment]
    if is_magnet(material):
        value, (low, high), where = material.mu_signal, material.mu_signal_range, ""
    elif is_steel(material):
        value, (low, high) = material.mu_reversible, material.mu_reversible_range
        where = ", less in the magnets' field"
    else:
        return ""
    return f"{value:.3g} ({low:.3g} to {high:.3g}) in {material.name}{where}" if low < high else ""
