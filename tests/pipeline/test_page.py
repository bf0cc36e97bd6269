"""index.html of a finished map, in a real browser, opened from the disk."""

import io
import re

import geopandas
import numpy as np
import pytest
from PIL import Image

from gridmap.deliver.caution import CAUTION

pytestmark = pytest.mark.browser


@pytest.fixture
def opened(browser, mapped):
    """The page, with every request and every complaint that it makes."""
    context = browser.new_context(viewport={"width": 1200, "height": 900})
    page = context.new_page()
    asked, complaints = [], []
    page.on("request", lambda request: asked.append(request.url))
    page.on(
        "console", lambda words: complaints.append(words.text) if words.type in ("error", "warning") else None
    )
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.goto((mapped[0].out / "index.html").as_uri())
    page.wait_for_selector("html[data-slices=ready]")
    yield page, asked, complaints
    context.close()


def picture_of_plan(page):
    return np.asarray(Image.open(io.BytesIO(page.locator("#plan").screenshot())).convert("RGB"), dtype=int)


def test_page_asks_nothing_from_any_host_and_does_not_complain(opened):
    """The file itself and data inside it are all that is loaded, through every slice; the console stays silent."""
    page, asked, complaints = opened
    for _ in range(3):
        page.click("#down")
    page.click("#tab-look")
    page.select_option("#table", index=1)
    page.wait_for_timeout(200)
    assert [url for url in asked if not url.startswith(("file:", "data:", "blob:"))] == []
    assert sum(url.startswith("file:") for url in asked) == 1
    assert complaints == []


def test_slider_goes_through_all_depth_slices_and_the_plan_changes(opened, mapped):
    """As many steps as there are depth slices on disk, named by the same depths, each drawn anew."""
    page, _, _ = opened
    tops = [
        float(re.match(r"depth_([\d.]+)-", path.name).group(1))
        for path in sorted((mapped[0].out / "slices").glob("depth_*.tif"))
    ]
    assert int(page.get_attribute("#depth", "max")) == len(tops) - 1
    page.focus("#depth")
    page.keyboard.press("Home")
    first = picture_of_plan(page)
    page.keyboard.press("End")
    assert f"{tops[-1]:.2f}" in page.inner_text("#window")
    assert np.abs(picture_of_plan(page) - first).max() > 30


def test_page_says_site_velocity_and_the_whole_caution(opened, mapped):
    """What a client must not miss is readable text on the page."""
    page, _, _ = opened
    text = " ".join(page.inner_text("body").split())
    assert "Bleaching green, Unterau" in text
    page.click("#tab-about")
    assert f"{mapped[0].velocity.mean_m_per_ns():.3f}" in page.inner_text("#velocity")
    assert CAUTION in text


def test_pointer_reads_the_co_ordinates_of_the_plan(opened):
    """The middle of the plan reads as the middle of the site, whose raster the control points place."""
    page, _, _ = opened
    box = page.locator("#plan").bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    east, north = (float(re.sub(r"[^\d.]", "", page.inner_text(f"#{name}"))) for name in ("east", "north"))
    assert east == pytest.approx(500001.1, abs=0.3)
    assert north == pytest.approx(5400001.5, abs=0.3)


def test_what_was_found_is_drawn_and_told(opened, mapped):
    """Every feature of features.gpkg is named in the page with its depth; its line is drawn until turned off."""
    page, _, _ = opened
    found = geopandas.read_file(mapped[0].out / "features.gpkg", layer="linear")
    assert len(found)
    listed = page.inner_text("#features")
    assert all(f"{name}\n" in listed for name in found["id"])
    page.click("#tab-about")
    said = page.inner_text("#summary")
    for name, depth in zip(found["id"], found["depth_top_m"], strict=True):
        assert f"{name}: A long, narrow echo" in said
        assert f"{depth:.2f}" in said
    shown = picture_of_plan(page)
    page.click("#tab-look")
    page.uncheck("#show-features")
    bare = picture_of_plan(page)
    ink = np.array([255, 90, 54])  # STATUS.found in ink.js
    assert (np.abs(shown - ink).max(axis=2) < 30).sum() > 100
    assert (np.abs(bare - ink).max(axis=2) < 30).sum() < 10
