"""A case by question and answer: the template with what a person says of strings, poles, bobbin and wire.

Every answer is read at once as the case file's own key is. What nobody asked for is as the template has it.

    core of a wound string   0.4 of its gauge, but for the template's own (common practice, no source)
    turns                    as many as a scattered winding of that wire usually holds, whole hundreds
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from stringflux.geometry.case.coil import Coil
from stringflux.geometry.case.keys import Table, near
from stringflux.geometry.case.model import Case
from stringflux.geometry.case.poles import Part, Row
from stringflux.geometry.case.strings import String, Strings
from stringflux.geometry.case.wire import SCATTERED_FILL, find_wire
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.changes import change_value
from stringflux.geometry.reading.check_strings import TOUCH
from stringflux.geometry.reading.read import read_case, read_key, read_table
from stringflux.geometry.units import mm, parse, shown

from ..files.changed import inline, with_changes, without_key
from ..files.load import TEMPLATE, built_in_uses
from ..files.toml_faults import toml_content
from .dialogue import HERE, Dialogue

CORE = 0.4
CLEAR = 0.2e-3
"""What the bobbin's inside is wider than the poles, m."""
_SETS = {  # the template's, and usual ones beside it: common practice, no source
    4: ("0.105 in w, 0.085 in w, 0.065 in w, 0.045 in w", "E1, A1, D2, G2"),
    6: ("0.046 in w, 0.036 in w, 0.026 in w, 0.017 in, 0.013 in, 0.010 in", "E2, A2, D3, G3, B3, E4"),
    7: ("0.059 in w, 0.046 in w, 0.036 in w, 0.026 in w, 0.017 in, 0.013 in, 0.010 in", "B1, E2, A2, D3, G3, B3, E4"),
}
_CORES = {"0.046 in": "0.017 in", "0.036 in": "0.0155 in", "0.026 in": "0.013 in"}
_FIRST, _AFTER = "[[string]]\n", "# ---- What hangs on it"


def asked_case(dialogue: Dialogue) -> str:
    """The text of the case that a person describes, with the template's remarks.

    Raises
    ------
    CaseError
        Where the answers end, or from a pipe are no case.
    """
    dialogue.say("An empty line takes what stands in brackets. Nothing is written before the last answer.")
    while True:
        text = _Description(dialogue).text()
        try:
            read_case(toml_content(text, "the answers"), materials=built_in_uses())
            return text
        except CaseError as error:
            if not dialogue.by_hand:
                raise CaseError(f"{dialogue.option}: the answers together are no case: {error}") from None
            dialogue.say(f"Together that cannot be: {error}\nOnce more; your answers stand in brackets.")


class _Description:
    """What is asked, one group of keys after the other."""

    def __init__(self, dialogue: Dialogue) -> None:
        self._ask = dialogue.ask
        self._changes: dict[str, Any] = {}

    def text(self) -> str:
        """Ask all, and write it."""
        self._key("title", Case, "Title", "My pickup")
        strings = self._strings()
        self._key("strings.scale", Strings, "Sounding length of the open strings", "25.5 in")
        apart = "0 mm"
        self._changes["row.count"] = len(strings)
        if len(strings) > 1:
            apart = self._key("strings.spacing", Strings, "From string to string, centre to centre", "10.4 mm")
            apart = self._key("row.spacing", Row, "From pole to pole, centre to centre", apart)
        self._key("strings.bridge_distance", Strings, "From the row of poles to the bridge", "95 mm")
        self._poles(parse(apart, "length"))
        self._coil((len(strings) - 1) * parse(apart, "length"))
        gaps = self._ask("Gap between pole and string, one for all or one each with commas", "2.5 mm",
                         lambda text: _each(text, len(strings), "gap", one=True))
        if len(gaps) == 1:
            self._changes["strings.gap"] = gaps[0]
        else:
            strings = [{**string, "gap": gap} for string, gap in zip(strings, gaps, strict=True)]
        return self._written(strings)

    def _key(self, path: str, table: type[Table], words: str, default: str,
             check: Callable[[str], object] = lambda text: None) -> str:
        """One key as text."""
        def read(text: str) -> str:
            read_key(table, path.rpartition(".")[2], text, where=HERE)
            check(text)
            return text

        self._changes[path] = answer = self._ask(words, default, read)
        return answer

    def _strings(self) -> list[dict[str, str]]:
        count = self._ask("How many strings", "6", _count)
        gauges, pitches = _SETS.get(count, (", ".join(["0.017 in"] * count), ", ".join(["G3"] * count)))
        each = "" if count == 1 else ", with commas"
        found = self._ask(f"Gauges along the row{each}; w behind a wound string", gauges,
                          lambda text: [_gauge(one) for one in _items(text, count)])
        notes = self._ask(f"Open notes in that order{each}", pitches, lambda text: _each(text, count, "pitch"))
        return [{**string, "pitch": note} for string, note in zip(found, notes, strict=True)]

    def _poles(self, apart: float) -> None:
        part = "pole.1.part.1"
        self._key(f"{part}.material", Part, "Magnets (`stringflux materials` lists them)", "alnico-5", _magnet)
        self._key(f"{part}.diameter", Part, "Their diameter", "4.8 mm", lambda text: _at_most(text, apart))
        self._key(f"{part}.length", Part, "Their length", "17 mm")
        self._key(f"{part}.polarity", Part, "Which end looks at the strings, north up or south up", "north up")
        self._key("row.face", Row, "Height of the poles over the bobbin's top plate", "1.5 mm")

    def _coil(self, row: float) -> None:
        thick = parse(self._changes["pole.1.part.1.diameter"], "length")
        made: dict[str, Any] = {"turns": 1, "wire": "42 AWG"}

        def length(key: str, words: str, default: str, others: dict[str, str] | None = None) -> str:
            def check(text: str) -> None:
                if key.startswith("inner"):
                    _room(text, thick + (row if key == "inner_length" else 0))
                if others is not None:  # with those that are not asked yet
                    read_table(Coil, {**made, **others, key: text})

            made[key] = answer = self._key(f"coil.{key}", Coil, words, default, check)
            return answer

        inside = length("inner_width", "Inside width of the bobbin, along the strings", mm(thick + CLEAR))
        width = parse(inside, "length")
        if row > 0:
            length("inner_length", "Inside length of the bobbin, over all", mm(row + width))
        length("outer_width", "Outside width of the winding's window", mm(width + 8.4e-3),
               {"bottom": "-12 mm", "top": "-1 mm"})
        length("bottom", "Lower edge of the winding; under the top plate it is negative", "-12 mm")
        length("top", "Upper edge of the winding", "-1 mm", {})
        size = made["wire"] = self._key("coil.wire", Coil, "Wire", "42 AWG", find_wire)
        most = _usual_turns(read_table(Coil, made), size)
        self._changes["coil.turns"] = self._ask("Turns", str(most), lambda text: _turns(text, made))

    def _written(self, strings: list[dict[str, str]]) -> str:
        """The template with the answers in it."""
        template = TEMPLATE.read_text(encoding="utf-8")
        before, _, rest = template.partition(_FIRST)
        text = before + "\n".join(map(_string, strings)) + "\n" + rest[rest.index(_AFTER):]
        for gone in ("coil.inner_length", "row.spacing", "strings.spacing"):
            if gone not in self._changes:
                text = without_key(text, gone.split(".")) or text
        wanted = toml_content(text, "the answers")
        for path, value in self._changes.items():
            change_value(wanted, path, value)
        return with_changes(text, wanted, self._changes)


