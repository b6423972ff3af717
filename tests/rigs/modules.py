"""Modules of the live page run without a page: by node where it is there, else in Chromium."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

import stringflux.cases

FOLDER = Path(next(iter(stringflux.cases.__path__))) / "live" / "page"


def ran(script: str, data: Any) -> Any:
    """What the body of an async function of `data` returns; it imports by ``await load("linkage.js")``.

    Both go as JSON.
    """
    node = shutil.which("node")
    return _by_node(node, script, data) if node and _knows_modules(node) else _by_chromium(script, data)


def _knows_modules(node: str) -> bool:
    """Whether it takes a .js file for a module by what stands in it: from 20.19, and from 22.12 on."""
    said = subprocess.run([node, "--version"], capture_output=True, text=True, check=False).stdout
    major, minor = (int(part) for part in said.strip().removeprefix("v").split(".")[:2])
    return (major, minor) >= (22, 12) or (20, 19) <= (major, minor) < (21, 0)


def _by_node(node: str, script: str, data: Any) -> Any:
    whole = (f"const load = (name) => import({json.dumps(FOLDER.as_uri())} + '/' + name);\n"
             "let text = ''; for await (const part of process.stdin) text += part;\n"
             f"const found = await (async (data) => {{ {script} }})(JSON.parse(text));\n"
             "console.log(JSON.stringify(found));")
    done = subprocess.run([node, "--input-type=module", "-e", whole], input=json.dumps(data), capture_output=True,
                          text=True, check=False)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def _by_chromium(script: str, data: Any) -> Any:
    chromium = next((path for name in ("chromium", "chromium-browser") if (path := shutil.which(name))), None)
    if chromium is None:
        pytest.skip("there is neither node nor Chromium here: apt-get install chromium")
    from playwright.sync_api import Route, sync_playwright

    def served(route: Route) -> None:
        name = route.request.url.rpartition("/")[2]
        route.fulfill(body=(FOLDER / name).read_text(encoding="utf-8") if name else "<!doctype html>",
                      content_type="text/javascript" if name else "text/html")

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium, args=["--headless", "--no-sandbox"])
        page = browser.new_page()
        page.route("**/*", served)
        page.goto("http://page.test/")
        return page.evaluate("async ([text, script]) => { const load = (name) => import('/' + name);"
                             "const made = Object.getPrototypeOf(async () => {}).constructor;"
                             "return await new made('data', 'load', script)(JSON.parse(text), load); }",
                             [json.dumps(data), script])
