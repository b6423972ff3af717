"""Questions in a terminal, each with an answer to take by an empty line; answers may come through a pipe as well.

At a terminal what cannot be is said, and asked again. From a pipe there is nobody to ask: the first such answer is
the fault of the whole. Questions go to the error stream, so that what is printed in the end stands alone.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import TypeVar

from stringflux.geometry.errors import CaseError

T = TypeVar("T")
HERE = "this answer"
"""What the reader of a key calls its place; in a dialogue that is plain."""


class Dialogue:
    """One dialogue; `option` is what a sentence begins with."""

    def __init__(self, option: str) -> None:
        self.option = option
        self.by_hand = sys.stdin is not None and sys.stdin.isatty()
        self._given: dict[str, str] = {}

    def say(self, words: str) -> None:
        """Tell the person something; nobody reads it behind a pipe."""
        if self.by_hand:
            print(words, file=sys.stderr, flush=True)

    def ask(self, words: str, default: str, read: Callable[[str], T]) -> T:
        """The answer as `read` reads it; `default` is what an empty line stands for, or what was answered before.

        Raises
        ------
        CaseError
            Where the answers end, or one from a pipe cannot be.
        """
        usual = self._given.get(words, default)
        while True:
            print(f"{words} [{usual}]: ", end="", file=sys.stderr, flush=True)
            line = sys.stdin.readline() if sys.stdin is not None else ""
            if not self.by_hand:
                print(file=sys.stderr)
            if not line:
                print(file=sys.stderr)
                raise CaseError(f"{self.option}: the answers end before \"{words}\", so nothing is written; answer "
                                "every question, by an empty line with what stands in brackets")
            answer = line.strip() or usual
            try:
                found = read(answer)
            except CaseError as error:
                fault = str(error).removeprefix(f"{HERE}: ")
                if not self.by_hand:
                    raise CaseError(f"{self.option}: {words}: {fault}") from None
                print(f"  {fault}", file=sys.stderr)
                continue
            if line.strip():
                self._given[words] = answer
            return found
