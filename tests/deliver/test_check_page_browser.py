"""The check page on a tablet: opened from the disk, by finger and by keyboard, in sun and at night."""

import dataclasses
import io
import re

import numpy as np
import pytest
from axe import axe_faults
from checked_survey import LENGTH_M, LINES, SPIKE, STEP_NS, TRACES, ZERO_NS, findings, made_page
from PIL import Image

from gridmap.deliver.check_page import write_check_page

pytestmark = pytest.mark.browser
HOSTILE = "</script><script>window.bad=1</script><img src=x onerror='window.bad=2'>&amp;\u2028"
SIZES = {"landscape": (1180, 820), "portrait": (820, 1180), "phone": (390, 800)}


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("check")
    good = [f for f in findings() if f.severity == "note"]
    for name, page in (
        ("again", made_page()),
        ("good", made_page(found=good)),
        ("hostile", made_page(HOSTILE, HOSTILE, HOSTILE)),
    ):
        write_check_page(folder / f"{name}.html", page)
    return folder


class Tablet:
    """A page with every request and every complaint that it makes."""

    def __init__(self, browser, path, size="landscape", **options):
        width, height = SIZES[size]
        self.context = browser.new_context(
            viewport={"width": width, "height": height}, has_touch=True, **options
        )
        self.page = self.context.new_page()
        self.asked, self.complaints = [], []
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.on("console", lambda said: self.complaints.append(said.text))
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.goto(path.as_uri())

    def close(self):
        assert self.complaints == []
        assert [url for url in self.asked if not url.startswith(("file:", "data:"))] == []
        assert sum(url.startswith("file:") for url in self.asked) == 1
        self.context.close()

    def text(self, name):
        return self.page.locator(f"#{name}").inner_text()

    def readout(self):
        """Trace, metres, nanoseconds, percent."""
        percent = self.text("at-value").replace("\u2212", "-")
        return tuple(
            float(re.match(r"[+-]?[\d.]+", words).group())
            for words in (self.text("at-trace"), self.text("at-along"), self.text("at-time"), percent)
        )

    def picture(self, name):
        shot = self.page.locator(f"#{name}").screenshot()
        return np.asarray(Image.open(io.BytesIO(shot)).convert("RGB"), dtype=int)


@pytest.fixture
def tablet(browser, files):
    opened = Tablet(browser, files / "again.html")
    yield opened
    opened.close()


def test_verdict_comes_first_and_the_list_is_worst_first(tablet):
    """What the crew must know is the first heading; cards follow in the order of the findings."""
    assert tablet.page.locator("h1, h2").first.inner_text() == "Walk again"
    heads = tablet.page.locator("#list-box .card b").all_inner_texts()
    assert heads[:2] == ["Y05, whole line", "Y02, 2.1 to 3.5 m"]
    assert "Walk this stretch again." in tablet.text("list-box")


def test_finger_on_a_line_shows_its_radargram(tablet):
    """A tap on the plan opens the line that lies there; the name is shown beside the finger meanwhile."""
    page = tablet.page
    bands = page.locator("#plan .walked")
    assert bands.count() == LINES - 1  # and one chosen
    box = bands.nth(2).bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] * 0.4)
    page.mouse.down()
    assert page.locator("#plan .callout text").text_content() == "Y04"
    page.mouse.up()
    assert tablet.text("line-name") == "Y04"
    assert page.locator("#plan").is_hidden()
    page.click("#after")
    assert tablet.text("line-name") == "Y05"
    page.go_back()
    assert tablet.text("line-name") == "Y04"
    page.click("#back")
    assert page.locator("#plan").is_visible()


def test_touch_opens_a_line_and_reads_a_trace(tablet):
    """By touch alone: tap a line, then its radargram; the readout is the place under the finger."""
    page = tablet.page
    box = page.locator("#plan .walked").nth(2).bounding_box()
    page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] * 0.4)
    assert tablet.text("line-name") == "Y04"
    box = page.locator("#radargram").bounding_box()
    left, width = box["x"] + 58, box["width"] - 58 - 52
    top, height = box["y"] + 46, box["height"] - 46 - 42
    page.touchscreen.tap(left + 0.25 * width, top + 0.5 * height)
    trace, along, time, _ = tablet.readout()
    assert trace == pytest.approx(0.25 * TRACES, abs=1.5)
    assert along == pytest.approx(0.25 * LENGTH_M, abs=0.08)
    assert time == pytest.approx(60 * STEP_NS - ZERO_NS, abs=STEP_NS)


