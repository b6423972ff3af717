"""Options of a command as one record: what typer reads of it, and in which order the help tells them."""

from __future__ import annotations

import inspect
from dataclasses import dataclass
from typing import Annotated

import pytest
import typer

from stringflux.cases.terminal.options import OutOptions, PluckOptions, Yes, said_in
from stringflux.geometry.errors import CaseError


@dataclass(frozen=True, kw_only=True)
class Made(OutOptions, PluckOptions):
    """Options of no real command."""

    yes: Yes = False
    loud: Annotated[bool, typer.Option("--loud", help="Louder.")] = False


def test_a_record_is_the_signature_of_its_command() -> None:
    told: list[Made] = []

    @said_in(Made)
    def made(options: Made) -> None:
        told.append(options)

    assert list(inspect.signature(made).parameters) == [
        "which", "pluck", "force", "at", "angle", "loud", "out", "quality", "given", "steel", "yes", "json",
        "verbose"]
    assert inspect.signature(made).parameters["which"].default is inspect.Parameter.empty
    made(which="bench-single", loud=True, given=["coil.turns=6500"])
    assert told == [Made(which="bench-single", loud=True, given=["coil.turns=6500"])]
    assert told[0].changes == {"coil.turns": 6500}
    assert told[0].read().displacement == pytest.approx(1e-3)


def test_a_value_that_cannot_be_is_refused_when_it_is_asked_for() -> None:
    with pytest.raises(CaseError, match=r"^--set: received"):
        _ = Made(which="bench-single", given=["coil.turns"]).changes
