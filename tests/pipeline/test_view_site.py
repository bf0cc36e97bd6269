"""The scene drawn without a window, and the errors of a machine that has none."""

import itertools
import sys

import numpy as np
import pytest
import pyvista as pv
from PIL import Image

import gridmap
from gridmap.deliver import scene_window
from gridmap.deliver.scene_window import DepthSlider, assemble, middles
from gridmap.errors import InputError


def test_slider_shows_the_slice_at_its_depth(mapped):
    """At 0.6 m the slice whose window holds 0.6 m is the one drawn, and no other."""
    vtm = mapped[0].out / "scene.vtm"
    plotter, slider = assemble(pv.Plotter(off_screen=True, window_size=[200, 150]), vtm, (0.0, 1.0), (), None)
    names = list(pv.read(vtm)["slices"].keys())
    for depth in (0.6, 0.12, 0.9):
        slider.show(depth)
        top, base = (float(w) for w in names[slider.shown].split()[1:4:2])
        assert top - 1e-6 <= depth <= base + 1e-6
        drawn = plotter.actors["slice"].mapper.dataset
        # The sheet lies at the middle of its window, up is minus the depth.
        assert drawn.bounds[4] == pytest.approx(-0.5 * (top + base), abs=1e-4)
    assert isinstance(slider, DepthSlider)
    plotter.close()


def test_a_rejected_feature_is_not_drawn(mapped):
    """What a person rejected has no place in the scene."""
    vtm = mapped[0].out / "scene.vtm"
    plotter, _ = assemble(pv.Plotter(off_screen=True), vtm, (0.0, 1.0), (), None)
    assert "feature L1" in plotter.actors
    plotter.close()
    plotter, _ = assemble(pv.Plotter(off_screen=True), vtm, (0.0, 1.0), ("feature L1",), None)
    assert "feature L1" not in plotter.actors
    plotter.close()


def test_names_tell_the_middle_of_a_slice():
    """Windows of depth and of elevation are read from the names of the blocks."""
    assert middles(["slice 0.40 to 0.50 m", "slice elevation 101.30 to 101.10 m"]) == pytest.approx(
        [0.45, 101.2]
    )


def test_picture_and_turntable_are_drawn_without_a_display(mapped, tmp_path, monkeypatch):
    """A picture has title and caution; a turntable turns, and comes back to where it began."""
    monkeypatch.setattr(scene_window, "FRAMES", 4)
    monkeypatch.delenv("DISPLAY", raising=False)
    out = mapped[0].out
    gridmap.view(out, picture=tmp_path / "a.png", turntable=tmp_path / "b.gif", at_m=0.6)
    with Image.open(tmp_path / "a.png") as still:
        pixels = np.asarray(still.convert("RGB")).astype(int)
    assert len(np.unique(pixels[100:-80].reshape(-1, 3), axis=0)) > 50
    with Image.open(tmp_path / "b.gif") as film:
        assert film.n_frames == 4
        seen = []
        for k in range(4):
            film.seek(k)
            seen.append(np.asarray(film.convert("L")).astype(float))
    apart = [np.abs(a - b).mean() for a, b in itertools.pairwise(seen)]
    assert min(apart) > 1.0


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only there a missing display can be told")
def test_without_a_display_the_window_is_refused_with_what_to_do(mapped, monkeypatch):
    """On a machine without a display the error names the way to a picture."""
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    with pytest.raises(InputError, match="--picture"):
        gridmap.view(mapped[0].out)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"turntable": "a.avi"}, "ends in"),
        ({"picture": "a.jpg"}, "ends in .png"),
        ({"turntable": "a.mp4"}, "imageio-ffmpeg"),
    ],
)
def test_a_file_that_cannot_be_drawn_is_refused_before_any_work(mapped, tmp_path, monkeypatch, asked, said):
    """An ending that is none of ours, or a film without its encoder, is named with what to do."""
    monkeypatch.setattr(scene_window, "find_spec", lambda name: None)
    with pytest.raises(InputError, match=said):
        gridmap.view(mapped[0].out, **{k: tmp_path / v for k, v in asked.items()})
