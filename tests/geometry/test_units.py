"""Quantities: exact conversions, and one kind of error whatever the text."""

from __future__ import annotations

import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import KINDS, parse, show, shown

ROUNDING = 1e-14  # relative; the reader keeps 15 digits


@pytest.mark.parametrize(
    ("text", "kind", "si"),
    [
        ("4.8 mm", "length", 4.8e-3),
        ("4.8mm", "length", 4.8e-3),
        ("  +4.8  mm ", "length", 4.8e-3),
        ("-1 mm", "length", -1e-3),
        ("−1 mm", "length", -1e-3),  # a typographic minus
        ("3/16 in", "length", 4.7625e-3),
        ("1 1/2 in", "length", 38.1e-3),
        ("-1/2 in", "length", -12.7e-3),
        ('25.5"', "length", 0.6477),
        ("0.010 in", "length", 0.254e-3),
        ("10 mil", "length", 0.254e-3),
        ("63 µm", "length", 63e-6),
        ("1250 G", "flux density", 0.125),
        ("12.8 kG", "flux density", 1.28),
        ("0.4 T", "flux density", 0.4),
        ("45 kA/m", "field", 45e3),
        ("560 Oe", "field", 560e3 / (4 * math.pi)),
        ("6.2 kohm", "resistance", 6200.0),
        ("6.2 kΩ", "resistance", 6200.0),
        ("0.8 deg", "angle", math.radians(0.8)),
        ("0.8°", "angle", math.radians(0.8)),
        ("329.63 Hz", "frequency", 329.63),
        ("50 pF", "capacitance", 50e-12),
        ("2.8 H", "inductance", 2.8),
        ("1/2 lb", "mass", 0.226796185),
        ("30 pF/ft", "capacitance of cable", 98.4251968503937e-12),
        ("47 uohm cm", "resistivity", 47e-8),
        ("7.85 g/cm^3", "density", 7850.0),
        ("7.85 g/cm³", "density", 7850.0),
        ("35 degC", "temperature", 35.0),
        ("−10°C", "temperature", -10.0),
        ("104 degF", "temperature", 40.0),
        ("300 K", "temperature", 26.85),
    ],
)
def test_reads(text: str, kind: str, si: float) -> None:
    assert parse(text, kind) == pytest.approx(si, rel=ROUNDING)


@pytest.mark.parametrize("kind", KINDS)
def test_every_offered_unit_is_one_of_its_kind(kind: str) -> None:
    for unit in KINDS[kind].units:
        assert parse(f"40 {unit}", kind) > 0  # 1 °F is below zero
    assert parse(KINDS[kind].example, kind) > 0


@pytest.mark.parametrize(
    ("value", "says"),
    [
        (4.8, "bare number 4.8"),
        (5, "bare number 5"),
        (10**40, "very large"),
        ("4.8", "has no unit"),
        ("4,8 mm", "point for decimals"),
        ("4.8 T", "is not a length"),
        ("4.8 mm^2", "is not a length"),
        ("4.8 furlong", "is not known here"),
        ("nan mm", "does not begin with a number"),
        ("inf mm", "does not begin with a number"),
        ("1/0 mm", "not a finite number"),
        ("1e999 mm", "not a finite number"),
        ("1e9999 mm", "is not known here"),
        ("4 mm^999999999", "is not known here"),
        ("٣ mm", "does not begin with a number"),
        ("", "does not begin with a number"),
        (True, "received true"),
        (None, "received a NoneType"),
        (["4.8 mm"], "received a list"),
        ({"mm": 4.8}, "received a table"),
    ],
)
def test_says_what_is_wrong_and_what_would_do(value: object, says: str) -> None:
    with pytest.raises(CaseError) as caught:
        parse(value, "length")
    message = str(caught.value)
    assert says in message
    assert "mm, cm, m, um, in, mil" in message
    assert "\n" not in message


_SOUP = st.text(alphabet="0123456789.,+-−/^*·°\"'e µΩmMkGTOinHzAF()[]%_\t\n", max_size=30)


@given(text=st.one_of(st.text(max_size=60), _SOUP), kind=st.sampled_from(sorted(KINDS)))
@example(text="1 1/0 in", kind="length")
@example(text="5 mm/", kind="length")
@example(text="5 in in in in", kind="length")
@example(text="\ud800 mm", kind="length")
def test_any_text_reads_or_is_refused(text: str, kind: str) -> None:
    try:
        value = parse(text, kind)
    except CaseError as error:
        value, said = 0.0, str(error)
    else:
        said = ""
    assert math.isfinite(value)
    assert "\n" not in said


def test_shows_what_people_read() -> None:
    assert show(0.0048, "length") == "4.8 mm"
    assert show(math.radians(3), "angle") == "3 deg"
    assert shown("a\nb" + 100 * "x").count("x") < 40
    assert "\n" not in shown("a\nb")