def _string(keys: dict[str, str]) -> str:
    guessed = "core" in keys and _CORES.get(keys["gauge"]) != keys["core"]
    remark = f"  # {CORE:g} of the gauge, as is usual: measure yours" if guessed else ""
    lines = (f"{key} = {inline(value)}{remark if key == 'core' else ''}\n" for key, value in keys.items())
    return _FIRST + "".join(lines)


def _count(text: str) -> int:
    if not (text.isascii() and text.isdigit() and 1 <= int(text[:4]) <= 12):
        raise CaseError(f"received {shown(text)}; write a whole number from 1 to 12")
    return int(text)


def _items(text: str, count: int, *, one: bool = False) -> list[str]:
    """As many answers as there are strings, or `one` for all."""
    found = [item.strip() for item in text.split(",")]
    if len(found) != count and not (one and len(found) == 1):
        raise CaseError(f"received {len(found)} of them; write {count}{', with commas between them' * (count > 1)}")
    return found


def _each(text: str, count: int, key: str, *, one: bool = False) -> list[str]:
    found = _items(text, count, one=one)
    for item in found:
        read_key(String, key, item, where=HERE)
    return found


def _gauge(text: str) -> dict[str, str]:
    """A gauge, with a core if it is wound."""
    plain = text.removesuffix("w").rstrip()
    gauge = read_key(String, "gauge", plain, where=HERE)
    if plain == text:
        return {"gauge": plain}
    inches = f"{CORE * gauge / 25.4e-3:.4f} in" if plain.endswith("in") else mm(round(CORE * gauge, 5))
    return {"gauge": plain, "core": _CORES.get(plain, inches)}


def _at_most(text: str, apart: float) -> None:
    """Poles `apart`, m, from each other, 0 for a single one, have room beside each other."""
    if apart and parse(text, "length") > apart + TOUCH:
        raise CaseError(f"received {shown(text)}, and the poles are {mm(apart)} apart; write {mm(apart)} at most")


def _room(text: str, needed: float) -> None:
    """The bobbin goes round its poles."""
    if parse(text, "length") < needed - TOUCH:
        raise CaseError(f"received {shown(text)}, and the poles inside take {mm(needed)}; write more than that")


def _magnet(name: str) -> None:
    magnets = [known for known, use in built_in_uses().items() if use == "magnet"]
    if name not in magnets:
        raise CaseError(f"received {shown(name)}, which is no magnet of the table{near(name, magnets)}; "
                        f"write one of {', '.join(magnets)}")


def _usual_turns(coil: Coil, wire: str) -> int:
    area = coil.thickness * (coil.top - coil.bottom)
    most = SCATTERED_FILL * area / (math.pi / 4 * find_wire(wire).overall[1] ** 2)
    return max(math.floor(most / 100) * 100, min(math.floor(most), 100), 1)


def _turns(text: str, coil: dict[str, Any]) -> int | float:
    try:
        turns: int | float = int(text) if text.isascii() and text.isdigit() else float(text)
    except ValueError:
        raise CaseError(f"received {shown(text)}; write a number, for example 6500") from None
    read_table(Coil, {**coil, "turns": turns})
    return turns
