"""Draw docs/pictures/review_*.png: the review page on a finished map of the demo survey, screen by screen.

Usage: PYTHONPATH=. python scripts/draw_review.py OUT [FOLDER]
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import threading
from pathlib import Path
from typing import Any

from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

from gridmap.page.review import open_review
from gridmap.page.server import make_server

ROOT = Path(__file__).parent.parent
DESK = {"width": 1360, "height": 850}
TABLET = {"width": 1024, "height": 768}


def opened(browser: Browser, address: str, **more: Any) -> Page:
    """Open the page and wait until all of it is there."""
    page = browser.new_context(**{"viewport": DESK, **more}).new_page()
    page.goto(address)
    page.wait_for_selector("html[data-ready=live][data-slices=ready]")
    return page


def keep(page: Page, path: Path) -> None:
    """Save the screen as a PNG of 220 colours."""
    page.wait_for_timeout(600)
    page.screenshot(path=path)
    Image.open(path).convert("RGB").quantize(220, dither=Image.Dither.NONE).save(path, optimize=True)
    print(path, path.stat().st_size)


def draw(browser: Browser, address: str, folder: Path) -> None:
    """Judge, draw, cut, turn: a picture of each."""
    page = opened(browser, address)
    page.locator(".feature").nth(1).click()
    page.click("#judge-accept")
    page.fill("#say-class", "water")
    page.keyboard.press("Tab")
    page.click("[data-tool=line]")
    box = page.locator("#plan").bounding_box()
    assert box is not None
    for x, y in ((0.33, 0.42), (0.42, 0.62), (0.56, 0.7)):
        page.mouse.click(box["x"] + x * box["width"], box["y"] + y * box["height"])
    keep(page, folder / "review_plan.png")
    page.keyboard.press("Escape")
    page.click("[data-tool=look]")
    page.locator(".feature").nth(1).click()
    page.click("#across")
    page.wait_for_selector("#section-box:not([hidden])")
    page.click("#curve")
    shown = page.locator("#section").bounding_box()
    assert shown is not None
    where = page.evaluate("document.getElementById('section-read').textContent")
    along = float(where.split()[0]) / 7.5
    page.mouse.click(
        shown["x"] + 54 + along * (shown["width"] - 204), shown["y"] + 26 + 0.325 * (shown["height"] - 34)
    )
    keep(page, folder / "review_section.png")
    page.click("#section-close")
    page.click("[data-view=scene]")
    keep(page, folder / "review_3d.png")
    page.context.close()
    page = opened(browser, address, viewport=TABLET, color_scheme="dark", has_touch=True)
    page.click("#tab-look")
    keep(page, folder / "review_tablet.png")
    page.context.close()


def main(out: Path, folder: Path) -> None:
    """Draw all on a copy of the map."""
    with tempfile.TemporaryDirectory() as held:
        copy = Path(held) / "map"
        shutil.copytree(out, copy, ignore=shutil.ignore_patterns("pictures", "slices"))
        with make_server(open_review(copy)) as server, sync_playwright() as driver:
            threading.Thread(target=server.serve_forever, daemon=True).start()
            browser_path = shutil.which("chromium") or shutil.which("chromium-browser")
            browser = driver.chromium.launch(executable_path=browser_path, args=["--no-sandbox"])
            draw(browser, server.address, folder)
            browser.close()
            server.shutdown()


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]) if len(sys.argv) > 2 else ROOT / "docs" / "pictures")
