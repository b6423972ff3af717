"""What the page may ask, as records that are checked where they are made.

A message is one JSON text with a "kind": ``{"kind": "compute", "design": 7, "text": "…", "topics": ["strings"]}``.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from stringflux.geometry.errors import CaseError

from ..hand.design import LONGEST as LONGEST_TEXT
from ..hand.design import Edit
from .worker import Job

LONGEST = 1_200_000
"""Characters of a message."""
EDITS, TOPICS, PINS = 200, 20, 4
"""The most of each in one message."""
_TOPIC = re.compile("[a-z][a-z_]{0,19}")
_DEEPEST = 8
_NUMBER = 2**53


class RequestError(ValueError):
    """A message that is none of these; `about` names the request that it stands for, where that can be seen."""

    def __init__(self, says: str, about: Mapping[str, Any] | None = None) -> None:
        super().__init__(says)
        self.about = dict(about or {"kind": "refused"})


@dataclass(frozen=True, kw_only=True)
class AskDesign:
    """Edits of a text; its drawing is wanted."""

    design: int
    text: str
    edits: tuple[Edit, ...]


@dataclass(frozen=True, kw_only=True)
class AskCompute:
    """Figures of a text, by topics of :mod:`..answers`; of string `string`, which swings by `swing` m."""

    design: int
    text: str
    quality: str
    topics: tuple[str, ...]
    string: int
    swing: float
    name: str

    def job(self) -> Job:
        """The job that computes it."""
        return Job(text=self.text, quality=self.quality, topics=self.topics, string=self.string, swing=self.swing,
                   name=self.name, head={"design": self.design})


@dataclass(frozen=True, kw_only=True)
class AskCancel:
    """What is computed for this page is not wanted any more."""


@dataclass(frozen=True, kw_only=True)
class AskKeep:
    """The state of the page, to be offered when the case is opened again."""

    text: str
    pins: tuple[Mapping[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class AskFollow:
    """A reader sees the teacher's page, or has a copy of their own."""

    on: bool


Request = AskDesign | AskCompute | AskCancel | AskKeep | AskFollow


def read_request(message: str | None) -> Request:
    """A request of the page.

    Raises
    ------
    RequestError
        One sentence.

    Examples
    --------
    >>> read_request('{"kind": "cancel"}')
    AskCancel()
    """
    if message is None:
        raise RequestError("a request is a text, not bytes")
    if len(message) > LONGEST:
        raise RequestError("a request is one text of at most 1 MB")
    try:
        asked = json.loads(message)
        if "\\u" in message:  # half of a pair is no character
            json.dumps(asked, ensure_ascii=False).encode()
    except (ValueError, RecursionError):
        raise RequestError("a request is JSON") from None
    kind = asked.get("kind") if isinstance(asked, dict) else None
    if not isinstance(kind, str) or kind not in _READ:
        raise RequestError(f"a request has a kind: {', '.join(_READ)}")
    found: Request = _READ[kind](asked)
    return found


def _design(asked: dict[str, Any]) -> AskDesign:
    design = _number(asked)
    about = {"kind": "design", "design": design}
    given = asked.get("edits", [])
    if not isinstance(given, list) or len(given) > EDITS:
        raise RequestError(f"edits are a list of at most {EDITS}", about)
    try:
        return AskDesign(design=design, text=_text(asked), edits=tuple(_edit(e) for e in given))
    except (CaseError, RequestError) as error:
        raise RequestError(str(error), about) from None


def _edit(given: Any) -> Edit:
    if not isinstance(given, dict) or not isinstance(given.get("path"), str) or not isinstance(
            given.get("act", "set"), str):
        raise RequestError("an edit has an act and a path, which are texts")
    act, value = given.get("act", "set"), given.get("value")
    if act == "set" and not _plain(value, _DEEPEST):
        raise RequestError("the value of an edit is a text, a number, or a list or a table of them")
    return Edit(act=act, path=given["path"], value=value)


def _plain(value: Any, deep: int) -> bool:
    if isinstance(value, list | dict):
        inner = value if isinstance(value, list) else list(value.values())
        return deep > 0 and len(inner) <= 1000 and all(_plain(v, deep - 1) for v in inner)
    return isinstance(value, str | int | float) and (not isinstance(value, str) or len(value) <= 20_000)


def _compute(asked: dict[str, Any]) -> AskCompute:
    design = _number(asked)
    quality, topics = asked.get("quality", "draft"), asked.get("topics", [])
    string, swing = asked.get("string", 1), asked.get("swing", 0.5e-3)
    if quality not in ("draft", "normal"):
        raise RequestError("the quality is draft or normal")
    if not isinstance(topics, list) or len(topics) > TOPICS or not all(
            isinstance(t, str) and _TOPIC.fullmatch(t) for t in topics):
        raise RequestError(f"topics are a list of at most {TOPICS} names")
    if type(string) is not int or not 1 <= string <= 1000:
        raise RequestError("a string has a number from 1")
    if type(swing) not in (int, float) or not 0 < swing < 0.1:
        raise RequestError("a swing is a length in metres, over 0 and under 0.1")
    name = asked.get("name", "")
    return AskCompute(design=design, text=_text(asked), quality=quality, topics=tuple(dict.fromkeys(topics)),
                   string=string, swing=float(swing), name=name[:200] if isinstance(name, str) else "")


def _keep(asked: dict[str, Any]) -> AskKeep:
    pins = asked.get("pins", [])
    if not isinstance(pins, list) or len(pins) > PINS:
        raise RequestError(f"pins are a list of at most {PINS}")
    for pin in pins:
        if not isinstance(pin, dict) or not isinstance(pin.get("name"), str):
            raise RequestError("a pin has a name and a text")
        _text(pin)
    return AskKeep(text=_text(asked), pins=tuple({"name": p["name"][:200], "text": p["text"]} for p in pins))


def _follow(asked: dict[str, Any]) -> AskFollow:
    if not isinstance(asked.get("on"), bool):
        raise RequestError("follow says whether it is on")
    return AskFollow(on=asked["on"])


_READ: Mapping[str, Any] = {"design": _design, "compute": _compute, "cancel": lambda asked: AskCancel(),
                            "keep": _keep, "follow": _follow}


def _number(asked: dict[str, Any]) -> int:
    design = asked.get("design")
    if type(design) is not int or not 0 <= design < _NUMBER:
        raise RequestError("the request lacks design, the number of the design it is of")
    return design


def _text(asked: dict[str, Any]) -> str:
    text = asked.get("text")
    if not isinstance(text, str):
        raise RequestError("the request lacks text, the design")
    if len(text) > LONGEST_TEXT:
        raise RequestError(f"the design is larger than {LONGEST_TEXT // 1000} kB; a case file is far smaller")
    return text
