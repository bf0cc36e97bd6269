"""The page: what it holds, and how it behaves in a browser, offline."""

from __future__ import annotations

import base64
import json
import os
import re
import shutil
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from gridmap.deliver.caution import CAUTION
from gridmap.deliver.colours import table
from gridmap.deliver.html import page_text, write_index
from gridmap.deliver.page_data import PageData, PageFile, PageLine, PageStack
from gridmap.deliver.page_features import PageFeature
from gridmap.deliver.page_slices import pack_slice, pack_stacks, to_bytes
from gridmap.errors import OurFaultError
from gridmap.model import RasterGrid, Similarity, SliceStack, VelocityModel, Window
from gridmap.site.records import ControlPoint

HOSTILE = "</script><script>window.bad=1</script><img src=x onerror='window.bad=2'>&amp;\u2028"
RASTER = RasterGrid(512300.0, 5403220.0, 0.5, 40, 60, "PROJCRS[]")
HOT_ROW, HOT_COLUMN = 10, 45  # in slice 2: easting 512322.75, northing 5403214.75


def page_data(name: str = "Yard") -> PageData:
    values = np.random.default_rng(5).uniform(0.05, 0.4, (5, *RASTER.shape)).astype(np.float32)
    values[:, :8, :8] = np.nan
    values[2, HOT_ROW, HOT_COLUMN] = 2.0
    depth = tuple(Window("depth", 0.1 * k, 0.1 * k + 0.1, 2.0 * k, 2.0 * k + 2.0) for k in range(5))
    time = tuple(Window("time", 0.2 * k, 0.2 * k + 0.2, 4.0 * k, 4.0 * k + 4.0) for k in range(3))
    return PageData(
        site_name=name,
        description=name,
        stacks=(
            PageStack("Depth slices", SliceStack(values, depth, "envelope"), (0.0, 1.0)),
            PageStack("Time slices", SliceStack(values[:3], time, "envelope"), (0.0, 1.0)),
        ),
        raster=RASTER,
        transform=Similarity(512300.0, 5403200.0, 1.0, 0.0),
        velocity=VelocityModel.constant(0.1, 0.005, name),
        crs_name="EPSG:25832",
        lines=(PageLine(name, np.array([[512300.0, 5403210.0], [512330.0, 5403210.0]])),),
        features=(
            PageFeature(
                "linear",
                shapely.LineString([(512305, 5403203), (512325, 5403207)]),
                {"id": name, "status": "found", "depth_top_m": 0.6, "depth_sd_m": 0.02, "note": name},
            ),
        ),
        control=(ControlPoint(name, 0.0, 0.0, 512300.0, 5403200.0),),
        grid_outline=np.array([[512300.0, 5403200.0], [512330.0, 5403200.0], [512330.0, 5403220.0]]),
        summary=(f"One pipe {name}",),
        warnings=(f"Line {name} is short",),
        files=(PageFile("report.pdf", "The report", True), PageFile("javascript:alert(1)", name)),
    )


def unpack(text: str, rows: int, columns: int) -> np.ndarray:
    """Undo `pack_slice` with zlib: RFC 1951 by another hand."""
    rows_apart = np.frombuffer(zlib.decompress(base64.b64decode(text), -15), np.uint8).reshape(rows, columns)
    return np.cumsum(rows_apart, axis=0, dtype=np.uint8)


def test_packed_slice_comes_back() -> None:
    """Row differences, deflate and base64 lose nothing; bytes hold the root of the share to half a step of 1/254."""
    values = np.linspace(-0.2, 1.2, 300, dtype=np.float32).reshape(15, 20)
    values[3, 4] = np.nan
    cells = to_bytes(values, (0.0, 1.0))
    np.testing.assert_array_equal(unpack(pack_slice(cells), 15, 20), cells)
    assert cells[3, 4] == 0
    known = cells > 0
    back = (cells[known].astype(float) - 1.0) / 254.0
    np.testing.assert_allclose(back, np.sqrt(np.clip(values[known], 0.0, 1.0)), atol=0.5 / 254 + 1e-6)


