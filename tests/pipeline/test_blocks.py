"""Two blocks of lines with origins and rotations of their own, and bare ground between, in one survey."""

import math

import numpy as np
import pytest
import rasterio
import xarray
from small_survey import pulse

import gridmap
from gridmap.errors import SiteError
from gridmap.read.segy_write import write_segy
from gridmap.site.load import load_site

BLOCKS = {"A": ((0.5, 0.3), 20.0), "B": ((5.2, 1.0), -35.0)}
PIPE_Y, PIPE_DEPTH, FREQUENCY = 1.3, 0.6, 250.0
QUARTER_WAVELENGTH = 0.25 * 0.1 / (FREQUENCY * 1e-3)
SITE = """
[site]
name = "Two plots"
[antenna]
frequency_mhz = 250
separation_m = 0.0
[ground]
velocity_m_per_ns = 0.1
velocity_sd_m_per_ns = 0.004
"""


def to_grid(block, x, y):
    """Local co-ordinates of a block to the site's grid: a rotation and a shift."""
    (x0, y0), turn = BLOCKS[block][0], math.radians(BLOCKS[block][1])
    return x0 + x * math.cos(turn) - y * math.sin(turn), y0 + x * math.sin(turn) + y * math.cos(turn)


@pytest.fixture(scope="module")
def blocks(tmp_path_factory):
    """Map of two blocks, each crossed by a pipe along its own x at its own y = PIPE_Y."""
    folder = tmp_path_factory.mktemp("blocks")
    (folder / "lines").mkdir()
    text, rng, time = SITE, np.random.default_rng(3), 0.2 * np.arange(170) - 4.0
    for name, ((x0, y0), turn) in BLOCKS.items():
        for i in range(9):
            y = np.linspace(0, 2.6, 53)[:: -1 if i % 2 else 1]
            echo = 2 * np.hypot(y - PIPE_Y, PIPE_DEPTH) / 0.1
            traces = pulse(time, FREQUENCY)[None] + 0.05 * pulse(time - echo[:, None], FREQUENCY)
            traces = (traces + 0.0005 * rng.normal(size=traces.shape)).astype(np.float32)
            write_segy(
                folder / "lines" / f"{name}{i + 1}.sgy", traces, sample_interval_ps=200, sample_format=5
            )
        text += f"""
[[lines]]
files = "lines/{name}*.sgy"
origin_m = [{x0}, {y0}]
rotation_deg = {turn}
first_start_m = [0, 0]
direction = "+y"
length_m = 2.6
spacing_m = 0.25
toward = "+x"
zigzag = true
"""
    (folder / "site.toml").write_text(text)
    return gridmap.map(folder / "site.toml", folder / "out"), folder / "site.toml"


def test_lines_lie_where_their_blocks_do(blocks):
    """Pegs of a block by the rotation matrix, worked out here."""
    plans = {plan.name: plan for plan in load_site(blocks[1]).lines}
    assert plans["A1"].start_m == pytest.approx((0.5, 0.3))
    assert plans["A1"].end_m == pytest.approx(to_grid("A", 0, 2.6), abs=1e-6)
    assert plans["B2"].start_m == pytest.approx(to_grid("B", 0.25, 2.6), abs=1e-6)


@pytest.mark.parametrize("block", list(BLOCKS))
def test_each_block_shows_its_pipe(blocks, block):
    """At every place along the block's pipe the strongest echo across it lies within a quarter wavelength."""
    assert any("imaging: 3d" in note for note in blocks[0].notes)
    with xarray.open_zarr(blocks[0].out / "volume.zarr") as data:
        part = data["amplitude"].sel(z=slice(0.3, 1.2)).load()
    across = np.arange(-0.6, 0.61, 0.02)
    for x in np.arange(0.4, 1.65, 0.2):
        gx, gy = to_grid(block, x, PIPE_Y + across)
        cut = part.interp(x=("s", gx), y=("s", gy)).values
        level, at = np.unravel_index(np.nanargmax(cut), cut.shape)
        assert abs(across[at]) < QUARTER_WAVELENGTH, (x, across[at])
        assert abs(float(part.z[level]) - PIPE_DEPTH) < QUARTER_WAVELENGTH


def test_ground_between_blocks_stays_blank(blocks):
    """No trace came near the middle of the gap: every slice is blank there, and coverage says how far one is."""
    out = blocks[0].out
    ends = np.array([to_grid("A", 2.0, 1.3), to_grid("B", 0.0, 1.3)])
    east, north = ends.mean(axis=0)
    for path in sorted((out / "slices").iterdir()):
        with rasterio.open(path) as data:
            assert np.isnan(next(data.sample([(east, north)]))[0]), path.name
    with rasterio.open(out / "coverage.tif") as data:
        far = float(next(data.sample([(east, north)]))[0])
    lines = np.concatenate(
        [
            np.array([to_grid(b, 0.25 * i, y) for i in range(9) for y in np.linspace(0, 2.6, 53)])
            for b in BLOCKS
        ]
    )
    assert far == pytest.approx(np.hypot(*(lines - [east, north]).T).min(), abs=0.08)


def test_block_of_lines_placed_by_a_track_is_refused(blocks):
    """A rotation that would do nothing is an error that names the key."""
    folder = blocks[1].parent
    text = SITE + '[[lines]]\nfiles = "lines/A*.sgy"\npositions = "track"\nrotation_deg = 5\n'
    (folder / "wrong.toml").write_text(text + '[track]\nfile = "site.toml"\n')
    with pytest.raises(SiteError, match="rotation_deg"):
        load_site(folder / "wrong.toml")
