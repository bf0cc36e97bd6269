"""Pictures: geometry before pixels, then bytes."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw

from gridmap.deliver import drawing
from gridmap.deliver.caution import CAUTION
from gridmap.deliver.colours import TABLES, colour_range, table, to_index
from gridmap.deliver.contact_sheet import contact_sheet
from gridmap.deliver.palette import to_palette
from gridmap.deliver.pictures import draw_on_sheet, slice_sheet, write_picture, write_slice_pictures
from gridmap.deliver.plot_area import coarser, fit_area, raster_image
from gridmap.deliver.radargram import SIZE_PX, draw_radargram, time_to_row
from gridmap.deliver.words import velocity_words
from gridmap.errors import OurFaultError
from gridmap.model import RasterGrid, SliceStack, VelocityModel, Window

RASTER = RasterGrid(512300.0, 5403230.0, 0.1, 120, 200, "PROJCRS[]")
WINDOW = Window("depth", 0.4, 0.5, 8.0, 10.0)
VELOCITY = VelocityModel(np.array([0.0, 1.0]), np.array([0.10, 0.05]), 0.006, "ties")
HOT = (253, 231, 55)


def slice_picture(values: np.ndarray, raster: RasterGrid = RASTER, **more: object) -> Image.Image:
    arguments: dict[str, object] = {
        "colour_range": (0.0, 1.0),
        "quantity": "envelope",
        "title": "Yard",
        "velocity_text": velocity_words(VELOCITY),
    }
    return draw_on_sheet(slice_sheet(raster, **(arguments | more)), values, WINDOW)  # type: ignore[arg-type]


def area_of(raster: RasterGrid = RASTER):
    return slice_sheet(raster, colour_range=(0.0, 1.0), quantity="", title="", velocity_text="").area


def srgb_to_lab(rgb: np.ndarray) -> np.ndarray:
    """CIE 1976 L*a*b* of sRGB (IEC 61966-2-1, D65), written apart from gridmap's own inverse."""
    c = np.asarray(rgb, dtype=float) / 255.0
    linear = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
    to_xyz = np.array(
        [
            [0.4124564, 0.3575761, 0.1804375],
            [0.2126729, 0.7151522, 0.0721750],
            [0.0193339, 0.1191920, 0.9503041],
        ]
    )
    t = linear @ to_xyz.T / np.array([0.95047, 1.0, 1.08883])
    f = np.where(t > (6 / 29) ** 3, np.cbrt(t), t / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.stack([116 * f[:, 1] - 16, 500 * (f[:, 0] - f[:, 1]), 200 * (f[:, 1] - f[:, 2])], axis=-1)


@pytest.mark.parametrize("name", ["cividis", "viridis", "grey"])
def test_lightness_only_rises_along_a_sequential_table(name: str) -> None:
    """Order can be read without hue, in print and by any eye, since CIE lightness never falls."""
    lightness = srgb_to_lab(table(name))[:, 0]
    assert np.all(np.diff(lightness) > -0.3)
    assert lightness[-1] - lightness[0] > 70.0


def test_diverging_table_is_even_on_both_sides() -> None:
    """CIE lightness falls by equal steps and to the same end on both sides of a light middle."""
    lab = srgb_to_lab(table("blue-orange"))
    left, right = lab[127::-1, 0], lab[128:, 0]
    np.testing.assert_allclose(left, right, atol=2.0)
    np.testing.assert_allclose(np.diff(right), np.diff(right).mean(), atol=0.6)
    assert lab[0, 2] < -25.0 < 25.0 < lab[-1, 2]


def test_table_ends_are_those_of_the_published_cividis() -> None:
    """The ends match the CC0 table (cividis in matplotlib: 0.000 0.135 0.305 to 0.996 0.909 0.218)."""
    np.testing.assert_allclose(table("cividis")[0] / 255.0, (0.0, 0.135112, 0.304751), atol=0.003)
    np.testing.assert_allclose(table("cividis")[-1] / 255.0, (0.995737, 0.909344, 0.217772), atol=0.003)


def test_unknown_table_is_refused() -> None:
    """A wrong name says which names there are."""
    with pytest.raises(OurFaultError, match="cividis"):
        table("rainbow")


def test_colour_range_ignores_blanks_and_one_wild_value() -> None:
    """One spike in ten thousand values does not set the scale; NaN is left out."""
    values = np.linspace(0.0, 1.0, 10_000, dtype=np.float32)
    values[0], values[1] = 1e6, np.nan
    low, high = colour_range(values)
    assert 0.01 <= low <= 0.03
    assert 0.98 <= high <= 1.0
    assert colour_range(np.full(4, np.nan, np.float32)) == (0.0, 1.0)
    assert colour_range(-values, signed=True)[0] == -colour_range(-values, signed=True)[1]


def test_index_reaches_both_ends() -> None:
    """Low and below give 0, high and above give 255, the middle lies between."""
    index = to_index(np.array([-9.0, 0.0, 0.5, 1.0, 9.0, np.nan], np.float32), (0.0, 1.0))
    assert index.tolist() == [0, 0, 128, 255, 255, 0]


def test_round_steps_and_ticks() -> None:
    """Steps are 1, 2 or 5 times a power of ten and ticks fall on whole multiples."""
    assert [drawing.round_step(span, 5) for span in (5.0, 7.0, 12.0, 30.0, 0.9)] == [1.0, 2.0, 5.0, 10.0, 0.2]
    assert drawing.multiples(512332.1, 512358.5, 5.0) == [512335.0, 512340.0, 512345.0, 512350.0, 512355.0]
    assert drawing.tick_text(0.30000000000000004, 0.1) == "0.3"
    assert drawing.tick_text(-0.0, 0.5) == "0.0"
    assert drawing.tick_text(-2.0, 1.0) == "\N{MINUS SIGN}2"


def test_wrapped_text_is_never_wider_and_loses_no_word() -> None:
    """Lines stay within the width; all words are there in order."""
    face = drawing.font(15)
    lines = drawing.wrap(CAUTION, face, 400)
    assert max(face.getlength(line) for line in lines) <= 400
    assert " ".join(lines) == CAUTION
    assert face.getlength(drawing.wrap("x" * 500, face, 200)[0]) <= 200


def test_hot_cell_appears_where_its_coordinates_say() -> None:
    """A single strong cell at a known easting and northing lights the pixel that the map scale gives."""
    values = np.zeros(RASTER.shape, np.float32)
    row, column = 30, 150
    values[row, column] = 1.0
    easting, northing = 512300.0 + 15.05, 5403230.0 - 3.05
    area = area_of()
    x, y = area.to_px(np.array([easting, northing]))
    image = slice_picture(values)
    pixels = np.asarray(image)[
        area.top_px : area.top_px + area.height_px, area.left_px : area.left_px + area.width_px
    ]
    hot = np.argwhere((np.abs(pixels.astype(int) - HOT) <= 3).all(axis=-1))
    middle_y, middle_x = hot.mean(axis=0) + np.array([area.top_px + 0.5, area.left_px + 0.5])
    assert middle_x == pytest.approx(x, abs=1.0)
    assert middle_y == pytest.approx(y, abs=1.0)
    assert len(hot) == pytest.approx((0.1 * area.px_per_m) ** 2, abs=0.1 * area.px_per_m + 3)


def test_north_is_up_and_east_is_right() -> None:
    """More northing means a smaller y, more easting a larger x, at one scale both ways."""
    area = area_of()
    here, north, east = area.to_px(
        np.array([[512305.0, 5403220.0], [512305.0, 5403221.0], [512306.0, 5403220.0]])
    )
    np.testing.assert_allclose(north - here, (0.0, -area.px_per_m), atol=1e-6)
    np.testing.assert_allclose(east - here, (area.px_per_m, 0.0), atol=1e-6)


@pytest.mark.parametrize("px_per_m", [3.7, 40.4, 131.0])
def test_scale_bar_is_as_long_as_it_says(px_per_m: float) -> None:
    """The dark and light halves together measure the stated metres to a pixel."""
    image = Image.new("RGB", (400, 60), drawing.PAPER)
    length = drawing.scale_bar(ImageDraw.Draw(image), (40, 5), px_per_m, 300)
    border = np.asarray(image)[5, :, 0] < 100
    assert border.sum() == pytest.approx(length * px_per_m, abs=1.0)
    assert np.flatnonzero(border)[0] == 40
    assert length * px_per_m <= 301
    assert float(f"{length:.0e}"[0]) in (1, 2, 5)


def test_blank_cells_are_hatched_and_strong_ones_are_not() -> None:
    """Blank is neither end of the table: its pixels are the hatch's two greys, and only there."""
    values = np.zeros(RASTER.shape, np.float32)
    values[:, :100] = np.nan
    area = fit_area(RASTER, (0, 0, 800, 480))
    pixels = np.asarray(raster_image(values, 0.1, area, table("cividis"), (0.0, 1.0)))
    greys = {tuple(c) for c in pixels[:, :400].reshape(-1, 3).tolist()}
    assert greys == set(drawing.HATCH)
    assert {tuple(c) for c in pixels[:, 400:].reshape(-1, 3).tolist()} == {
        tuple(table("cividis")[0].tolist())
    }


def test_one_strong_cell_survives_a_raster_larger_than_its_picture() -> None:
    """With fewer pixels than cells the value farthest from zero stays; blank stays blank."""
    values = np.full((900, 900), 0.1, np.float32)
    values[451, 613] = -5.0
    values[:9, :9] = np.nan
    small = coarser(values, 4)
    assert small.shape == (225, 225)
    assert small[112, 153] == -5.0
    assert np.isnan(small[:2, :2]).all()
    assert np.isfinite(small[2, 2])


def test_same_value_has_the_same_colour_on_every_slice(tmp_path) -> None:
    """The scale is fixed: a cell of 0.5 looks alike beside weak and beside strong neighbours."""
    values = np.full((2, *RASTER.shape), 0.1, np.float32)
    values[1] = 0.9
    values[:, 60, 100] = 0.5
    windows = (WINDOW, Window("depth", 0.5, 0.6, 10.0, 12.0))
    sheet = slice_sheet(RASTER, colour_range=(0.0, 1.0), quantity="q", title="t", velocity_text="v")
    paths = write_slice_pictures(tmp_path, SliceStack(values, windows, "q"), sheet)
    assert [p.name for p in paths] == ["depth_00.40-00.50m.png", "depth_00.50-00.60m.png"]
    x, y = sheet.area.to_px(np.array([512310.05, 5403223.95])).astype(int)
    first, second = (Image.open(p).convert("RGB").getpixel((int(x), int(y))) for p in paths)
    assert first == second
    np.testing.assert_allclose(first, table("cividis")[128], atol=6)


@pytest.mark.parametrize("name", TABLES)
def test_palette_keeps_the_colours(name: str) -> None:
    """Writing with one byte a pixel moves no colour of a table by more than its next step, and white stays white."""
    colours = table(name)
    there = np.asarray(to_palette(Image.fromarray(np.array(colours)[None]), name).convert("RGB"))[0]
    assert np.abs(there.astype(int) - colours).max() <= 8
    white = to_palette(Image.new("RGB", (1, 1), drawing.PAPER), name).convert("RGB")
    assert white.getpixel((0, 0)) == drawing.PAPER


def test_picture_bytes_repeat_and_carry_the_caution(tmp_path) -> None:
    """The same slice gives the same file, with the caution in its text and no temporary file left."""
    image = slice_picture(
        np.zeros(RASTER.shape, np.float32),
        lines_map=[np.array([[512301.0, 5403220.0], [512310.0, 5403229.0]])],
    )
    for name in ("a.png", "b.png"):
        write_picture(tmp_path / name, image)
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.png", "b.png"]
    with Image.open(tmp_path / "a.png") as back:
        assert back.text["Description"] == CAUTION
        assert back.size == (1240, 1000)


def test_caution_strip_lies_at_the_bottom() -> None:
    """The lowest rows of a picture have the strip's colour from edge to edge."""
    image = slice_picture(np.zeros(RASTER.shape, np.float32))
    bottom = np.asarray(image)[-4]
    assert (bottom[12:] == drawing.STRIP).all()


def test_arrow_says_n_only_on_a_map() -> None:
    """Without a CRS up is the grid's y, and the picture differs from one that says north."""
    local = RasterGrid(0.0, 12.0, 0.1, 120, 200, None)
    values = np.zeros(local.shape, np.float32)
    same_place = RasterGrid(0.0, 12.0, 0.1, 120, 200, "PROJCRS[]")
    one, other = (np.asarray(slice_picture(values, raster)) for raster in (local, same_place))
    assert (one[80:200, 960:] != other[80:200, 960:]).any()


def test_wrong_shape_is_our_fault() -> None:
    """A slice that does not fit its raster is refused by name."""
    with pytest.raises(OurFaultError, match=r"depth_00\.40"):
        slice_picture(np.zeros((3, 3), np.float32))


@pytest.mark.parametrize("count", [1, 7, 60])
def test_contact_sheet_holds_every_slice(count: int) -> None:
    """Each slice shows once: the strong colour covers `count` times the same number of pixels."""
    raster = RasterGrid(0.0, 4.0, 0.1, 40, 40, None)
    values = np.zeros((count, 40, 40), np.float32)
    values[:, 10:20, 10:20] = 1.0
    windows = tuple(Window("depth", 0.1 * k, 0.1 * k + 0.1, 2.0 * k, 2.0 * k + 2.0) for k in range(count))
    sheet = contact_sheet(
        SliceStack(values, windows, "q"), raster, colour_range=(0.0, 1.0), title="t", velocity_text="v"
    )
    hot = (np.abs(np.asarray(sheet)[:, :1340].astype(int) - HOT) <= 1).all(axis=-1)
    each = hot.sum() / count
    assert each == pytest.approx(round(each), abs=1e-9)
    assert each > 30**2
    assert sheet.width == 1600


def test_echo_appears_at_its_distance_and_time() -> None:
    """A spike in one trace and sample lights the pixel of that distance and that two-way time."""
    along, time_ns = 0.05 * np.arange(200), 0.2 * np.arange(300) - 4.0
    traces = np.zeros((200, 300), np.float32)
    traces[100, 120] = 1.0
    image = draw_radargram(
        traces, along, time_ns, velocity=VELOCITY, title="L1", gain_note="no gain", colour_range=(-1.0, 1.0)
    )
    left, right = 96, SIZE_PX[0] - 240
    pixels = np.asarray(image)[:, left:right, 0].astype(int)
    bright = np.argwhere(pixels[130:600] > 240)
    y, x = bright.mean(axis=0) + np.array([130.5, left + 0.5])
    bottom = SIZE_PX[1] - drawing.caution_height(SIZE_PX[0]) - 92
    assert x == pytest.approx(left + 5.0 / 9.95 * (right - left), abs=3.0)
    assert y == pytest.approx(float(time_to_row(20.0, -4.0, 55.8, 122, bottom)), abs=2.0)


def test_depth_ticks_crowd_where_the_ground_is_slower() -> None:
    """With 0.10 over 0.05 m/ns, half a metre takes 10 ns above 1 m and 20 ns below it (t = 2 d / v)."""
    rows = time_to_row(VELOCITY.two_way_ns(np.array([0.0, 0.5, 1.0, 1.5])), 0.0, 100.0, 0, 1000)
    np.testing.assert_allclose(np.diff(rows), (100.0, 100.0, 200.0))


def test_gap_in_a_line_is_hatched() -> None:
    """Where no trace is near, the radargram shows no data instead of stretching its neighbours."""
    along = np.concatenate([0.05 * np.arange(100), 8.0 + 0.05 * np.arange(100)])
    traces = np.zeros((200, 64), np.float32)
    image = draw_radargram(
        traces, along, np.arange(64.0), velocity=VELOCITY, title="L", gain_note="n", colour_range=(-1.0, 1.0)
    )
    x = 96 + round(6.5 / along[-1] * (SIZE_PX[0] - 240 - 96))
    assert {tuple(c) for c in np.asarray(image)[200:300, x].tolist()} == set(drawing.HATCH)


def test_radargram_refuses_shapes_that_do_not_fit() -> None:
    """A missing distance is told with both counts."""
    with pytest.raises(OurFaultError, match="9 distances"):
        draw_radargram(
            np.zeros((10, 8), np.float32),
            np.arange(9.0),
            np.arange(8.0),
            velocity=VELOCITY,
            title="L",
            gain_note="n",
        )