def test_page_that_would_be_too_large_gets_coarser_cells() -> None:
    """The bound holds, the strongest cell stays, and the factor says how far cells were joined."""
    values = np.random.default_rng(2).uniform(0, 0.9, (4, 64, 64)).astype(np.float32)
    values[1, 33, 21] = 1.0
    packed, factor = pack_stacks([(values, (0.0, 1.0))], most_bytes=8000)
    assert factor == 2
    assert sum(len(line) for line in packed[0].lines) <= 8000
    assert (packed[0].rows, packed[0].columns) == (32, 32)
    assert unpack(packed[0].lines[1], 32, 32)[16, 10] == 255
    assert pack_stacks([(values, (0.0, 1.0))])[1] == 1


def test_page_of_the_largest_survey_stays_under_the_bound() -> None:
    """Even pure noise of 401 x 401 x 60 cells packs to under 25 MB with the page around it."""
    noise = np.random.default_rng(1).uniform(0.0, 1.0, (2, 401, 401)).astype(np.float32)
    packed, _ = pack_stacks([(noise, (0.0, 1.0))])
    assert 30 * sum(len(line) for line in packed[0].lines) < 25_000_000


def test_names_cannot_leave_their_place() -> None:
    """A hostile name gives no element and no way out of the script that holds the data."""
    text = page_text(page_data(HOSTILE))
    assert "<img" not in text
    assert "window.bad=1</script>" not in text
    found = re.search(r'<script type="application/json" id="data">(.*?)</script>', text, re.S)
    assert found is not None
    assert json.loads(found.group(1))["site"] == HOSTILE
    assert len(re.findall(r"<script[ >]", text)) == 4  # data, two stacks, the program


def test_page_asks_nothing_from_outside() -> None:
    """The policy forbids every fetch, and no element names a remote address."""
    text = page_text(page_data())
    policy = re.search(r'http-equiv="Content-Security-Policy" content="([^"]*)"', text)
    assert policy is not None
    assert policy.group(1).startswith("default-src &#x27;none&#x27;; script-src &#x27;sha256-")
    assert "unsafe" not in policy.group(1)
    assert not re.search(r"https?://", text)


def test_caution_stands_in_the_page_itself() -> None:
    """The caution needs no script to be seen."""
    assert CAUTION in page_text(page_data())


def test_page_repeats_and_is_whole(tmp_path: Path) -> None:
    """The same data give the same bytes, and no other file is left."""
    for name in ("a.html", "b.html"):
        write_index(tmp_path / name, page_data())
    assert (tmp_path / "a.html").read_bytes() == (tmp_path / "b.html").read_bytes()
    assert len(list(tmp_path.iterdir())) == 2


def test_stack_off_the_raster_is_our_fault() -> None:
    """A stack of another shape is refused, and so is a page without a slice."""
    data = page_data()
    wrong = SliceStack(np.zeros((1, 3, 3), np.float32), (Window("depth", 0, 1, 0, 20),), "q")
    for stacks in ((PageStack("Depth slices", wrong, (0.0, 1.0)),), ()):
        broken = PageData("Yard", stacks, data.raster, data.transform, data.velocity)
        with pytest.raises(OurFaultError, match="page"):
            page_text(broken)


# ------------------------------------------------------------------- in a browser

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    if CHROMIUM is None:
        if os.environ.get("CI"):
            pytest.fail("chromium is not installed, and CI must run the browser tests")
        pytest.skip("chromium is not installed")
    with sync_api.sync_playwright() as play:
        running = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield running
        running.close()


