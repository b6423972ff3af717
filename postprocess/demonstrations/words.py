"""A demonstration in plain words: the law, the numbers put in line by line, the signs, the cautions."""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .parts import Content

WIDTH = 92


def text_of(shown: Content) -> str:
    """The text that is written beside the figures, lines of :data:`WIDTH` letters at most; no formula is broken."""
    out = [shown.title, "=" * len(shown.title), *_told(shown.under), "", f"    {shown.law}", ""]
    for number, step in enumerate(shown.steps, 1):
        out += _told(step.says, f"{number}. ")
        if step.formula:
            out.append(f"       {step.formula}")
        out += [f"     = {part}" for part in (step.numbers, step.result) if part]
        out.append("")
    for head, lines in (("What is counted positive", shown.signs), ("Caution", shown.cautions),
                        ("In the moving picture", shown.moving.notes)):
        if lines:
            out += [head, "-" * len(head)]
            for line in lines:
                out += _told(line, "- ")
            out.append("")
    return "\n".join(out)


def _told(text: str, first: str = "") -> list[str]:
    return wrap(text, WIDTH, initial_indent=first, subsequent_indent=" " * len(first), break_long_words=False,
                break_on_hyphens=False)
