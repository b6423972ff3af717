"""Wire against ASTM B258 and the published tables of NEMA MW 1000 and IEC 60317-0-1."""

from __future__ import annotations

import math

import pytest

from stringflux.geometry.case.wire import awg_diameter, find_wire, most_turns, too_full, wire_sizes
from stringflux.geometry.errors import CaseError

# ASTM B258, exact diameter in mm and resistance in Ω/m of copper of 1/58 µΩ·m (IEC 60028).
ASTM = {
    40: (0.07987, 3.4411),
    41: (0.07113, 4.3391),
    42: (0.06334, 5.4715),
    43: (0.05641, 6.8995),
    44: (0.05023, 8.700),
    45: (0.04473, 10.971),
    46: (0.03984, 13.834),
}
LAST_DIGIT = 1.2e-4  # the published figures are rounded to four or five digits


@pytest.mark.parametrize("size", ASTM)
def test_american_sizes(size: int) -> None:
    diameter, per_metre = ASTM[size]
    bare = awg_diameter(size)
    assert bare * 1e3 == pytest.approx(diameter, rel=LAST_DIGIT)
    assert 1e-6 / 58 / (math.pi / 4 * bare**2) == pytest.approx(per_metre, rel=LAST_DIGIT)


@pytest.mark.parametrize("text", ["42 AWG", "42AWG", "AWG 42", "42 awg"])
def test_spellings(text: str) -> None:
    assert find_wire(text).bare == awg_diameter(42)


@pytest.mark.parametrize(
    ("text", "insulation", "overall"),
    [
        ("42 AWG", None, (0.066, 0.071, 0.076)),
        ("42 AWG", "single", (0.066, 0.071, 0.076)),
        ("42 AWG", "heavy", (0.071, 0.076, 0.081)),
        ("45 AWG", "single", (0.0455, 0.0488, 0.0521)),
        ("44 AWG", "heavy", (0.058, 0.064, 0.069)),
        ("0.063 mm", None, (0.069, 0.0725, 0.076)),  # the standard has no nominal: the middle
        ("63 um", "grade 1", (0.069, 0.0725, 0.076)),
        ("0.063 mm", "grade 2", (0.077, 0.080, 0.083)),
        ("0.1 mm", None, (0.108, 0.1125, 0.117)),  # a wire maker's table has the same
        ("0.045 mm", "grade 2", (0.056, 0.0585, 0.061)),
        ("42.5 AWG", None, (0.064, 0.067, 0.071)),
        ("AWG 42.5", "heavy", (0.069, 0.073, 0.077)),
        ("46 AWG", "single", (0.0409, 0.0439, 0.0470)),
        ("46 AWG", "heavy", (0.0460, 0.0497, 0.0533)),
    ],
)
def test_overall_diameters(text: str, insulation: str | None, overall: tuple[float, ...]) -> None:
    assert find_wire(text, insulation).overall == pytest.approx([d * 1e-3 for d in overall])


def test_build_and_size_order() -> None:
    for size in ASTM:
        single, heavy = (find_wire(f"{size} AWG", build) for build in ("single", "heavy"))
        assert single.bare < single.overall[0] < single.overall[1] < single.overall[2] < heavy.overall[2]
        assert single.overall[1] < heavy.overall[1]


def test_metric_sizes_grow_and_grades_do_not_overlap() -> None:
    sizes = [name for name in wire_sizes() if name.endswith("mm")]
    assert len(sizes) == 17  # R 20 and R 40 between 0.04 and 0.1 mm, and 0.060
    last = (0.0, 0.0)
    for name in sizes:
        first, second = (find_wire(name, f"grade {n}") for n in (1, 2))
        assert first.bare < first.overall[0] < first.overall[2] < second.overall[0] < second.overall[2]
        assert (first.overall[0], second.overall[0]) > last
        last = first.overall[0], second.overall[0]
        assert second.source == "IEC 60317-0-1 grade 2"


def test_a_half_size_lies_between_its_neighbours() -> None:
    for build in ("single", "heavy"):
        thick, half, thin = (find_wire(f"{n} AWG", build) for n in (42, 42.5, 43))
        assert half.bare**2 == pytest.approx(thick.bare * thin.bare)
        assert all(a > b > c for a, b, c in zip(thick.overall, half.overall, thin.overall, strict=True))


def test_measured_diameter_wins() -> None:
    wire = find_wire("38 AWG", overall=0.118e-3)
    assert wire.overall == (0.118e-3,) * 3
    assert wire.source == "the case file"


@pytest.mark.parametrize(
    ("text", "insulation", "overall", "says"),
    [
        (42, None, None, "42 AWG"),
        ("thin", None, None, "write a wire size"),
        ("38 AWG", None, None, "not in the table"),
        ("0.064 mm", None, None, "not in the table"),
        ("0.063 mm", "heavy", None, "American"),
        ("42 AWG", "grade 2", None, "metric"),
        ("42.3 AWG", None, None, "write a wire size"),
        ("43.5 AWG", None, None, "not in the table"),
        (42.5, None, None, '"42.5 AWG"'),
        ("42 AWG", "grade 1", None, "metric"),
        ("42 AWG", None, 0.05e-3, "does not fit"),
        ("1000 AWG", None, None, "write a wire size"),
    ],
)
def test_refuses(text: object, insulation: str | None, overall: float | None, says: str) -> None:
    with pytest.raises(CaseError, match=says):
        find_wire(text, insulation, overall)


def test_densest_packing() -> None:
    most = most_turns(width=4e-3, height=11e-3, overall=0.071e-3)
    fill = most * math.pi / 4 * 0.071e-3**2 / (4e-3 * 11e-3)
    assert fill == pytest.approx(math.pi / (2 * math.sqrt(3)))


def test_too_full_is_told_where_practice_ends() -> None:
    assert too_full(7000, "42 AWG", 0.65, known=False) == ""
    assert too_full(7000, "42 AWG", 0.70, known=True) == ""
    for share, known in ((0.66, False), (0.76, True)):
        assert "more than a scattered winding usually holds: 65%, 55% to 75%" in too_full(
            7000, "42 AWG", share, known=known)