class Opened:
    """A page in the browser with all that went wrong in it."""

    def __init__(self, browser: Any, path: Path, width: int, height: int) -> None:
        self.faults: list[str] = []
        self.requests: list[str] = []
        self.page = browser.new_page(viewport={"width": width, "height": height})
        self.page.on("console", lambda message: self.faults.append(message.text))
        self.page.on("pageerror", lambda error: self.faults.append(str(error)))
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.page.goto(path.as_uri())

    def map_pixel(self, easting: float, northing: float) -> tuple[float, float]:
        """Where a place lies in the canvas, CSS pixels, by the ticks' own scale: the raster's middle is centred."""
        box = self.page.locator("#plan").bounding_box()
        width, height = box["width"] - 76 - 12, box["height"] - 12 - 34
        west, south, east, north = RASTER.bounds
        scale = 0.94 * min(width / (east - west), height / (north - south))
        x = 76 + width / 2 + (easting - (west + east) / 2) * scale
        y = 12 + height / 2 - (northing - (south + north) / 2) * scale
        return x, y

    def colour_at(self, easting: float, northing: float) -> list[int]:
        x, y = self.map_pixel(easting, northing)
        # From a copy: reading the page's own canvas again and again makes the browser complain of it.
        read = """async ([x, y]) => { const copy = document.createElement('canvas'); copy.width = copy.height = 1;
          for (let k = 0; k < 2; k += 1) await new Promise(requestAnimationFrame);
          const ink = copy.getContext('2d'); ink.drawImage(document.getElementById('plan'), -x, -y);
          return [...ink.getImageData(0, 0, 1, 1).data]; }"""
        return self.page.evaluate(read, [round(x), round(y)])[:3]

    def text(self, name: str) -> str:
        return self.page.locator(f"#{name}").inner_text()

    def picture(self) -> str:
        """The plan as drawn once the next frame is over."""
        return self.page.evaluate("""async () => {
          for (let k = 0; k < 2; k += 1) await new Promise(requestAnimationFrame);
          return document.getElementById('plan').toDataURL(); }""")


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    out = tmp_path_factory.mktemp("page")
    for name, site in (("plain", "Yard"), ("hostile", HOSTILE)):
        write_index(out / f"{name}.html", page_data(site))
    return {name: out / f"{name}.html" for name in ("plain", "hostile")}


@pytest.fixture
def desk(browser: Any, files: dict[str, Path]) -> Iterator[Opened]:
    opened = Opened(browser, files["plain"], 1440, 900)
    yield opened
    assert opened.faults == []
    assert [url for url in opened.requests if not url.startswith(("file:", "data:"))] == []
    opened.page.close()


@pytest.mark.browser
def test_keys_move_the_slider_the_label_and_the_picture(desk: Opened) -> None:
    """Arrow, End and Home change the slice that is named and drawn; the ends stop."""
    desk.page.focus("#depth")
    assert desk.text("window") == "Depth 0.00 to 0.10 m (two-way time 0.0 to 2.0 ns)"
    assert desk.page.locator("#up").is_disabled()
    before = desk.colour_at(512322.75, 5403214.75)
    for _ in range(2):
        desk.page.keyboard.press("ArrowRight")
    assert desk.text("window").startswith("Depth 0.20 to 0.30 m")
    assert desk.page.locator("#depth").get_attribute("aria-valuetext").startswith("Depth 0.20 to 0.30 m")
    after = desk.colour_at(512322.75, 5403214.75)
    assert after != before
    assert after == table("cividis")[255].tolist()
    desk.page.keyboard.press("End")
    assert desk.text("window").startswith("Depth 0.40 to 0.50 m")
    assert desk.page.locator("#down").is_disabled()
    desk.page.keyboard.press("Home")
    assert desk.text("window").startswith("Depth 0.00 to 0.10 m")


