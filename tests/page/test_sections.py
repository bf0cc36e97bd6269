"""Vertical sections on the page that opens from a disk."""

import json

import pytest
from small_survey import PIPE_DEPTH, PIPE_Y

pytestmark = pytest.mark.browser
LEFT, RIGHT, TOP, BOTTOM = 54, 150, 26, 8  # edges of the section's plot, pixels


class Section:
    """The page with the section across the pipe open."""

    def __init__(self, page):
        self.page = page
        self.data = json.loads(page.locator("#data").text_content())
        page.locator(".feature").first.click()
        page.click("#across")
        page.wait_for_selector("#section-box:not([hidden])")
        self.index = int(page.input_value("#section-line"))
        self.gram = self.data["radargrams"]["lines"][self.index]

    def pixel(self, along, ns):
        box = self.page.locator("#section").bounding_box()
        width, height = box["width"] - LEFT - RIGHT, box["height"] - TOP - BOTTOM
        last = self.gram["first"] + (self.gram["traces"] - 1) * self.gram["step"]
        base = (self.gram["samples"] - 1) * self.data["radargrams"]["ns"]
        x = LEFT + (along - self.gram["first"]) / (last - self.gram["first"]) * width
        return box["x"] + x, box["y"] + TOP + ns / base * height

    def pipe_along(self):
        """Where the pipe lies along the line, walked up or down."""
        first, last = (self.data["lines"][self.index]["path"][k][1] for k in (0, -1))
        return abs(5400000 + PIPE_Y - first) if last > first else abs(first - 5400000 - PIPE_Y)


@pytest.fixture
def section(browser, mapped):
    context = browser.new_context(viewport={"width": 1300, "height": 950})
    page = context.new_page()
    faults = []
    page.on(
        "console", lambda words: faults.append(words.text) if words.type in ("error", "warning") else None
    )
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.goto((mapped[0].out / "index.html").as_uri())
    page.wait_for_selector("html[data-slices=ready]")
    yield Section(page)
    assert faults == []
    context.close()


def test_cursor_of_the_section_is_the_pointer_of_the_plan(section):
    """Over the pipe in the section, the plan reads the pipe's own y on the very line, and depth with sigma."""
    page = section.page
    page.mouse.move(*section.pixel(section.pipe_along(), 2 * PIPE_DEPTH / 0.1))
    assert page.inner_text("#nearest").endswith("0.00 m away")
    assert float(page.inner_text("#local").split(",")[1].split()[0]) == pytest.approx(PIPE_Y, abs=0.03)
    read = page.inner_text("#section-read")
    assert f"depth {PIPE_DEPTH:.2f}" in read or "depth 0.59" in read or "depth 0.61" in read
    assert "\u00b1 0.0" in read


def test_click_in_the_section_shows_the_slice_at_that_depth(section):
    """The slice that is shown then holds the depth that was clicked."""
    page = section.page
    page.focus("#depth")
    page.keyboard.press("End")
    page.mouse.click(*section.pixel(1.0, 2 * PIPE_DEPTH / 0.1))
    top, base = (float(part) for part in page.inner_text("#window").split()[1:4:2])
    assert top <= PIPE_DEPTH <= base


def test_velocity_is_read_from_the_curve(section):
    """From the apex through a flank point, 2 sqrt(d2 + x2) / v, the curve gives back v = 0.1 m/ns and d = 0.6 m."""
    page = section.page
    page.click("#curve")
    along = section.pipe_along()
    page.mouse.click(*section.pixel(along, 12.0))
    off = 0.8 if along + 0.8 < 3 else -0.8
    page.mouse.click(*section.pixel(along + off, 20.0))  # 2 * hypot(0.6, 0.8) / 0.1
    velocity, _, _, depth, *_ = page.inner_text("#curve-read").split()
    assert float(velocity) == pytest.approx(0.1, abs=0.003)
    assert float(depth) == pytest.approx(PIPE_DEPTH, abs=0.03)
    page.focus("#curve-v")
    page.keyboard.press("ArrowRight")
    assert float(page.inner_text("#curve-read").split()[0]) == pytest.approx(
        float(velocity) + 0.001, abs=0.0011
    )


def test_plan_moves_the_cursor_of_the_section(section):
    """Pointing at the line on the plan moves the cursor along the section."""
    page = section.page
    box = page.locator("#plan").bounding_box()
    page.click("[data-tool=section]")
    page.mouse.click(box["x"] + 76 + (box["width"] - 88) / 2, box["y"] + 12 + (box["height"] - 46) / 2)
    page.wait_for_timeout(200)
    middle = float(page.inner_text("#section-read").split()[0])
    assert middle == pytest.approx(1.5, abs=0.2)


def test_section_is_cut_anywhere_and_walked_by_keys(section):
    """A drawn section opens from its corners; its depth axis is the slices', and the keys move its cursor."""
    page = section.page
    page.keyboard.press("Escape")
    page.click("#section-close")
    page.click("[data-tool=cut]")
    box = page.locator("#plan").bounding_box()
    for share in (0.35, 0.6):
        page.mouse.click(box["x"] + share * box["width"], box["y"] + share * box["height"])
    page.click("#finish")
    page.wait_for_selector("#section-box:not([hidden])")
    assert page.input_value("#section-line") == "-1"
    page.focus("#section")
    for key in ("ArrowRight", "ArrowRight", "ArrowDown"):
        page.keyboard.press(key)
    assert "m along, depth" in page.inner_text("#section-read")
    page.keyboard.press("Escape")
    assert page.locator("#section-box").is_hidden()


def test_spans_are_measured_in_the_section(section):
    """A metre along and the pipe's depth below the surface: the straight span is their hypotenuse."""
    page = section.page
    page.click("#gauge")
    page.mouse.click(*section.pixel(1.0, 0.05))
    page.mouse.click(*section.pixel(2.0, 12.0))
    read = page.inner_text("#section-read").split("measured ")[1].split()
    far, deep, straight = float(read[0]), float(read[3]), float(read[6])
    assert far == pytest.approx(1.0, abs=0.02)
    assert deep == pytest.approx(0.6, abs=0.03)
    assert straight == pytest.approx((far**2 + deep**2) ** 0.5, abs=0.011)
