"""The live page in one file that works without the program, on the tables that it carries.

All modules of the page go along, packed, with :mod:`frozen.js` in place of the socket: strings move over their maps,
sound plays, turns and controls follow; what would need a solve says so.
"""

from __future__ import annotations

import html
import json
import re
import zlib
from base64 import b64encode
from collections.abc import Callable
from pathlib import Path
from typing import Any

from scipy.signal import resample_poly

from ..pickup import Pickup
from .answers import Asked, answer
from .frames import frame
from .hand.design import read_design
from .hand.scene import scene

PAGE = Path(__file__).with_name("page")
LARGEST = 5_000_000
"""Bytes: what can be handed to students."""
_TOPICS = ("strings", "winding", "maps", "coil", "fields", "space", "hum", "pull", "materials")
_IMPORT = re.compile(r"""(\bfrom\s+|\bimport\s+)(['"])(\.{1,2}/[\w./-]+\.js)\2""")
_COARSER = 2
"""Of the samples of the sound one in so many stays: an amplifier's end has little above 10 kHz."""
_LONGEST = 2.0  # s of sound
_POLICY = ("default-src 'none'; script-src 'unsafe-inline' blob:; style-src 'unsafe-inline'; img-src data: blob:; "
           "worker-src blob:; base-uri 'none'; form-action 'none'")
_LOADER = """
const raw = (id) => Uint8Array.from(atob(document.getElementById(id).textContent.trim()), (c) => c.charCodeAt(0));
const open = (id) => new Response(new Blob([raw(id)]).stream().pipeThrough(new DecompressionStream('deflate')));
globalThis.stringfluxTables = open('tables').arrayBuffer();
const addresses = {};
for (const [name, text] of await open('modules').json()) {
  const whole = text.replace(/@@([^@]+)@@/g, (_, other) => addresses[other]);
  addresses[name] = URL.createObjectURL(new Blob([whole], { type: 'text/javascript' }));
}
globalThis.stringfluxModules = addresses;
await import(addresses['main.js']);
"""


def exported(pickup: Pickup, text: str, name: str, progress: Callable[[str, float], None]) -> str:
    """The page of a pickup.

    Parameters
    ----------
    text, name : str
        Of the case's file.

    Returns
    -------
    str
        HTML, some 2 to 4 MB, that fetches nothing.
    """
    modules = b64encode(zlib.compress(json.dumps(packed_modules()).encode(), 9)).decode()
    carried = b64encode(zlib.compress(frame(tables(pickup, text, name, progress)), 9)).decode()
    page = (PAGE / "index.html").read_text(encoding="utf-8")
    styles = "\n".join((PAGE / sheet).read_text(encoding="utf-8") for sheet in re.findall(
        r'<link rel="stylesheet" href="([^"]+)">', page))
    body = page.partition("<body>")[2].partition("</body>")[0]
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{html.escape(_POLICY)}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{html.escape(pickup.case.title or name)}</title>
<style>{styles}</style>
</head>
<body>{body}
<script type="text/plain" id="modules">{modules}</script>
<script type="text/plain" id="tables">{carried}</script>
<script type="module">{_LOADER}</script>
</body>
</html>
"""


def tables(pickup: Pickup, text: str, name: str, progress: Callable[[str, float], None]) -> dict[str, Any]:
    """What the page knows: the scene, the answers of every topic, and loops and sound of every string."""
    answers = {}
    for i, topic in enumerate(_TOPICS):
        progress(topic, i / len(_TOPICS))
        answers[topic] = answer(topic, pickup, Asked(text=text, name=name), lambda stage, share: None)
    loops, sounds = ([answer(topic, pickup, Asked(string=k), lambda stage, share: None)
                      for k in range(1, len(pickup.case.string) + 1)] for topic in ("loop", "sound"))
    for sound in sounds:
        if "voltage" in sound:
            most = int(_LONGEST * sound["rate"])
            sound |= {"rate": sound["rate"] / _COARSER,
                      "voltage": resample_poly(sound["voltage"][:most], 1, _COARSER)}
    progress("", 1.0)
    return {"text": text, "name": name, "quality": pickup.quality, "design": 0, "answers": answers, "loops": loops,
            "sounds": sounds, "scene": scene(read_design(text), text)}


def packed_modules() -> list[tuple[str, str]]:
    """Name and text of every module, each after those that it imports, whose names stand between ``@@``."""
    found: dict[str, str] = {}

    def add(name: str) -> None:
        if name in found:
            return
        source = "frozen.js" if name == "link.js" else name
        text = (PAGE / source).read_text(encoding="utf-8")
        folder = Path(name).parent

        def named(match: re.Match[str]) -> str:
            other = (folder / match[3]).as_posix()
            add(other)
            return f"{match[1]}'@@{other}@@'"

        made = _IMPORT.sub(named, text)
        found[name] = made

    add("vendor/three.module.js")  # is loaded when somebody looks
    add("main.js")
    return list(found.items())
