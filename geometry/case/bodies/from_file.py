"""A body whose form is in a file: a solid of STEP or STL, or an outline of DXF that is carried on."""

from __future__ import annotations

from pathlib import PurePath
from typing import Annotated, Literal

from pydantic import Field

from ...errors import CaseError
from ...shapes.loops import check_holes, check_outline
from ...shapes.pieces import FormPiece, Prism
from ...units import parse, shown
from ..keys import Printed
from .made import FormTable, Lies, Made, laid, measured
from .prism import least_width
from .table import Size

_STEP, _STL, _DXF = (".step", ".stp"), (".stl",), (".dxf",)


class FileForm(FormTable):
    """What a file says."""

    file: Annotated[
        Annotated[str, Field(min_length=1, max_length=1000), Printed()],
        Field(description="STEP or STL with one closed solid, or DXF with an outline; a path counts from the folder "
              "of the case file."),
    ]
    unit: Annotated[
        Literal["mm", "cm", "m", "in", "um"] | None,
        Field(description="Unit of the numbers in STL and DXF; STEP says it itself."),
    ] = None
    length: Annotated[Size | None, Field(description="How far an outline of DXF is carried on.")] = None
    lies: Annotated[Lies | None, Field(description="Which way an outline of DXF is carried on.")] = None

    def made(self) -> Made:
        ending = PurePath(self.file).suffix.lower()
        if ending not in (*_STEP, *_STL, *_DXF):
            raise CaseError(f"file: received {shown(self.file)}; write a file that ends in .step, .stp, .stl or .dxf")
        if ending in _STEP and self.unit is not None:
            raise CaseError(f"unit: received {shown(self.unit)}, and a STEP file says its unit itself; drop it")
        if ending not in _STEP and self.unit is None:
            what = "an STL" if ending in _STL else "a DXF"
            raise CaseError(f'unit: it is missing; write in what the numbers of {what} file are, such as unit = "mm"')
        if ending in _DXF:
            return self._carried_on(self.unit or "mm")
        for key, value in (("length", self.length), ("lies", self.lies)):
            if value is not None:
                raise CaseError(f"{key}: a solid of {ending[1:].upper()} has it already; drop it (rotated turns it)")
        return self._solid(parse(f"1 {self.unit}", "length") if self.unit else 0.0)

    def _solid(self, unit: float) -> Made:
        from ...kernel.files import solid_of

        try:
            joined = (FormPiece(shape=solid_of(self.file, unit)),)
        except CaseError as error:
            raise CaseError(f"file: {error}") from None
        whole = measured(joined)
        sizes = [b - a for a, b in zip(whole.low, whole.high, strict=True)]
        return Made(kind="solid of a file", joined=joined, thickness=min(*sizes, 3 * whole.volume / whole.surface))

    def _carried_on(self, word: str) -> Made:
        from ...kernel.drawings import outlines_of

        if self.length is None:
            raise CaseError("length: it is missing; write how far the outline of a DXF file is carried on")
        try:
            rim, holes = outlines_of(self.file, parse(f"1 {word}", "length"), word)
            for loop in (rim, *holes):
                check_outline(loop, PurePath(self.file).name)
            check_holes(rim, holes, f"{PurePath(self.file).name}, hole")
        except CaseError as error:
            raise CaseError(f"file: {error}") from None
        prism = Prism(outline=rim, holes=holes, length=self.length)
        return Made(kind="prism", joined=laid((FormPiece(shape=prism),), self.lies or "upright", self.length),
                    thickness=min(self.length, least_width(rim)))
