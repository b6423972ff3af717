"""What the page may ask: read, or refused in one sentence."""

from __future__ import annotations

import json
import random
from typing import Any

import pytest

from stringflux.cases.live.hand.design import Edit
from stringflux.cases.live.serve.requests import (
    EDITS,
    LONGEST,
    AskCancel,
    AskCompute,
    AskDesign,
    AskFollow,
    AskKeep,
    RequestError,
    read_request,
)

GOOD: list[dict[str, Any]] = [
    {"kind": "design", "design": 1, "text": "a", "edits": [{"path": "row.face.1", "value": "1 mm"}]},
    {"kind": "compute", "design": 2, "text": "a", "topics": ["strings", "strings", "maps"], "quality": "normal",
     "string": 3, "swing": 1e-3, "name": "b.toml"},
    {"kind": "cancel"}, {"kind": "keep", "text": "a", "pins": [{"name": "A", "text": "b"}]},
    {"kind": "follow", "on": False},
]
ODD: list[Any] = [
    None, True, -1, 0, 1.5, 1e400, 10**30, "", "x" * 300, "\ud800", "\x00", [], {}, [[[[[[[[[[1]]]]]]]]]],
    {"path": 1}, [None], ["strings"] * 50, [{"path": "a.b", "value": None}], {"act": "burn", "path": "a"}]


def test_read() -> None:
    assert [read_request(json.dumps(g)) for g in GOOD] == [
        AskDesign(design=1, text="a", edits=(Edit(path="row.face.1", value="1 mm"),)),
        AskCompute(design=2, text="a", topics=("strings", "maps"), quality="normal", string=3, swing=1e-3,
                   name="b.toml"),
        AskCancel(), AskKeep(text="a", pins=({"name": "A", "text": "b"},)), AskFollow(on=False)]


@pytest.mark.parametrize("message", [
    None, "", "{", "[]", "7", "null", '"design"', '{"kind": "open"}', '{"kind": ["design"]}', '{"kind": "design"}',
    "[" * 100_000, '{"kind": "compute", "design": ' + "9" * 5000 + "}", "x" * (LONGEST + 1),
    '{"kind": "design", "design": 1, "text": "\\ud800"}', '{"kind": "design", "design": true, "text": ""}',
    '{"kind": "compute", "design": 1, "text": "", "topics": ["__class__"]}',
    '{"kind": "compute", "design": 1, "text": "", "swing": NaN}',
    '{"kind": "compute", "design": 1, "text": "", "string": 1.0}',
    json.dumps({"kind": "design", "design": 1, "text": "", "edits": [{"path": "a"}] * (EDITS + 1)}),
])
def test_refused(message: str | None) -> None:
    with pytest.raises(RequestError) as caught:
        read_request(message)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 200


def test_refusal_names_its_design() -> None:
    """An edit that is none is an answer to its request, or the page would wait for one."""
    with pytest.raises(RequestError) as caught:
        read_request('{"kind": "design", "design": 5, "text": "", "edits": [{"path": "../x"}]}')
    assert caught.value.about == {"kind": "design", "design": 5}


def test_damaged() -> None:
    """20 000 messages with something odd in them: each is read, or refused."""
    rng = random.Random(1)
    read = 0
    for _ in range(20_000):
        try:
            read_request(damaged(rng))
            read += 1
        except RequestError:
            continue
    assert 200 < read < 15_000


def damaged(rng: random.Random) -> str:
    """A good message with a key or a few characters changed."""
    message = dict(rng.choice(GOOD))
    if rng.random() < 0.7:
        key = rng.choice([*message, "text", "edits", "topics", "pins"])
        message[key] = rng.choice(ODD)
    text = json.dumps(message)
    if rng.random() < 0.3:
        at = rng.randrange(len(text))
        text = text[:at] + rng.choice(['"', "{", "\\u", "9" * 50, "", "\x00"]) + text[at + rng.randrange(5):]
    return text
