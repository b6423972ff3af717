"""Faults of TOML itself: the line that spoils a file as it stands there, and what would do in its place.

The reader's message is used for the place alone; what is wrong is read off the line, because people do the same few
things: a quantity without quotes, curly quotes, 6,500, a key or a table twice.
"""

from __future__ import annotations

import re
import tomllib
from typing import Any

from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.old_words import in_new_words

MOST_PARTS = 32
"""Of a dotted key; the reader takes time with the square of it, and no path of a case has more than five."""

_LONGEST = 70  # characters of a line in a sentence
_READ = 1000  # characters of a line that is looked into
_PART = r"(?:[A-Za-z0-9_-]++|\"[^\"\n]*\"|'[^'\n]*')"
_LONG_KEY = re.compile(rf"(?<![A-Za-z0-9_-]){_PART}(?:[ \t]*\.[ \t]*{_PART}){{{MOST_PARTS}}}")
_PLACE = re.compile(r"(.*) \(at (?:line (\d+), column (\d+)|(end of document))\)", re.DOTALL)
_QUOTED = re.compile(r"\"(?:[^\"\\]|\\.)*\"|'[^']*'")
_REMARK = re.compile(r"(?<=\S)\s+#.*$")
_HEAD = re.compile(r"\s*(\[\[?)\s*([^\[\]#]+?)\s*\]\]?\s*")
_CURLY = str.maketrans("“”„‟«»‘’‚‛", "\"\"\"\"\"\"''''")
_QUANTITY = re.compile(
    r"(?<![\w.+-])([+-]?(?:\d+\s)?\d*[.,/]?\d+\s*(?:[A-Za-zµμΩ°%]+(?:[ /^*]?[A-Za-z0-9]+)*|″))(?![\w\"'])"
)
_LITERAL = re.compile(r"[+-]?\d[\d_]*(\.[\d_]+)?([eE][+-]?\d+)?|true|false|inf|nan|0x[0-9a-fA-F]+|0o[0-7]+|0b[01]+")


def toml_content(text: str, name: str) -> dict[str, Any]:
    """Content of a TOML text.

    Parameters
    ----------
    name : str
        Of the file, for sentences.

    Raises
    ------
    CaseError
        With the line and what would do.
    """
    long = _LONG_KEY.search(text)
    if long is not None:
        line = text.count("\n", 0, long.start()) + 1
        raise CaseError(f"{name}, line {line}: a key of more than {MOST_PARTS} parts; no path of a case is so long")
    try:
        return in_new_words(tomllib.loads(text), name)
    except tomllib.TOMLDecodeError as error:
        raise CaseError(f"{name}, {toml_fault(str(error), text)}") from None
    except (ValueError, RecursionError, OverflowError, MemoryError):
        # numbers of thousands of digits, lists within lists without end
        raise CaseError(f"{name} holds a number or a nesting that is far too long for a case") from None


def toml_fault(message: str, text: str) -> str:
    """ "line 3 reads `turns = 6,500`; write …" from the reader's message.

    Examples
    --------
    >>> toml_fault("Invalid value (at line 1, column 8)", "face = 1.5 mm")
    'line 1 reads `face = 1.5 mm`; a quantity stands in quotes, write face = "1.5 mm"'
    """
    found = _PLACE.fullmatch(message)
    if found is None:
        return f"the TOML is broken: {message}"
    lines = re.split(r"\r\n|\n", text)
    number, what = int(found[2] or len(lines)), found[1].lower()
    number = min(max(number, 1), len(lines))
    if "\n" in found[1] or "'\\n'" in found[1]:  # a text that ends with its line; some readers name the next one
        number = max(n for n in range(1, number + 1) if lines[n - 1].strip())
    line = lines[number - 1]
    short = len(line) <= _READ
    advice = (_twice(lines, number, what) or _advice(line, what)) if short else ""
    if not advice and short and (opened := _unclosed(lines, number)):
        return f"line {opened} reads `{_cut(lines[opened - 1])}`; its list is not closed, write a ] at its end"
    if not advice:
        return f"line {number} reads `{_cut(line)}`; the TOML is broken: {found[1][:1].lower()}{found[1][1:]}"
    return f"line {number} reads `{_cut(line)}`; {advice}"


def _cut(line: str) -> str:
    line = _REMARK.sub("", line)
    line = "".join(c if c.isprintable() else " " for c in line.strip())
    return line if len(line) <= _LONGEST else line[: _LONGEST - 3] + "..."


def _bare(line: str) -> str:
    """The line without its remark, what is quoted blanked out."""
    blank = _QUOTED.sub(lambda m: '"' * len(m[0]), line)
    return blank.partition("#")[0].rstrip()