@pytest.mark.browser
def test_pointer_reads_place_and_value(desk: Opened) -> None:
    """Over the strong cell the page gives its easting, northing, local x, y, value and the nearest line."""
    desk.page.focus("#depth")
    desk.page.keyboard.press("ArrowRight")
    desk.page.keyboard.press("ArrowRight")
    x, y = desk.map_pixel(512322.75, 5403214.75)
    desk.page.hover("#plan", position={"x": x, "y": y})
    assert float(desk.text("east").split()[0]) == pytest.approx(512322.75, abs=0.06)
    assert float(desk.text("north").split()[0]) == pytest.approx(5403214.75, abs=0.06)
    local = [float(part) for part in desk.text("local").removesuffix(" m").split(",")]
    assert local == pytest.approx([22.75, 14.75], abs=0.06)
    assert desk.text("value") == "\u2265 1"
    assert desk.text("nearest").startswith(
        "\u2068Yard\u2069, 4.7"
    )  # isolated: names may run from right to left
    x, y = desk.map_pixel(512301.0, 5403219.0)
    desk.page.hover("#plan", position={"x": x, "y": y})
    assert desk.text("value") == "no data"


@pytest.mark.browser
def test_value_under_the_pointer_is_that_of_the_raster(desk: Opened) -> None:
    """An ordinary cell reads as its own value to 1/254 of the range and three digits."""
    values = page_data().stacks[0].stack.values
    x, y = desk.map_pixel(512300.0 + 30.5 * 0.5, 5403220.0 - 20.5 * 0.5)
    desk.page.hover("#plan", position={"x": x, "y": y})
    assert float(desk.text("value")) == pytest.approx(float(values[0, 20, 30]), abs=0.003)


@pytest.mark.browser
def test_blank_cells_are_hatched_in_the_page(desk: Opened) -> None:
    """Blank cells show greys, which the colour table's ends are not."""
    red, green, blue = desk.colour_at(512301.5, 5403218.5)
    assert red == green == blue
    assert red > 150


@pytest.mark.browser
def test_scale_bar_of_the_page_is_true(desk: Opened) -> None:
    """The bar's dark half and light half measure its metres in the canvas."""
    scale = desk.map_pixel(512301.0, 5403210.0)[0] - desk.map_pixel(512300.0, 5403210.0)[0]
    read = """() => { const c = document.getElementById('plan');
      return [...c.getContext('2d').getImageData(100, c.height - 34 - 40 + 3, 220, 1).data]; }"""
    row = np.array(desk.page.evaluate(read)).reshape(-1, 4)[:, 0]
    dark = int(np.argmax(row > 128))
    metres = 2 * dark / scale
    assert min(abs(metres / size - 1) for size in (1, 2, 5, 10)) < 0.03


@pytest.mark.browser
def test_stack_and_colours_can_be_changed(desk: Opened) -> None:
    """Time slices keep about the same share of the way down; another table recolours the same cell."""
    desk.page.focus("#depth")
    desk.page.keyboard.press("End")
    desk.page.click("#tab-look")
    desk.page.select_option("#stack", label="Time slices")
    assert desk.text("window").startswith("Two-way time 8.0 to 12.0 ns")
    assert desk.colour_at(512322.75, 5403214.75) == table("cividis")[255].tolist()
    desk.page.select_option("#table", label="Black to white")
    assert desk.colour_at(512322.75, 5403214.75) == [255, 255, 255]


@pytest.mark.browser
def test_overlays_and_size_answer(desk: Opened) -> None:
    """The line walked appears when asked for; keys on the plan enlarge it and bring it back."""
    desk.page.click("#tab-look")
    assert not desk.page.is_checked("#show-lines")
    before = desk.colour_at(512316.0, 5403210.0)
    desk.page.check("#show-lines")
    assert desk.colour_at(512316.0, 5403210.0) != before
    desk.page.focus("#plan")
    whole = desk.picture()
    desk.page.keyboard.press("+")
    assert desk.picture() != whole
    desk.page.keyboard.press("0")
    assert desk.picture() == whole


