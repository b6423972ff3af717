"""What `predict` prints: a range only where it is more than what the computation is off, and notes of this case."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import pytest
from rich.console import Console

from rigs.source_tree import CLOSE_BASS
from stringflux.cases import load_case, predict
from stringflux.cases.terminal.prediction import print_prediction
from stringflux.postprocess.records.prediction import FIELD_ERROR
from stringflux.postprocess.results.prediction import Prediction


@lru_cache
def found(name: str) -> Prediction:
    return predict(load_case(name), quality="draft", maps=False)


def printed(prediction: Prediction, width: int = 100) -> str:
    to = Console(width=width, highlight=False)
    with to.capture() as text:
        print_prediction(prediction, to)
    return text.get()


@pytest.mark.slow
def test_a_range_narrower_than_the_error_is_left_out() -> None:
    """Ceramic's permeability across is taken as known: 47.5 (47.5 to 47.5) would read as no doubt."""
    bass = found("bass-four")
    assert all(not p.band_counts for p in bass.poles)
    assert "(range)" not in printed(bass).split("Poles")[1]
    alnico = found("bench-single")
    assert alnico.poles[0].band_counts
    assert "(range)" in printed(alnico).split("Poles")[1]


@pytest.mark.parametrize(("half", "counts"), [(0.9, False), (1.1, True)])
def test_what_counts(half: float, counts: bool) -> None:
    share = half * FIELD_ERROR
    pole = replace(found("bench-single").poles[0], field=-0.1, field_band=(-0.1 * (1 + share), -0.1 * (1 - share)))
    assert pole.band_counts is counts


def test_no_note_tells_of_another_case() -> None:
    note, of_draft = found("bass-four").notes
    assert of_draft.startswith("draft: ")
    assert note.startswith("a signal meets a permeability of ")
    assert "200 (100 to 300) in steel-" in note
    assert "bass" not in note


def test_poles_say_which_end_is_up_and_coils_what_is_told_of_them() -> None:
    bass = found(CLOSE_BASS)
    rows = [line.split() for line in printed(bass).split("Poles")[1].splitlines()]
    assert [row[2] for row in rows if len(row) == 5 and row[0] in {*"1234"}] == [*"NNSS"]
    to = Console(width=100, highlight=False)
    with to.capture() as text:
        print_prediction(bass, to, ["A and b: in phase."])
    assert "A and b: in phase." in text.get()