def _advice(line: str, what: str) -> str:
    """What would do in place of one line; "" where that is not plain."""
    if line != (straight := line.translate(_CURLY)):
        return f"curly quotes; write straight ones{f', {_cut(straight)}' if _is_toml(straight) else ''}"
    bare = _bare(line)
    if "[" in bare[:2] and "=" not in bare:
        opens = "[[" if bare.lstrip().startswith("[[") else "["
        name = bare.strip(" \t[]")
        written = f"{opens}{name}{']' * len(opens)}"
        return f"the head of a table stands in brackets, write {written}" if name and written != bare.strip() else ""
    key, equals, value = bare.partition("=")
    if not equals:
        said = re.fullmatch(r"\s*([A-Za-z0-9_-]+)\s*[:–—]?\s*(.+)", line.partition("#")[0])
        return f"an = is missing, write {said[1]} = {_value(said[2].strip())}" if said else ""
    key, value = key.strip(), _REMARK.sub("", line).partition("=")[2].strip()
    if not re.fullmatch(rf"{_PART}(?:\s*\.\s*{_PART})*", key):
        return f"{_cut(key)} is no name of a key; write letters, digits, _ and - only"
    if not value:
        return f"nothing stands after =; write a value, or drop {_cut(key)}"
    if "\\" in line and ("escape" in what or "hex" in what):
        return "a backslash in a text counts as a sign of its own; write two of them, or put the text in '…'"
    if value.count('"') % 2 or (value.count("'") % 2 and '"' not in value):
        mended = value + value[0] if value[0] in "\"'" else f'"{value.strip(chr(34))}"'
        write = f", write {_cut(key)} = {_cut(mended)}" if _is_toml(f"x = {mended}") else ""
        return f"a quotation mark is missing{write}"
    if (written := _value(value)) != value:
        why = "a quantity stands in quotes" if _QUANTITY.fullmatch(value) else "a text stands in quotes"
        if value.endswith(";"):
            why = "a line ends without a semicolon"
        elif not written.startswith('"'):
            number = value[-1].isdigit()
            why = "a number stands without commas and blanks" if number else "true and false are written small"
        return f"{why}, write {_cut(key)} = {_cut(written)}"
    if (inside := _QUANTITY.search(value)) and value[0] in "[{":
        return f'each quantity stands in quotes, write "{_cut(inside[1])}" there'
    return ""


def _is_toml(line: str) -> bool:
    try:
        tomllib.loads(line)
    except (ValueError, RecursionError):
        return False
    return True


def _value(value: str) -> str:
    """A value as it should stand, as far as that is plain."""
    value = value.rstrip(";").rstrip()
    if re.fullmatch(r"[+-]?\d{1,3}(?:[, ]\d{3})+", value):
        return re.sub(r"[, ]", "", value)
    if re.fullmatch(r"[+-]?\d+,\d+", value):
        return value.replace(",", ".")
    if value in ("True", "TRUE", "False", "FALSE"):
        return value.lower()
    if value[:1] in "\"'[{" or _LITERAL.fullmatch(value):
        return value
    return '"' + value.replace('"', "").replace("'", "") + '"'


def _twice(lines: list[str], number: int, what: str) -> str:
    """What to say of a key or a table that is there already."""
    if not any(word in what for word in ("overwrite", "twice", "declare", "mutate", "duplicate", "already")):
        return ""
    head = _HEAD.fullmatch(_bare_head(lines[number - 1]))
    if head is not None:
        for i in range(number - 1, 0, -1):
            other = _HEAD.fullmatch(_bare_head(lines[i - 1]))
            if other is None or other[2] != head[2]:
                continue
            if other[1] == head[1]:
                return f"this table is there already, in line {i}; bring both together under one head"
            return (f"line {i} has {other[1]}{other[2]}{']' * len(other[1])}; a list stands in double brackets each "
                    f"time, write [[{head[2]}]] in both")
        return "this table is there already, as a key further up; keep one of them"
    key = lines[number - 1].partition("=")[0].strip()
    for i in range(number - 1, 0, -1):
        if lines[i - 1].partition("=")[0].strip() == key and "=" in lines[i - 1]:
            return f"{_cut(key)} is there already, in line {i}; keep one of them"
        if _HEAD.fullmatch(_bare_head(lines[i - 1])):
            break
    return f"{_cut(key)} is there already; keep one of them"


def _bare_head(line: str) -> str:
    return line.partition("#")[0].rstrip() if line.lstrip().startswith("[") else ""


def _unclosed(lines: list[str], number: int) -> int:
    """Line of the nearest value above that begins a list and does not end it, or 0."""
    for i in range(number, 0, -1):
        bare = _bare(lines[i - 1])
        if "=" not in bare:
            continue
        value = bare.partition("=")[2]
        if value.count("[") > value.count("]"):
            return i
        if i < number:
            return 0
    return 0
