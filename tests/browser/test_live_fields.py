"""The field in the live page's drawing: pixels where the geometry says, a probe, strings on and off, by keyboard."""

from __future__ import annotations

import re
from collections.abc import Iterator
from io import BytesIO

import pytest
from PIL import Image
from playwright.sync_api import Page

from rigs.live_page import PATIENCE, Watched, chromium, served
from stringflux.cases import Pickup, load_case, solve

# The colour of the picture of the field, red green blue, at a place in mm: that of the image which is drawn there.
PIXEL = """([u, v]) => {
  const images = [...document.querySelectorAll('#drawing svg .under image')].reverse();
  const solid = document.querySelector('#solid path').isPointInFill(new DOMPoint(u, -v));
  const image = images.find((i) => solid === i.hasAttribute('clip-path'));
  const canvas = document.createElement('canvas');
  return new Promise((done) => { const picture = new Image(); picture.onload = () => {
    canvas.width = picture.width; canvas.height = picture.height;
    const box = ['x', 'y', 'width', 'height'].map((k) => Number(image.getAttribute(k)));
    const context = canvas.getContext('2d'); context.drawImage(picture, 0, 0);
    done([...context.getImageData(Math.floor((u - box[0]) / box[2] * picture.width),
      Math.floor((-v - box[1]) / box[3] * picture.height), 1, 1).data]); };
    picture.src = image.getAttribute('href'); });
}"""


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    """The live page of one string over one rod, at rest in the normal quality."""
    with served("bench-single", home=tmp_path_factory.mktemp("home")) as address, chromium() as browser:
        seen = Watched.opened(browser, address)
        seen.settled("fields")
        seen.page.wait_for_selector("#drawing .under:not(.before) image", state="attached")
        yield seen.page
        # software that stands in for a graphics card says so when a test looks at what it drew
        assert [fault for fault in seen.faults if "ReadPixels" not in fault] == []


@pytest.fixture(scope="module")
def pickup() -> Pickup:
    return solve(load_case("bench-single"))


def light(pixel: list[int]) -> float:
    return sum(pixel[:3])


def probed(page: Page) -> tuple[float, float, str, list[float]]:
    """Place in mm, where that is, and |B|, B x, y, z in mT, as the probe says."""
    text = page.inner_text("#probe").replace("−", "-")
    found = re.match(r"[xy] (\S+), z (\S+) mm, (.+): (\S+) mT .*; x (\S+), y (\S+), z (\S+) mT", text)
    assert found, text
    u, z, where, *b = found.groups()
    return float(u), float(z), where, [float(v) for v in b]


def test_the_pole_is_bright_and_far_air_dark(page: Page, pickup: Pickup) -> None:
    face = 1e3 * pickup.prediction(maps=False).poles[0].face
    axis, over, far = (page.evaluate(PIXEL, [0.0, v]) for v in (face - 8, face + 2, face + 11))
    corner = page.evaluate(PIXEL, [11.5, face + 11])
    assert light(axis) > light(over) > light(far) > light(corner)


def test_the_probe_says_what_the_program_says(page: Page, pickup: Pickup) -> None:
    page.focus("#probe")
    face = 1e3 * pickup.prediction(maps=False).poles[0].face
    page.keyboard.press("ArrowUp")
    for key in ("Shift+ArrowUp", "ArrowUp", "ArrowRight"):
        while probed(page)[1] < face + 1.5 if key.endswith("Up") else probed(page)[0] < 1.0:
            page.keyboard.press(key)
            if key.startswith("Shift") and probed(page)[1] > face - 2:
                break
    u, z, where, b = probed(page)
    field = pickup.field([0.0, 1e-3 * u, 1e-3 * z])
    assert where == "in air"
    wanted = [float(field.size[0]), *field.values[:, 0].tolist()]
    assert b == [float(f"{1e3 * v:.2f}") for v in wanted]
    for _ in range(12):
        page.keyboard.press("ArrowDown")
    assert probed(page)[2] == "in pole 1"