@pytest.mark.browser
@pytest.mark.parametrize(("width", "height"), [(1440, 900), (820, 1180), (390, 800)])
def test_caution_is_in_sight_and_nothing_is_cut(
    browser: Any, files: dict[str, Path], width: int, height: int
) -> None:
    """On a desk, a tablet and a phone the caution stays on the screen, the page does not scroll sideways."""
    opened = Opened(browser, files["plain"], width, height)
    opened.page.mouse.wheel(0, 5000)
    box = opened.page.locator("footer").bounding_box()
    assert box["y"] < height
    assert box["y"] + box["height"] == pytest.approx(height, abs=2)
    assert "not proof that nothing is buried" in opened.page.locator("footer").inner_text()
    assert opened.page.evaluate("document.documentElement.scrollWidth") <= width
    opened.page.click("#tab-look")
    for name in ("up", "down", "larger", "smaller", "whole", "table", "tab-about", "theme"):
        assert opened.page.locator(f"#{name}").bounding_box()["height"] >= 44  # WCAG 2.2, 2.5.5 target size
    assert opened.faults == []
    opened.page.close()


@pytest.mark.browser
def test_hostile_names_are_shown_as_text(browser: Any, files: dict[str, Path]) -> None:
    """Markup in a name appears letter by letter, runs nothing and loads nothing; a link stays in the folder."""
    opened = Opened(browser, files["hostile"], 1440, 900)
    page = opened.page
    assert page.locator("#site").text_content() == HOSTILE
    assert page.title().startswith("</script><script>window.bad=1")
    assert HOSTILE in page.locator("#summary").text_content()
    assert page.locator(".feature .id").first.text_content() == HOSTILE
    assert page.evaluate("window.bad") is None
    assert page.locator("img").count() == 0
    folder = files["hostile"].parent.as_uri()
    links = page.eval_on_selector_all("#files a", "links => links.map((link) => link.href)")
    assert all(link.startswith(folder + "/") for link in links)
    assert opened.faults == []
    assert [url for url in opened.requests if not url.startswith(("file:", "data:"))] == []
    page.close()


@pytest.mark.browser
def test_policy_stops_requests_to_the_outside(browser: Any, files: dict[str, Path]) -> None:
    """Even code that ran in the page could fetch nothing: the browser refuses."""
    opened = Opened(browser, files["plain"], 800, 600)
    outcome = opened.page.evaluate("fetch('http://127.0.0.1:9/').then(() => 'went out', () => 'refused')")
    assert outcome == "refused"
    assert any("Content Security Policy" in fault for fault in opened.faults)
    opened.page.close()


@pytest.mark.browser
def test_own_inflate_agrees_with_zlib(browser: Any, files: dict[str, Path]) -> None:
    """The page's RFC 1951 reader gives zlib's bytes for stored, fixed and dynamic blocks."""
    source = (Path(page_text.__code__.co_filename).parent / "assets" / "inflate.js").read_text(
        encoding="utf-8"
    )
    random = np.random.default_rng(3)
    noise = random.integers(0, 256, 3000, dtype=np.uint8).tobytes()
    smooth = np.clip(random.normal(128, 4, 90_000), 0, 255).astype(np.uint8).tobytes() + b"ab" * 20_000
    cases = [
        (noise, 0, zlib.Z_DEFAULT_STRATEGY),
        (b"hello hello hello", 9, zlib.Z_FIXED),
        (smooth, 9, 0),
        (b"x", 6, 0),
    ]
    page = browser.new_page()
    page.add_script_tag(content=source.replace("export function", "function"))
    for plain, level, strategy in cases:
        deflate = zlib.compressobj(level, zlib.DEFLATED, -15, 9, strategy)
        packed = base64.b64encode(deflate.compress(plain) + deflate.flush()).decode()
        got = page.evaluate(
            "([text, size]) => Array.from(inflate(bytesOf(text), size))", [packed, len(plain)]
        )
        assert bytes(got) == plain
    with pytest.raises(Exception, match="cut short"):
        page.evaluate("([text, size]) => inflate(bytesOf(text), size).length", [packed[:2] + "==", 9])
    page.close()