def test_keyboard_alone_reaches_everything(tablet):
    """From the line chooser to the strongest amplitude of the line and back, without a pointer."""
    page = tablet.page
    page.locator("#pick").focus()
    page.keyboard.type("Y02")
    page.locator("#open").focus()
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "line-name"
    page.locator("#radargram").focus()
    page.keyboard.press("Home")
    for _ in range(SPIKE[0] // 10):
        page.keyboard.press("PageDown")
    time = SPIKE[1] * STEP_NS - ZERO_NS
    for _ in range(200):
        at = tablet.readout()
        if abs(at[2] - time) < 0.6 * STEP_NS:
            break
        page.keyboard.press("ArrowUp" if at[2] > time else "ArrowDown")
    at = tablet.readout()
    assert at[0] == SPIKE[0] + 1
    assert at[3] == 100
    said = page.get_attribute("#radargram", "aria-valuetext")
    assert said.startswith("Trace 61, 3.00 metres")
    page.keyboard.press("Escape")
    assert page.locator("#plan").is_visible()
    assert page.evaluate("document.activeElement.id") == "open"


def test_card_leads_to_the_stretch_with_its_marks(tablet):
    """The radargram opens about the stretch, says what is wrong, and draws both ends of it."""
    page = tablet.page
    page.locator(".card button", has_text="Y02").click()
    assert "antenna off the ground. Walk this stretch again." in tablet.text("told")
    assert tablet.readout()[1] == pytest.approx((2.13 + 3.42) / 2, abs=0.06)
    red = np.array([168, 0, 32])
    row = np.abs(tablet.picture("radargram")[200:300] - red).max(axis=2).max(axis=0) < 12
    edges = np.flatnonzero(row[1:] & ~row[:-1])
    assert len(edges) == 2


def test_part_of_a_line_is_shown_larger_and_moved_along(tablet):
    """Larger steps halve what is shown, moving steps by half of that, and the ends stop; the whole comes back."""
    page = tablet.page
    page.click("#open")
    page.locator("#radargram").focus()
    page.keyboard.press("Home")
    assert page.locator("#later").is_disabled()
    for _ in range(2):
        page.click("#narrow")
    assert page.locator("#earlier").is_disabled()
    page.click("#later")
    assert tablet.readout()[0] == pytest.approx(1 + TRACES / 4 / 2, abs=1)
    assert page.locator("#earlier").is_enabled()
    for _ in range(8):
        if page.locator("#later").is_enabled():
            page.click("#later")
    assert tablet.readout()[0] > TRACES * 3 / 4
    page.click("#whole")
    assert page.locator("#earlier").is_disabled()
    assert page.locator("#later").is_disabled()


def test_colour_scales_change_the_picture_and_are_kept(browser, files):
    """Grey has no hue, the second scale has; the choice is there again when the page is opened again."""
    opened = Tablet(browser, files / "again.html")
    page = opened.page
    page.click("#open")
    grey = opened.picture("radargram")[150:300, 200:400]
    assert np.abs(grey.max(axis=2) - grey.min(axis=2)).max() < 12
    page.locator("#scales label").nth(1).click()
    hued = opened.picture("radargram")[150:300, 200:400]
    assert np.percentile(hued.max(axis=2) - hued.min(axis=2), 90) > 60
    opened.close()


def test_ticks_count_what_is_done(tablet):
    """The heading counts what has been walked again."""
    assert tablet.text("again-title") == "Walk again (0 of 2 done)"
    tablet.page.locator(".tick").first.click()
    assert tablet.text("again-title") == "Walk again (1 of 2 done)"


SLOW = pytest.mark.slow


@pytest.mark.parametrize(
    ("name", "scheme", "size"),
    [
        ("again", "light", "landscape"),
        ("again", "dark", "portrait"),
        pytest.param("again", "light", "portrait", marks=SLOW),
        pytest.param("again", "dark", "landscape", marks=SLOW),
        pytest.param("again", "light", "phone", marks=SLOW),
        pytest.param("again", "dark", "phone", marks=SLOW),
        pytest.param("good", "light", "landscape", marks=SLOW),
        pytest.param("good", "dark", "portrait", marks=SLOW),
    ],
)
def test_wcag_and_contrast_of_seven_to_one(browser, files, name, scheme, size):
    """axe-core finds nothing on plan, list and line, at the contrast of WCAG 2.2, 1.4.6 (7:1), as sun asks for."""
    opened = Tablet(browser, files / f"{name}.html", size, color_scheme=scheme)
    assert axe_faults(opened.page, contrast_7=True) == []
    opened.page.click("#open")
    assert axe_faults(opened.page, contrast_7=True) == []
    opened.close()


@pytest.mark.parametrize("size", SIZES)
def test_targets_are_large_enough_for_gloves_and_nothing_is_cut(browser, files, size):
    """Every button, choice and tick is at least 56 CSS pixels each way, and the page does not scroll sideways."""
    opened = Tablet(browser, files / "again.html", size)
    page = opened.page
    for screen in ("survey", "line"):
        if screen == "line":
            page.click("#open")
        for target in page.locator("button, select, summary, .tick, #scales label").all():
            if target.is_visible():
                box = target.bounding_box()
                assert min(box["width"], box["height"]) >= 56, target.evaluate("node => node.outerHTML")[:200]
        assert page.evaluate("document.documentElement.scrollWidth") <= SIZES[size][0]
        for part in ("#plan", "#pick") if screen == "survey" else ("#radargram", "#wiggle", "#readout"):
            box = page.locator(part).bounding_box()
            assert box["x"] >= 0
            assert box["x"] + box["width"] <= SIZES[size][0]
            assert box["height"] > 40
    opened.close()


def test_severities_differ_without_colour(tablet):
    """In grey the stretches differ by their pattern and by the shape of their number."""
    page = tablet.page
    again = page.locator("#plan .band.again").first
    look = page.locator("#plan .band.look").first
    assert again.get_attribute("stroke-dasharray") != look.get_attribute("stroke-dasharray")
    assert page.locator("#plan .badge.again circle").count() == 2
    assert page.locator("#plan .badge.look rect").count() == 1
    assert page.locator("#legend").inner_text().startswith("walk again")


def test_reduced_motion_is_respected(browser, files):
    """Nothing moves where the reader asks for stillness."""
    opened = Tablet(browser, files / "again.html", reduced_motion="reduce")
    moving = opened.page.evaluate(
        "[...document.querySelectorAll('*')].filter((e) => { const s = getComputedStyle(e);"
        " return s.transitionDuration !== '0s' || s.animationName !== 'none'; }).length"
    )
    assert moving == 0
    opened.close()


def test_hostile_names_are_shown_as_text(browser, files):
    """Markup in names and words appears letter by letter, runs nothing and loads nothing."""
    opened = Tablet(browser, files / "hostile.html")
    page = opened.page
    assert page.locator("#site").text_content() == HOSTILE
    page.locator(".card button").first.click()
    assert page.locator("#line-name").text_content() == f"{HOSTILE}05"
    assert page.evaluate("window.bad") is None
    assert page.locator("img").count() == 0
    assert page.evaluate("document.documentElement.scrollWidth") <= 1180
    opened.close()


def test_places_that_nobody_knows_are_not_made_up(browser, tmp_path):
    """Without places the page speaks of traces, not of metres, and names the lines that it draws side by side."""
    page = made_page()
    lines = tuple(dataclasses.replace(line, placed=False) for line in page.verdict.lines)
    verdict = dataclasses.replace(page.verdict, lines=lines)
    write_check_page(tmp_path / "bare.html", dataclasses.replace(page, verdict=verdict))
    opened = Tablet(browser, tmp_path / "bare.html")
    assert "Y02, traces 43 to 69" in opened.text("list-box")
    assert " m" not in opened.page.locator("#list-box .card b").all_inner_texts()[1]
    assert opened.page.locator("#plan text", has_text="Y04").count() == 1
    opened.page.locator(".card button", has_text="Y02").click()
    assert opened.text("at-along") == "not known"
    assert opened.text("line-state") == "Walk again; 81 traces"
    opened.close()
