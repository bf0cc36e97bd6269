"""The review page in a real browser: look, judge, draw, undo, and what two browsers and a killed server do to it."""

import json

import pytest

pytestmark = pytest.mark.browser


class Visitor:
    """One browser window on the review page, with all that went wrong in it."""

    def __init__(self, browser, address, **more):
        self.context = browser.new_context(**{"viewport": {"width": 1440, "height": 900}, **more})
        self.page = self.context.new_page()
        self.faults, self.asked = [], []
        self.page.on(
            "console", lambda m: self.faults.append(m.text) if m.type in ("error", "warning") else None
        )
        self.page.on("pageerror", lambda error: self.faults.append(str(error)))
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.open(address)

    def open(self, address):
        self.page.goto(address)
        self.page.wait_for_selector("html[data-ready=live]")

    def saved(self):
        self.page.wait_for_selector("#saved[data-state=saved]")

    def click_plan(self, *places):
        """Click places given as shares of the plan's width and height."""
        box = self.page.locator("#plan").bounding_box()
        for x, y in places:
            self.page.mouse.click(box["x"] + x * box["width"], box["y"] + y * box["height"])

    def choose(self, name):
        self.page.locator(".feature", has=self.page.locator(f".id:text-is('{name}')")).click()

    def said(self):
        return self.page.locator("#told").inner_text()


@pytest.fixture
def visit(browser):
    visitors = []

    def begin(address, **more):
        visitors.append(Visitor(browser, address, **more))
        return visitors[-1]

    yield begin
    for visitor in visitors:
        visitor.context.close()


def status_of(server, fid, layer="linear"):
    return next(row["columns"]["status"] for row in server.rows(layer) if row["fid"] == fid)


def test_accept_draw_reload_undo(start, visit):
    """What is judged and drawn is in the file at once and there after a reload; undo and redo go into the file too."""
    server = start()
    window = visit(server.address)
    page = window.page
    window.choose("L1")
    page.click("#judge-accept")
    window.saved()
    assert status_of(server, 1) == "accepted"
    page.click("[data-tool=line]")
    window.click_plan((0.45, 0.3), (0.55, 0.45), (0.5, 0.6))
    page.click("#finish")
    window.saved()
    page.fill("#say-class", "water")
    page.keyboard.press("Tab")
    window.saved()
    drawn = server.rows("linear")[-1]
    assert (drawn["columns"]["status"], drawn["columns"]["class"], len(drawn["path"])) == (
        "drawn",
        "water",
        3,
    )
    window.open(server.address)
    assert "accepted" in page.inner_text("#features")
    assert page.locator(".feature.drawn").count() == 1
    window.choose("L1")
    page.click("#judge-reject")
    window.saved()
    page.keyboard.press("Control+z")
    window.saved()
    assert status_of(server, 1) == "accepted"
    page.keyboard.press("Control+y")
    window.saved()
    assert status_of(server, 1) == "rejected"
    assert window.faults == []
    assert all(
        url.startswith((server.address.split(server.address.split("/")[3])[0], "blob:", "data:"))
        for url in window.asked
    )


def test_moved_vertex_is_saved_and_undone(start, visit):
    """Dragging the end of the pipe changes the file; undo brings the same metres back."""
    server = start()
    window = visit(server.address)
    before = server.rows("linear")[0]["path"]
    window.choose(server.rows("linear")[0]["columns"]["id"])
    window.page.click("[data-tool=vertices]")
    box = window.page.locator("#plan").bounding_box()
    shown = json.loads(window.page.locator("#data").text_content())["raster"]["bounds"]
    width, height = box["width"] - 88, box["height"] - 46
    scale = 0.94 * min(width / (shown[2] - shown[0]), height / (shown[3] - shown[1]))
    x = box["x"] + 76 + width / 2 + (before[0][0] - (shown[0] + shown[2]) / 2) * scale
    y = box["y"] + 12 + height / 2 - (before[0][1] - (shown[1] + shown[3]) / 2) * scale
    window.page.mouse.move(x, y)
    window.page.mouse.down()
    window.page.mouse.move(x, y - 40, steps=4)
    window.page.mouse.up()
    window.saved()
    moved = server.rows("linear")[0]
    assert moved["path"][0][1] - before[0][1] == pytest.approx(40 / scale, abs=2 / scale)
    assert moved["columns"]["status"] == "drawn"
    window.page.click("#undo")
    window.saved()
    back = server.rows("linear")[0]
    assert (back["path"], back["columns"]["status"]) == (before, "found")


