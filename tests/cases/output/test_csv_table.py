"""Tables as CSV: what a spreadsheet makes of every cell."""

from __future__ import annotations

import csv
import io
import math

import numpy as np
import pytest

from stringflux.cases.output.csv_table import csv_text, harmless


@pytest.mark.parametrize("text", ["=1+1", "+1+cmd|' /C x'!A0", "-2+3", "@SUM(A1)", "\t=1", "\r=1", "-", "=", "--1"])
def test_what_would_run_is_text(text: str) -> None:
    (head,), (cell,) = csv.reader(io.StringIO(csv_text([text], [[text]])), strict=True)
    assert head == cell == f"'{text}".replace("\r", " ")


@pytest.mark.parametrize("text", ["", "E2", "neck, south", "-0.5 mm", "+1.5e-3", "-12", "-3 %", "3/16 in", "a=b"])
def test_what_is_harmless_stays(text: str) -> None:
    assert harmless(text) == text


def test_numbers() -> None:
    rows = [(1, np.float64(1 / 3), None), (2, math.nan, "x")]
    assert csv_text(("n", "a V", "b"), rows) == "n,a V,b\n1,0.333333,\n2,,x\n"
    assert csv_text(("n",), [(1 / 3,)], form="") == "n\n0.3333333333333333\n"
