"""A file that says what `stringflux compare` shall do, in place of its options."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field

from stringflux.geometry.case.keys import Number, OneOrMany, Table, near
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.changes import dotted_values
from stringflux.geometry.reading.read import read_key
from stringflux.geometry.units import shown

from ...files.load import read_toml

Words = Annotated[tuple[str, ...], Field(max_length=100), OneOrMany()]


class StudyFile(Table):
    """What is varied, how it combines, and what counts.

    ::

        rank = ["output", "pull"]
        combine = "grid"

        [vary]
        strings.gap = "1.5 mm:3.5 mm:9"
        pole.part.material = ["alnico-3", "alnico-5"]
    """

    vary: Annotated[dict[str, Any], Field(description="Fields of the case with their values.")]
    combine: Annotated[
        Literal["grid", "paired", "sample"] | None, Field(description="How the values come together.")
    ] = None
    sample: Annotated[int, Number(1, 10_000_000, whole=True)] | None = None
    seed: Annotated[int, Number(0, 2**32 - 1, whole=True)] | None = None
    rank: Annotated[Words, Field(description="Figures to rank by.")] = ()
    want: Annotated[Words, Field(description="Figures to compute besides.")] = ()


def read_study_file(file: str) -> StudyFile:
    """Read a study file.

    Raises
    ------
    CaseError
        One sentence.
    """
    path = Path(file)
    try:
        there = path.is_file()
    except (OSError, ValueError):
        there = False
    if not there:
        raise CaseError(f"--study: received {shown(file)}, which is no file; name a TOML file with a table [vary]")
    data = read_toml(path)
    keys = StudyFile.model_fields
    for key in data:
        if key not in keys:
            raise CaseError(f"{path.name}: {shown(key)} is not a key here{near(key, keys)}; "
                            f"the keys are {', '.join(keys)}")
    if "vary" not in data:
        raise CaseError(f"{path.name}, vary: it is missing; add a table [vary] with fields of the case and "
                        "their values")
    read = {key: read_key(StudyFile, key, value, where=f"{path.name}, {key}") for key, value in data.items()}
    if read.get("combine") == "sample" and "sample" not in read:
        raise CaseError(f"{path.name}, sample: it is missing; write how many designs to draw")
    if "sample" in read and read.get("combine", "sample") != "sample":
        raise CaseError(f"{path.name}, sample: received together with combine = {shown(read['combine'])}; "
                        "keep one of them")
    read["vary"] = dotted_values(read["vary"])
    return StudyFile.model_construct(**read)