def test_two_browsers_lose_nothing(start, visit):
    """A sees what B judged; when both judge the same, the later is told, and may still save its own."""
    server = start()
    one, two = visit(server.address), visit(server.address)
    one.choose("L1")
    one.page.click("#judge-accept")
    one.saved()
    two.page.wait_for_selector(".feature.accepted")
    two.context.set_offline(True)  # the change of B waits while A goes on
    two.choose("L1")
    two.page.click("#judge-reject")
    two.page.wait_for_selector("#saved[data-state=trouble]")
    one.page.fill("#say-note", "checked on site")
    one.page.keyboard.press("Tab")
    one.page.click("#judge-undecided")
    one.saved()
    two.context.set_offline(False)
    two.page.wait_for_selector("#told button")
    assert "changed in another window" in two.said()
    assert status_of(server, 1) == "found"
    two.page.click("#told button:text-is('Save mine')")
    two.saved()
    row = server.rows("linear")[0]["columns"]
    assert (row["status"], row["note"]) == ("rejected", "checked on site")


def test_killed_server_loses_nothing(start_apart, visit):
    """A judgement made while the server is dead is kept in the browser, and saved when it runs again."""
    server = start_apart()
    window = visit(server.address)
    port = server.port
    server.kill()
    window.choose("L1")
    window.page.click("#judge-accept")
    window.page.wait_for_selector("#saved[data-state=trouble]")
    assert "Not saved yet" in window.page.inner_text("#saved")
    again = start_apart("--port", str(port))
    window.page.wait_for_selector("#saved:has-text('open the one')")
    assert status_of(again, 1) == "found"  # the old window's token is not the new review's
    window.page.once("dialog", lambda asked: asked.accept())
    window.open(again.address)  # another token, the same place
    window.saved()
    assert status_of(again, 1) == "accepted"


def test_keyboard_alone_draws_and_judges(start, visit):
    """No pointer: tool by Enter, crosshair by arrows, vertices by Enter, end by F; the list by Tab and A."""
    server = start()
    page = visit(server.address).page
    page.focus("[data-tool=line]")
    page.keyboard.press("Enter")
    page.focus("#plan")
    for key in ("ArrowUp", "Enter", *["ArrowRight"] * 6, "Enter", *["ArrowDown"] * 5, "Enter", "f"):
        page.keyboard.press(key)
    page.wait_for_selector(".feature.drawn")
    page.wait_for_selector("#saved[data-state=saved]")
    assert len(server.rows("linear")[-1]["path"]) == 3
    page.focus(".feature")
    page.keyboard.press("Enter")
    page.keyboard.press("a")
    page.wait_for_selector(".feature.accepted")
    page.wait_for_selector("#saved[data-state=saved]")
    assert status_of(server, 1) == "accepted"


HOSTILE = (
    "</script><script>window.bad=1</script>",
    "<img src=x onerror=window.bad=2>",
    "\u202egnp.epip",
    "../../../etc/passwd",
    "C:\\\\server\\share",
    "W" * 3000,
    "javascript:alert(1)",
)


def test_hostile_names_are_shown_as_text(start, visit, out):
    """Markup, right-to-left, endless and path-like words in every text column are letters, and push nothing aside."""
    from gridmap.page.database import opened

    with opened(out / "features.gpkg", write=True) as base:
        columns = [row["name"] for row in base.execute("PRAGMA table_info(linear)")]
        geometry = base.execute("SELECT geom FROM linear WHERE fid = 1").fetchone()["geom"]
        for k, words in enumerate(HOSTILE):
            values = dict.fromkeys(("id", "class", "note", "by", "evidence", "quality_level"), words)
            values |= {"fid": 100 + k, "geom": geometry}
            row = [values.get(name) for name in columns]
            base.execute(f"INSERT INTO linear VALUES ({','.join('?' * len(row))})", row)
        base.execute("UPDATE linear SET note = ? WHERE fid = 1", (HOSTILE[0],))
    window = visit(start().address)
    page = window.page
    shown = page.locator(".feature .id").all_text_contents()
    assert set(HOSTILE) <= set(shown)
    for k in range(len(HOSTILE)):
        page.locator(".feature").nth(1 + k).click()
        assert page.input_value("#say-note") in HOSTILE
    page.click("[data-view=scene]")
    page.wait_for_timeout(300)
    assert page.evaluate("window.bad") is None
    assert page.locator("img").count() == 0
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert [fault for fault in window.faults if "ReadPixels" not in fault] == []


