"""WCAG 2.2 AA by axe-core, keys alone, less motion, a tablet under the finger."""

import pytest
from axe import axe_faults

pytestmark = pytest.mark.browser


@pytest.fixture
def see(browser, mapped):
    """Open the page that lies on the disk; what goes wrong in it fails the test."""
    contexts, faults = [], []

    def begin(**more):
        context = browser.new_context(**{"viewport": {"width": 1366, "height": 900}, **more})
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda m: faults.append(m.text) if m.type in ("error", "warning") else None)
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.goto((mapped[0].out / "index.html").as_uri())
        page.wait_for_selector("html[data-slices=ready]")
        return page

    yield begin
    for context in contexts:
        context.close()
    assert [fault for fault in faults if "ReadPixels" not in fault] == []  # only a test reads pictures back


@pytest.mark.parametrize("colours", ["light", "dark"])
def test_axe_finds_nothing(see, colours):
    """Every panel, the section with its curve and the view in three dimensions, in light and in dark."""
    page = see(color_scheme=colours, bypass_csp=True)
    assert page.get_attribute("html", "data-theme") == colours
    page.locator(".feature").first.click()
    assert axe_faults(page) == []
    page.click("#across")
    page.click("#curve")
    page.click("#tab-look")
    assert axe_faults(page) == []
    page.click("#tab-about")
    page.click("[data-view=scene]")
    page.wait_for_selector("#scene[data-triangles]")
    assert axe_faults(page) == []


def test_tab_reaches_every_control_in_order(see):
    """From the top: skip link, tools, ruler, plan, panels; focus is always on something that can be seen."""
    page = see()
    focused = """(() => { const at = document.activeElement, box = at.getBoundingClientRect();
      return [at.id || at.dataset.tool || at.dataset.view || at.className || at.tagName, box.width, box.height]; })()"""
    reached = []
    for _ in range(40):
        page.keyboard.press("Tab")
        name, width, height = page.evaluate(focused)
        assert min(width, height) > 0, name
        reached.append(name)
    wanted = ["skip", "theme", "scene", "look", "measure", "up", "depth", "down", "larger", "tab-features"]
    order = [reached.index(name) for name in wanted]
    assert order == sorted(order)


def test_motion_is_spared_where_the_reader_asks(see):
    """With prefers-reduced-motion nothing moves by itself: no transition, no animation."""
    page = see(reduced_motion="reduce")
    moving = page.evaluate(
        "[...document.querySelectorAll('*')].filter((e) => { const s = getComputedStyle(e);"
        " return parseFloat(s.transitionDuration) > 0 || s.animationName !== 'none'; }).length"
    )
    assert moving == 0


def test_a_tablet_under_the_finger(see):
    """Touch alone: a tap reads and chooses, the ruler moves, two fingers size the plan, targets are large."""
    page = see(viewport={"width": 820, "height": 1180}, has_touch=True, is_mobile=True)
    assert page.evaluate("document.documentElement.scrollWidth") <= 820
    box = page.locator("#plan").bounding_box()
    page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    assert page.inner_text("#east") != "\u2013"
    words = page.inner_text("#window")
    page.locator("#down").tap()
    assert page.inner_text("#window") != words
    small = page.evaluate(
        "[...document.querySelectorAll('button, select, input:not([type=range])')].filter((e) => e.offsetParent)"
        ".map((e) => e.closest('label') || e).map((e) => [e.id || e.textContent, e.getBoundingClientRect().height])"
        ".filter(([, height]) => height < 24)"
    )
    assert small == []  # WCAG 2.2, 2.5.8
    whole = page.evaluate("document.getElementById('plan').toDataURL()")
    client = page.context.new_cdp_session(page)
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    for kind, apart in (("touchStart", 40), ("touchMove", 80), ("touchMove", 160), ("touchEnd", None)):
        points = (
            []
            if apart is None
            else [{"x": middle[0] + s * apart, "y": middle[1], "id": k} for k, s in enumerate((-1, 1))]
        )
        client.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    page.wait_for_timeout(150)
    assert page.evaluate("document.getElementById('plan').toDataURL()") != whole
