"""Frames a second and loading of the page of a finished map, in headless Chromium.

Usage: python -m benchmarks.review_page OUT/index.html [--json]

Every frame shows another slice, as a reader does who drags the depth ruler from top to base and back. A frame counts
from one animation frame to the next; its work is the script's own time, which a graphics card does not shorten. The
browser paints in software here, so frames on a real screen are no slower.
"""

from __future__ import annotations

import json
import shutil
import sys
import time
from pathlib import Path

from playwright.sync_api import sync_playwright

FRAMES = 240
SMOOTH = """async (frames) => {
  const slider = document.getElementById("depth"), last = Number(slider.max), apart = [];
  let k = 0, before = 0;
  await new Promise((done) => {
    const step = (now) => {
      if (before) apart.push(now - before);
      before = now;
      if (k >= frames) { done(); return; }
      slider.value = String(Math.abs(((k + last) % (2 * last)) - last));
      slider.dispatchEvent(new Event("input", { bubbles: true }));
      k += 1;
      requestAnimationFrame(step);
    };
    requestAnimationFrame(step);
  });
  return apart;
}"""


def measure(page_file: Path) -> dict[str, float]:
    """Load the page, wait until every slice is unpacked, and drag through all slices."""
    browser_path = shutil.which("chromium") or shutil.which("chromium-browser")
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=browser_path, args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        begun = time.perf_counter()
        page.goto(page_file.resolve().as_uri())
        page.wait_for_selector("#window:not(:empty)")
        shown = time.perf_counter() - begun
        page.wait_for_selector("html[data-slices=ready]", timeout=120_000)
        ready = time.perf_counter() - begun
        apart = sorted(page.evaluate(SMOOTH, FRAMES))
        client = page.context.new_cdp_session(page)
        client.send("Performance.enable")
        used = [_script_seconds(client)]
        page.evaluate(SMOOTH, FRAMES)
        used.append(_script_seconds(client))
        browser.close()
    return {
        "megabytes": page_file.stat().st_size / 1e6,
        "first_slice_s": shown,
        "all_slices_s": ready,
        "frames_a_second": 1000.0 * len(apart) / sum(apart),
        "frame_ms_median": apart[len(apart) // 2],
        "frame_ms_95": apart[int(0.95 * len(apart))],
        "script_ms_a_frame": 1000.0 * (used[1] - used[0]) / FRAMES,
    }


def _script_seconds(client) -> float:  # type: ignore[no-untyped-def]
    found = {entry["name"]: entry["value"] for entry in client.send("Performance.getMetrics")["metrics"]}
    return float(found["ScriptDuration"])


if __name__ == "__main__":
    result = measure(Path(sys.argv[1]))
    if "--json" in sys.argv:
        print(json.dumps(result))
    else:
        for name, value in result.items():
            print(f"{name:20s} {value:8.2f}")