def test_findings_of_a_check_are_listed_and_drawn(start, visit, out):
    """A layer `check` in features.gpkg is shown with its words, and cannot be judged."""
    import geopandas
    import pyogrio
    import shapely

    crs = pyogrio.read_info(out / "features.gpkg", layer="linear")["crs"]
    rows = {"line": ["L03"], "kind": ["gap"], "words": ["12 traces missing"]}
    shape = [shapely.LineString([(500000.5, 5400000.5), (500000.5, 5400001.0)])]
    pyogrio.write_dataframe(
        geopandas.GeoDataFrame(rows, geometry=shape, crs=crs),
        out / "features.gpkg",
        layer="check",
        append=False,
    )
    page = visit(start().address).page
    page.locator(".feature", has_text="L03").click()
    assert "12 traces missing" in page.inner_text("#chosen")
    assert page.locator("#judge-accept").count() == 0


def test_copy_for_the_client_opens_from_a_disk_without_a_network(start, visit, browser, tmp_path):
    """The copy shows what was accepted, offers no pen, and asks nothing even where it could."""
    server = start()
    window = visit(server.address)
    window.choose("L1")
    window.page.click("#judge-accept")
    window.saved()
    with window.page.expect_download() as got:
        window.page.click("#copy")
    copy = tmp_path / "index.html"
    got.value.save_as(copy)
    context = browser.new_context(offline=True)
    page = context.new_page()
    asked, faults = [], []
    page.on("request", lambda request: asked.append(request.url))
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.goto(copy.as_uri())
    page.wait_for_selector("html[data-slices=ready]")
    assert "accepted" in page.inner_text("#features")
    assert page.locator("[data-tool=line], #undo, #by").count() == 0
    assert [url for url in asked if not url.startswith(("file:", "data:", "blob:"))] == []
    assert faults == []
    context.close()


def test_axe_finds_nothing_beside_the_pen(start, visit):
    """The form of a chosen feature, the tools for drawing and the state of saving pass WCAG 2.2 AA too."""
    from axe import axe_faults

    window = visit(start().address, bypass_csp=True)
    window.choose("L1")
    window.page.click("[data-tool=line]")
    assert axe_faults(window.page) == []


def test_base_picture_lies_under_the_slices(start, visit, out, tmp_path):
    """A red picture shines through slices that are clear by a third, and goes when it is not wanted."""
    import numpy as np
    import rasterio

    path = tmp_path / "plan.tif"
    with rasterio.open(path, "w", driver="GTiff", width=60, height=60, count=3, dtype="uint8", crs=32633,
                       transform=rasterio.Affine(0.1, 0, 499998, 0, -0.1, 5400004.5)) as data:  # fmt: skip
        data.write(np.stack([np.full((60, 60), v, np.uint8) for v in (230, 20, 20)]))
    page = visit(start(path).address).page
    page.click("#tab-look")
    page.wait_for_selector("#show-base")
    read = """async () => { for (let k = 0; k < 3; k += 1) await new Promise(requestAnimationFrame);
      const canvas = document.getElementById('plan'), copy = document.createElement('canvas');
      copy.width = copy.height = 1;
      copy.getContext('2d').drawImage(canvas, -canvas.width / 2, -canvas.height / 2);
      return [...copy.getContext('2d').getImageData(0, 0, 1, 1).data]; }"""
    with_base = page.evaluate(read)
    page.uncheck("#show-base")
    bare = page.evaluate(read)  # over pale hatching: as bright in red, brighter in green and blue
    assert with_base[1] < bare[1] - 30
    assert with_base[2] < bare[2] - 30
