"""The picture of the live page in the README, docs/live.png: string 3 of `baritone-six`, part of a swing away.

With --out FILE it goes there.
"""

from __future__ import annotations

import sys
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory

from PIL import Image

from rigs.live_page import Watched, chromium, served

CASE, STRING, PHASE = "baritone-six", "string.3", "140"
TO = Path(__file__).parents[2] / "docs" / "live.png"


def main() -> None:
    path = Path(sys.argv[sys.argv.index("--out") + 1]) if "--out" in sys.argv else TO
    with TemporaryDirectory() as home, served(CASE, home=Path(home)) as address, chromium() as browser:
        seen = Watched.opened(browser, address, color_scheme="light")
        seen.page.locator(f".string[data-item='{STRING}']").first.click()
        for topic in ("fields", "loop", "pull"):
            seen.settled(topic)
        seen.page.get_by_label("phase of the swing").fill(PHASE)
        seen.page.wait_for_timeout(1000)
        with Image.open(BytesIO(seen.page.screenshot())) as picture:
            few = picture.convert("RGB").quantize(256, dither=Image.Dither.NONE)  # a third of its size
            few.save(path, optimize=True)
        if seen.faults:
            sys.exit("\n".join(seen.faults))
    print(path)


if __name__ == "__main__":
    main()