def test_the_pointer_moves_the_probe(page: Page) -> None:
    box = page.locator("#drawing svg").first.bounding_box()
    assert box
    page.mouse.move(box["x"] + box["width"] / 2 + 60, box["y"] + 60)
    first = probed(page)
    page.mouse.move(box["x"] + box["width"] / 2 - 60, box["y"] + 60)
    assert probed(page)[0] < first[0]


def test_strings_on_and_off(page: Page, pickup: Pickup) -> None:
    string = pickup.prediction(maps=False).strings[0]
    near = [1e3 * string.y + 1.0, 1e3 * string.height]
    page.wait_for_selector("#drawing .under:not(.before) image", state="attached")
    bare = page.evaluate(PIXEL, near)
    lines = page.locator("#drawing .flux-line").count()
    page.select_option("#field-mode", "added")
    added = page.evaluate(PIXEL, near)
    assert light(added) != light(bare)
    assert re.search(r"strings × \d+", page.inner_text("#field-note"))
    assert lines == 2
    assert page.locator("#drawing .flux-line").count() == 0
    page.select_option("#field-mode", "off")
    assert page.locator("#drawing .under image").count() == 0
    page.focus("#field-mode")
    page.keyboard.press("Home")
    assert page.evaluate(PIXEL, near) == bare


def test_a_field_of_another_design_is_dimmed(page: Page) -> None:
    page.evaluate("""() => { window.seen = []; new MutationObserver(() => {
      const u = document.querySelector('.under');
      if (u && u.querySelector('image')) window.seen.push(u.classList.contains('before')); })
      .observe(document.getElementById('drawing'), {subtree: true, childList: true, attributes: true}); }""")
    page.focus("[data-handle^='along|string.1.gap']")
    page.keyboard.press("ArrowUp")
    page.wait_for_function("() => window.seen.includes(true) && window.seen[window.seen.length - 1] === false",
                           timeout=PATIENCE)


def test_the_picture_is_quick(page: Page) -> None:
    times = page.evaluate("() => performance.getEntriesByName('field picture').map((e) => e.duration)")
    assert min(times) < 100  # ms; what else the machine does is not the picture's


def colours(page: Page) -> int:
    """How many colours the canvas of the view in space shows."""
    with Image.open(BytesIO(page.locator("#in-space").screenshot())) as picture:
        return len(picture.convert("RGB").getcolors(1 << 20) or [])


def frames(page: Page) -> int:
    return int(page.get_attribute("#in-space", "data-frames") or 0)


def test_in_space_it_is_turned_by_hand_and_by_keys_and_rests_otherwise(page: Page) -> None:
    Watched(page=page).settled()
    page.click("#tab-space")
    page.wait_for_selector("#in-space[data-frames]")
    assert colours(page) > 50  # light and shade on pole, coil and string
    assert "axial flux density" in page.inner_text("#space-says")
    page.focus("#in-space")
    for press in ("ArrowLeft", "ArrowUp", "+", "Home"):
        before = frames(page)
        page.keyboard.press(press)
        page.wait_for_function("(n) => Number(document.querySelector('#in-space').dataset.frames) > n", arg=before)
    box, before = page.locator("#in-space").bounding_box(), frames(page)
    assert box
    page.mouse.move(box["x"] + 100, box["y"] + 100)
    page.mouse.down()
    page.mouse.move(box["x"] + 200, box["y"] + 120, steps=4)
    page.mouse.up()
    page.wait_for_function("(n) => Number(document.querySelector('#in-space').dataset.frames) > n", arg=before)
    page.wait_for_timeout(300)
    still = frames(page)
    page.wait_for_timeout(500)
    assert frames(page) == still  # nothing is drawn while nothing changes
    page.click("#tab-along")
    page.wait_for_selector("#drawing > svg", state="visible")
