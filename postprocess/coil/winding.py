"""What to wind: wire length, mass, resistance with its tolerance, capacitance, tension.

    R(T) = ρ (1 + α (T − 20 °C)) ℓ / (π d²/4),   ρ = 1/58 µΩ·m, α = 0.00393 /K (IEC 60028)

The copper's diameter d and its tolerance come from the wire's standard:

    American sizes   d from ASTM B258; ± 0.0001 in, the step of NEMA MW 1000 for fine wire (read for 29–40 AWG in
                     a maker's transcription, taken over for 41–44). Its rounded nominal moves Ω/m by up to 3 %.
                     45 and 46: ± 0.0017 mm, the limits of bare copper in the data set of geometry/case/wire.py
    metric sizes     ± 0.003 mm over 0.063 mm; at and under it the standard limits Ω/m, ± 10 % here
                     (IEC 60317-0-1; memory, not read)

Copper 8960 kg/m³. Enamel 1300 kg/m³, a usual figure. Tension: a stated fraction of the yield stress of annealed
copper, 70 MPa (handbook value, memory), times the copper's section: computed, not tabulated.

References
----------
Copper: IEC 60028. Sizes and tolerances: ASTM B258; NEMA MW 1000, read in a maker's transcription; IEC 60317-0-1
(memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from stringflux.geometry.case.model import Case
from stringflux.geometry.case.wire import SCATTERED_FILL, Wire, most_turns
from stringflux.solver.coil.air import inductance

from .capacitance import winding_capacitance
from .packing import Packing, layered, scattered

RESISTIVITY = 1e-6 / 58  # Ω·m at 20 °C
TEMPERATURE_COEFFICIENT = 0.00393  # per K
COPPER, ENAMEL = 8960.0, 1300.0  # kg/m³
YIELD = 70e6  # Pa
TENSION_SHARE = 1 / 3
AWG_STEP, AWG_FINE_STEP, AWG_FINE = 2.54e-6, 1.7e-6, 0.0475e-3  # m
IEC_STEP, IEC_SHARE, IEC_BY_OHMS = 3e-6, 0.10, 0.063e-3


@dataclass(frozen=True, kw_only=True)
class Tap:
    """A tap: turns from the inside, resistance at the winding's temperature in Ω, and L over that of all turns.

    The share of L is that in air of the turns inside the tap, where they lie (:mod:`stringflux.solver.coil.air`).
    With poles it is nearer to (n/N)², for all turns go round them alike; `impedance --tap` solves it.
    """

    turns: float
    resistance: float
    inductance_share: float


@dataclass(frozen=True, kw_only=True)
class Winding:
    """A winding.

    Attributes
    ----------
    turns : float
    wire : Wire
    width, height : float
        Radial thickness and height of the window, m.
    wound : float
        Radial thickness that the winding takes of it, from the inside on, m; the greatest one where it changes.
    builds : tuple of (float, float)
        Where it changes along the height: heights over the lower edge and the thickness at each, m; else ().
    packed : float
        Share of the section that it takes which is copper and insulation.
    packed_known : bool
        Whether the case says that, by `fill` or by what was measured.
    fill, copper_fill : float
        Share of the window's section taken by the turns with their insulation, and by copper.
    packings : tuple of Packing
        Scattered, layered square, layered hexagonal.
    mean_turn, length : float
        Of the scattered winding, m; resistance and mass are those of this length.
    copper_mass, mass : float
        Of the copper, and with its enamel, kg.
    temperature : float
        °C.
    resistance : float
        The measured one if the case has it, else the computed nominal one, at `temperature`, Ω.
    resistance_computed : (float, float, float)
        Least, nominal and greatest by the tolerance of the wire, at `temperature`, Ω.
    resistance_measured : bool
    tension, tension_share : float
        Winding tension in N and the share of the yield stress that it makes.
    capacitance : float
        The measured one if the case has it, else the computed one, F.
    capacitance_band : (float, float)
        Its honest range, F; both ends alike if it was measured.
    capacitance_measured : bool
    capacitance_turns, capacitance_outside : float
        What was computed to lie between the turns, scattered, and outside the winding, F.
    capacitance_layered : (float, float)
        Between the turns if they were laid in square or in hexagonal layers, F.
    loss : float
        tan δ of the winding's capacitance.
    potted : str
        What fills it, "wax" or "epoxy"; "" where nothing is said of it.
    taps : tuple of Tap
    """

    turns: float
    wire: Wire
    width: float
    height: float
    wound: float
    packed: float
    packed_known: bool
    fill: float
    copper_fill: float
    packings: tuple[Packing, ...]
    mean_turn: float
    length: float
    copper_mass: float
    mass: float
    temperature: float
    resistance: float
    resistance_computed: tuple[float, float, float]
    resistance_measured: bool
    tension: float
    tension_share: float
    capacitance: float
    capacitance_band: tuple[float, float]
    capacitance_measured: bool
    capacitance_turns: float
    capacitance_outside: float
    capacitance_layered: tuple[float, float]
    loss: float
    potted: str = ""
    builds: tuple[tuple[float, float], ...] = ()
    taps: tuple[Tap, ...] = ()

    @property
    def wound_words(self) -> str:
        """How thick it is, mm."""
        thick = sorted({w for _, w in self.builds} or {self.wound})
        return f"{thick[0] * 1e3:.4g}" + (f" to {thick[-1] * 1e3:.4g}" if len(thick) > 1 else "")


def winding(case: Case, temperature: float | None = None, tension_share: float = TENSION_SHARE,
            below: float = 0.0) -> Winding:
    """Winding data of a case.

    Parameters
    ----------
    case : Case
    temperature : float, optional
        Of the copper, °C; that of the case when not given.
    tension_share : float
        Share of the yield stress that the wire may feel while it is wound.
    below : float
        Voltage of its end nearer to ground, in its own whole voltage: what coils before it in series have.

    Examples
    --------
    >>> from stringflux.cases import load_case
    >>> w = winding(load_case("baritone-six"))
    >>> round(w.length), round(w.resistance, -2)
    (933, 5100.0)
    """
    coil, wire = case.racetrack(), case.coil.winding_wire()
    height, overall = coil.top - coil.bottom, wire.overall[1]
    window, known_packed = replace(coil, build=case.coil.thickness, builds=()), case.coil.moves_with_turns
    packed = coil.turns * math.pi / 4 * overall**2 / coil.area
    packings = (scattered(coil, overall, coil.turns, window=window.build,
                          fill=case.coil.fill or (packed if known_packed else SCATTERED_FILL)),
                layered(window, overall, coil.turns, hexagonal=False),
                layered(window, overall, coil.turns, hexagonal=True))
    length, mean = packings[0].length, packings[0].length / coil.turns
    temperature = case.conditions.temperature if temperature is None else temperature
    warm = warming(temperature)
    least, greatest = resistance_per_length_range(wire)
    computed = (least * warm * length, resistance_per_length(wire.bare) * warm * length, greatest * warm * length)
    measured = case.coil.resistance
    resistance = computed[1] if measured is None else measured * warm
    between = winding_capacitance(case, wire, packings, below)
    known = case.coil.capacitance
    section = math.pi / 4 * wire.bare**2
    enamel = math.pi / 4 * overall**2 - section
    area = window.build * height
    ohms_per_metre = resistance / length  # a measured winding has its resistance spread over the same wire
    return Winding(
        turns=coil.turns, wire=wire, width=window.build, height=height, wound=coil.build, packed=packed,
        packed_known=known_packed,
        fill=coil.turns * math.pi / 4 * overall**2 / area, copper_fill=coil.turns * section / area,
        packings=packings, mean_turn=mean, length=length, copper_mass=COPPER * section * length,
        mass=(COPPER * section + ENAMEL * enamel) * length, temperature=temperature, resistance=resistance,
        resistance_computed=computed, resistance_measured=measured is not None,
        tension=tension_share * YIELD * section, tension_share=tension_share,
        capacitance=between.nominal if known is None else known,
        capacitance_band=between.band if known is None else (known, known),
        capacitance_measured=known is not None, capacitance_turns=between.turns, capacitance_outside=between.outside,
        capacitance_layered=between.layered, loss=between.loss,
        potted=case.coil.potted or "", builds=tuple((round(z - coil.bottom, 12), w) for z, w in coil.builds),
        taps=_taps(case, ohms_per_metre),
    )


def _taps(case: Case, ohms_per_metre: float) -> tuple[Tap, ...]:
    if not case.coil.taps:
        return ()
    whole, found = inductance(case.racetrack()), []
    for turns in case.coil.taps:
        inner = case.coil.inside(turns)
        part = inductance(inner.racetrack(case.row.x))
        found.append(Tap(turns=turns, resistance=ohms_per_metre * turns * inner.mean_turn,
                         inductance_share=part / whole))
    return tuple(found)


def warming(temperature: float) -> float:
    """Resistance of copper at a temperature in °C over that at 20 °C."""
    return 1 + TEMPERATURE_COEFFICIENT * (temperature - 20.0)


def resistance_per_length(bare: float) -> float:
    """Of copper wire of this diameter in m, Ω/m at 20 °C.

    Examples
    --------
    >>> round(resistance_per_length(0.127e-3 * 92 ** (-6 / 39)), 4)  # 42 AWG
    5.4716
    """
    return RESISTIVITY / (math.pi / 4 * bare**2)


def resistance_per_length_range(wire: Wire) -> tuple[float, float]:
    """Least and greatest Ω/m at 20 °C that the wire's standard lets pass."""
    if "awg" in wire.name.lower():
        step = AWG_FINE_STEP if wire.bare < AWG_FINE else AWG_STEP
    elif wire.bare <= IEC_BY_OHMS * (1 + 1e-6):
        nominal = resistance_per_length(wire.bare)
        return nominal * (1 - IEC_SHARE), nominal * (1 + IEC_SHARE)
    else:
        step = IEC_STEP
    return resistance_per_length(wire.bare + step), resistance_per_length(wire.bare - step)


def turns_for_resistance(made: Winding, resistance: float) -> float:
    """Turns for a wanted resistance in Ω at the winding's temperature: R ∝ N where turns fill their window."""
    return made.turns * resistance / made.resistance


def turns_for_inductance(turns: float, inductance: float, wanted: float) -> float:
    """Turns for a wanted inductance, both in H: L ∝ N² where turns fill their window."""
    return turns * math.sqrt(wanted / inductance)


def turns_that_fit(made: Winding) -> int:
    """The largest number of turns: as full as the case says, else at the densest packing of circles, which no real
    winding reaches."""
    if made.packed_known:
        return made.packings[0].most_turns
    return int(most_turns(width=made.width, height=made.height, overall=made.wire.overall[1]))


def coils_from(spool: float, made: Winding) -> float:
    """Coils that a spool of so many kg of wire is enough for, waste not counted."""
    return spool / made.mass
