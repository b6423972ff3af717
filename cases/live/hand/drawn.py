"""The answer to an edit: the text with its drawing, or the sentence that refuses it."""

from __future__ import annotations

from collections.abc import Sequence

from stringflux.geometry.errors import StringfluxError

from ..frames import frame
from .design import Edit, edited, read_design
from .scene import scene


def drawn(design: int, text: str, edits: Sequence[Edit]) -> tuple[bytes, bool]:
    """The message, and whether the text is a case that can be."""
    about = {"kind": "design", "design": design}
    try:
        text = edited(text, edits)
        return frame({**about, "text": text, "scene": scene(read_design(text), text)}), True
    except StringfluxError as error:
        return frame({**about, "says": str(error)}), False
    except (ArithmeticError, LookupError, RecursionError, TypeError, ValueError) as error:  # a fault of ours
        return frame({**about, "says": f"this cannot be drawn ({type(error).__name__}); the design is as it was, "
                      "please report it with the case"}), False
