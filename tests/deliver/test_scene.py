"""The 3D scene: where things stand in space, read back by two other libraries."""

from __future__ import annotations

import json
import math
import os
import shutil
import struct
import subprocess
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import pyvista as pv
import trimesh
from gltf_rules import join_glb, node_modules, rules_broken, split_glb

from gridmap.deliver import scene_view
from gridmap.deliver.caution import CAUTION
from gridmap.deliver.scene import build_scene, draw_scene, write_scene
from gridmap.deliver.scene_glb import slice_rgba, y_up
from gridmap.deliver.scene_parts import apart, scene_frame, thinned
from gridmap.errors import OurFaultError
from gridmap.model import (
    Grid,
    Interpretation,
    LinearFeature,
    Listed,
    OutlineFeature,
    PointFeature,
    Said,
    Similarity,
    SliceStack,
    Volume,
    Window,
)

TURN = math.radians(20.0)
TRANSFORM = Similarity(512340.0, 5403210.0, math.cos(TURN), math.sin(TURN))
GRID = Grid(0.0, 0.0, 0.1, 60, 80)  # 6 m along y, 8 m along x
BALL = np.array([5.0, 2.0, 1.0])  # local x, y, depth of its middle, metres
RADIUS = 0.487  # no node of the grid lies on the sphere, which would make triangles without area


@pytest.fixture(scope="module")
def volume() -> Volume:
    """Falls with the distance from one point, so that a level is a sphere around it; one corner is blank."""
    depth = 0.05 * np.arange(50)
    z, y, x = np.meshgrid(depth, GRID.y_m(), GRID.x_m(), indexing="ij")
    away = np.sqrt((x - BALL[0]) ** 2 + (y - BALL[1]) ** 2 + (z - BALL[2]) ** 2)
    values = np.exp(-away).astype(np.float32)
    values[:, 50:, :10] = np.nan
    return Volume(values, GRID, "depth", 0.0, 0.05, "envelope")


@pytest.fixture(scope="module")
def stack(volume: Volume) -> SliceStack:
    windows = tuple(
        Window("depth", t, t + 0.2, 20 * t, 20 * t + 4) for t in np.round(np.arange(0, 2.2, 0.1), 2)
    )
    at = [round((w.top_m + 0.1) / 0.05) for w in windows]
    return SliceStack(volume.values[at], windows, "envelope")


@pytest.fixture(scope="module")
def scene(volume: Volume, stack: SliceStack):
    lines = [np.array([[x, 0.0], [x, 3.0], [x, 6.0]]) for x in (0.0, 4.0, 8.0)]
    level = math.exp(-RADIUS)
    return build_scene(volume, TRANSFORM, stack, lines, levels=(level,), title="Yard", crs_name="EPSG:25832")


@pytest.fixture(scope="module")
def folder(scene, tmp_path_factory) -> Path:
    out = tmp_path_factory.mktemp("scene")
    write_scene(out, scene)
    return out


def ball_in_scene(scene) -> np.ndarray:
    """Where the ball must be, from the map alone: east and north less the origin, up minus the depth."""
    east = 512340.0 + math.cos(TURN) * BALL[0] - math.sin(TURN) * BALL[1]
    north = 5403210.0 + math.sin(TURN) * BALL[0] + math.cos(TURN) * BALL[1]
    origin = scene.frame.origin_m
    return np.array([east - origin[0], north - origin[1], -BALL[2]])


def glb_json(path: Path) -> dict:
    """Header and JSON chunk of a GLB (Khronos glTF 2.0, section 4.4)."""
    data = path.read_bytes()
    magic, version, length = struct.unpack_from("<4sII", data)
    assert (magic, version, length) == (b"glTF", 2, len(data))
    size, kind = struct.unpack_from("<I4s", data, 12)
    assert kind == b"JSON"
    return json.loads(data[20 : 20 + size])


def test_axes_turn_as_gltf_wants() -> None:
    """Right-handed, +Y up: (E, N, up) becomes (E, up, -N) (Khronos glTF 2.0, section 3.4)."""
    turned = y_up(np.eye(3))
    np.testing.assert_array_equal(turned, [[1, 0, 0], [0, 0, -1], [0, 1, 0]])
    assert np.linalg.det(turned) == pytest.approx(1.0)


def test_origin_is_whole_metres_near_the_middle(scene) -> None:
    """Co-ordinates stay small enough for float32, and the origin is easy to add back."""
    assert all(v == round(v) for v in scene.frame.origin_m)
    middle = TRANSFORM.to_map(np.array([3.95, 2.95]))
    assert np.abs(middle - scene.frame.origin_m).max() <= 0.5
    assert np.abs(scene.ground_m).max() < 10.0


def test_iso_surface_is_the_sphere_at_its_place(scene) -> None:
    """Middle, radius and volume are those of the ball (4/3 pi r^3), with the outside facing out."""
    surface = scene.surfaces[0]
    away = np.linalg.norm(surface.points_m - ball_in_scene(scene), axis=1)
    np.testing.assert_allclose(away, RADIUS, atol=0.02)
    mesh = trimesh.Trimesh(surface.points_m, surface.triangles)
    assert mesh.is_watertight
    assert mesh.volume == pytest.approx(4.0 / 3.0 * math.pi * RADIUS**3, rel=0.03)


def test_surface_stays_below_ground_and_out_of_blank_cells(volume: Volume, stack: SliceStack) -> None:
    """A low level is closed at the ground and at blank cells; nothing stands in the air."""
    low = build_scene(volume, TRANSFORM, stack, [], levels=(0.001,))
    points = low.surfaces[0].points_m
    assert points[:, 2].max() <= 1e-9
    local = TRANSFORM.to_local(points[:, :2] + low.frame.origin_m)
    deep_in_blank = (local[:, 0] < 0.7) & (local[:, 1] > 5.3)
    assert not deep_in_blank.any()


def test_large_volumes_are_joined_by_their_mean(volume: Volume) -> None:
    """Blocks keep the mean of what is known and stay under the bound."""
    values, down, across = thinned(volume, 5000)
    assert values.size <= 5000
    assert values[0, 0, 0] == pytest.approx(volume.values[:down, :across, :across].mean(), rel=1e-5)
    assert np.isnan(values[0, -1, 0])


def test_a_volume_over_its_usual_level_is_joined_as_if_divided_whole(volume: Volume) -> None:
    """Divided some depths at a time or all at once: the same quotients, the same means."""
    usual = np.linspace(0.5, 2.0, len(volume.values)).astype(np.float32)
    whole = replace(volume, values=volume.values / usual[:, None, None])
    np.testing.assert_array_equal(thinned(volume, 5000, usual)[0], thinned(whole, 5000)[0])


def test_slices_kept_do_not_overlap() -> None:
    """Of slices that repeat half of the last, every second one is kept."""
    assert apart([0.0, 0.1, 0.2, 0.3, 0.4], [0.2, 0.3, 0.4, 0.5, 0.6], 30) == [0, 2, 4]
    assert apart([0.0, 0.1, 0.2, 0.3], [0.1, 0.2, 0.3, 0.4], 2) == [0, 2]


def test_slice_is_clear_where_blank_and_firm_where_strong() -> None:
    """Opacity is 0 only for blank cells and grows with the value; row 0 is the far side."""
    rgba = slice_rgba(np.array([[np.nan, 0.0], [0.5, 1.0]], np.float32), (0.0, 1.0))
    assert rgba[1, 0, 3] == 0
    assert 0 < rgba[1, 1, 3] < rgba[0, 0, 3] < rgba[0, 1, 3]


def test_glb_read_by_trimesh_has_the_right_bounds(scene, folder: Path) -> None:
    """Bounds are the turned grid in (E, up, -N); the ground lies at 0 and nothing below the last slice."""
    loaded = trimesh.load(folder / "scene.glb")
    corners = TRANSFORM.to_map(np.array([[-0.05, -0.05], [7.95, -0.05], [7.95, 5.95], [-0.05, 5.95]]))
    lines = TRANSFORM.to_map(np.array([[0.0, 0.0], [8.0, 0.0], [8.0, 6.0], [0.0, 6.0]]))
    east, north = (np.vstack([corners, lines]) - scene.frame.origin_m).T
    lowest = -max(0.5 * (w.top_m + w.base_m) for w in scene.windows)
    expected = [[east.min(), lowest, -north.max()], [east.max(), 0.0, -north.min()]]
    np.testing.assert_allclose(loaded.bounds, expected, atol=1e-4)
    assert loaded.metadata["origin_easting_m"] == scene.frame.origin_m[0]
    assert loaded.metadata["caution"] == CAUTION


def test_glb_texture_shows_the_ball_at_its_place(scene, folder: Path) -> None:
    """On the quad through its middle the strongest texel lies above the ball, by the quad's own uv."""
    loaded = trimesh.load(folder / "scene.glb")
    name = "slice 0.80 to 1.00 m"
    mesh = loaded.geometry[name]
    picture = np.asarray(mesh.visual.material.baseColorTexture.convert("RGBA"), dtype=int)
    row, column = np.argwhere(picture[..., 3] == picture[..., 3].max()).mean(axis=0)
    u, v = (column + 0.5) / picture.shape[1], 1.0 - (row + 0.5) / picture.shape[0]
    uv, points = np.asarray(mesh.visual.uv), np.asarray(mesh.vertices)
    fit, *_ = np.linalg.lstsq(np.column_stack([uv, np.ones(len(uv))]), points, rcond=None)
    x, up, z = np.array([u, v, 1.0]) @ fit
    ball = ball_in_scene(scene)
    np.testing.assert_allclose((x, -z), ball[:2], atol=0.12)
    assert up == pytest.approx(-0.9, abs=1e-6)


def test_glb_says_how_to_draw_and_where_it_is(folder: Path) -> None:
    """Slices are unlit, blended and unsmoothed; names are those of the windows; the origin is in the extras."""
    tree = glb_json(folder / "scene.glb")
    names = [node["name"] for node in tree["nodes"]]
    assert {"slice 0.00 to 0.20 m", "slice 0.20 to 0.40 m", "lines walked", "edge of the grid"} <= set(names)
    slices = [m for m in tree["materials"] if m.get("name", "").startswith("slice")]
    assert slices
    assert all(m["alphaMode"] == "BLEND" and m["doubleSided"] for m in slices)
    assert all("KHR_materials_unlit" in m["extensions"] for m in slices)
    assert tree["samplers"][0]["magFilter"] == 9728  # NEAREST
    assert tree["asset"]["extras"]["origin_northing_m"] == tree["scenes"][0]["extras"]["origin_northing_m"]
    assert tree["asset"]["generator"] == "gridmap"


def test_vtm_read_by_pyvista_has_slices_in_the_map(scene, folder: Path) -> None:
    """The strongest cell of the slice through the ball lies at its easting and northing; blank cells are hidden."""
    blocks = pv.read(folder / "scene.vtm")
    assert list(blocks.keys()) == ["slices", "iso-surfaces", "features", "ground"]
    plane = blocks["slices"]["slice 0.80 to 1.00 m"]
    centres, values = np.asarray(plane.cell_centers().points), np.asarray(plane.cell_data["value"])
    best = centres[np.nanargmax(values)]
    np.testing.assert_allclose(best[:2], ball_in_scene(scene)[:2], atol=0.1)
    assert best[2] == pytest.approx(-0.9)
    hidden = np.asarray(plane.cell_data["vtkGhostType"]) > 0
    np.testing.assert_array_equal(hidden, np.isnan(values))
    surface = blocks["iso-surfaces"][0]
    np.testing.assert_allclose(np.mean(surface.points, axis=0), ball_in_scene(scene), atol=0.03)
    np.testing.assert_allclose(surface.field_data["origin_easting_northing_m"], scene.frame.origin_m)
    assert blocks["ground"]["lines walked"].n_cells == 3


def test_files_repeat_and_leave_nothing_behind(scene, folder: Path, tmp_path: Path) -> None:
    """Writing twice gives the same glb, the same names, and no temporary file."""
    for _ in range(2):
        write_scene(tmp_path, scene)
    assert (tmp_path / "scene.glb").read_bytes() == (folder / "scene.glb").read_bytes()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["scene", "scene.glb", "scene.vtm"]
    names = [sorted(p.relative_to(f).as_posix() for p in f.rglob("*")) for f in (folder, tmp_path)]
    assert names[0] == names[1]


def test_volume_over_time_is_refused(volume: Volume, stack: SliceStack) -> None:
    """The scene is in metres; a volume over time is our fault to give it."""
    timed = Volume(volume.values, GRID, "time", 0.0, 1.0, "envelope")
    with pytest.raises(OurFaultError, match="depth"):
        build_scene(timed, TRANSFORM, stack, [])


def test_constant_volume_has_no_surface(volume: Volume, stack: SliceStack) -> None:
    """Nothing stands out, so no level is found and the files are still written."""
    flat = Volume(np.ones_like(volume.values), GRID, "depth", 0.0, 0.05, "envelope")
    assert build_scene(flat, TRANSFORM, stack, []).levels == ()


def test_frame_of_the_identity_keeps_east_and_up(volume: Volume) -> None:
    """Without a turn local x is east, y north, and depth points down."""
    frame = scene_frame(GRID, Similarity(0.0, 0.0, 1.0, 0.0))
    np.testing.assert_allclose(frame.to_scene(np.array([5.0, 4.0]), 1.5), (1.0, 1.0, -1.5))


def test_picture_is_drawn_off_screen_or_the_reason_is_told(scene, folder: Path, tmp_path: Path) -> None:
    """Without a display the picture shows the ball's strong colour, or one line says why there is none."""
    out = tmp_path / "3d.png"
    reason = draw_scene(
        folder / "scene.vtm", out, colour_range=scene.colour_range, title="Yard", note="one ball"
    )
    if reason is not None:
        assert reason.startswith("3D picture not drawn: ")
        assert "\n" not in reason
        assert not out.exists()
        pytest.skip(reason)
    from PIL import Image

    with Image.open(out) as image:
        pixels = np.asarray(image.convert("RGB")).astype(int)
    view = pixels[90:-80]
    assert (view[..., 0] - view[..., 2] > 60).sum() > 200


def test_failure_to_draw_is_a_reason_not_an_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A missing file, a process that dies and one that hangs each give one line, and no picture."""
    out = tmp_path / "3d.png"
    reason = draw_scene(tmp_path / "none.vtm", out, colour_range=(0.0, 1.0), title="Yard")
    assert reason is not None
    assert reason.startswith("3D picture not drawn: ")
    assert "\n" not in reason
    monkeypatch.setattr(scene_view.sys, "executable", str(tmp_path / "no-such-python"))
    assert "not drawn" in (
        draw_scene(tmp_path / "none.vtm", out, colour_range=(0.0, 1.0), title="Yard") or ""
    )
    monkeypatch.undo()
    hung = draw_scene(tmp_path / "none.vtm", out, colour_range=(0.0, 1.0), title="Yard", timeout_s=0.01)
    assert "timed out" in (hung or "")
    assert not out.exists()


PIPE = LinearFeature(
    np.array([[1.0, 1.0, 0.8], [4.0, 1.0, 0.9], [7.0, 2.0, 1.0]]), 0.03, 0.2, 9.0, 0.9, 5, "unclear", ""
)
TANK = OutlineFeature(
    np.array([[2.0, 3.0], [4.0, 3.0], [4.0, 3.5], [3.0, 3.5], [3.0, 4.0], [2.0, 4.0]]),  # an L: not convex
    0.6, 0.03, 0.7, 2.0, 1.0, 0.0, 9.0, 0.9,
)  # fmt: skip
SLAB = replace(TANK, ring_m=TANK.ring_m[::-1] + np.array([3.0, 0.0]), thickness_m=None)
STONE = PointFeature(np.array([[6.0, 5.0, 0.5]]), 0.03, 5.0, 0.7)
WHAT = Interpretation(
    (Listed("L1", PIPE, Said("accepted", class_name="water")), Listed("L2", PIPE, Said("rejected"))),
    (Listed("A1", TANK, Said()), Listed("A2", SLAB, Said())),
    (Listed("P1", STONE, Said()),),
)


@pytest.fixture(scope="module")
def with_features(volume, stack, tmp_path_factory):
    """A scene with a pipe, a tank, a slab and a stone, written."""
    lines = [np.array([[x, 0.0], [x, 6.0]]) for x in (0.0, 8.0)]
    made = build_scene(volume, TRANSFORM, stack, lines, title="Yard", crs_name="EPSG:25832", features=WHAT)
    out = tmp_path_factory.mktemp("features")
    write_scene(out, made)
    return out, made


def in_map(points_gltf, made):
    """Vertices of glTF (x east, y up, z minus north) to easting, northing, depth."""
    x, y, z = np.asarray(points_gltf).T
    return np.column_stack([x + made.frame.origin_m[0], -z + made.frame.origin_m[1], -y])


def test_pipes_are_tubes_whose_top_lies_at_the_depth(with_features):
    """The crown of a tube is the top that the layers state, its volume pi r2 L, in trimesh and in pyvista alike."""
    out, made = with_features
    world = trimesh.load(out / "scene.glb")
    pipe = world.geometry["feature L1"]
    assert "feature L2" not in world.geometry  # rejected by a person
    assert pipe.is_watertight
    length = float(np.linalg.norm(np.diff(PIPE.xyz_m, axis=0), axis=1).sum())
    # A prism of 16 sides has 16/(2 pi) sin(2 pi/16) = 0.9745 of the circle's area; mitres take a little more.
    assert pipe.volume == pytest.approx(0.9745 * math.pi * 0.1**2 * length, rel=0.01)
    en_d = in_map(pipe.vertices, made)
    ends = TRANSFORM.to_map(PIPE.xyz_m[[0, -1], :2])
    for end, depth in zip(ends, (0.8, 1.0), strict=True):
        near = en_d[np.hypot(*(en_d[:, :2] - end).T) < 0.12]
        assert near[:, 2].min() == pytest.approx(depth, abs=0.005)
    same = pv.read(out / "scene.vtm")["features"]["feature L1"]
    assert same.volume == pytest.approx(pipe.volume, rel=1e-3)
    assert same.bounds[5] == pytest.approx(-en_d[:, 2].min(), abs=1e-4)  # up in pyvista, minus the depth
    assert list(same.field_data["colour"]) == [23, 102, 194]  # blue: water, as marked on the ground
    assert pipe.metadata["depth_top_m"] == pytest.approx(0.9)


def test_tanks_are_solids_from_top_to_base(with_features):
    """An L-shaped tank has the volume of its plan times its height; a slab of unknown base says that it is drawn so."""
    out, made = with_features
    world = trimesh.load(out / "scene.glb")
    tank, slab = world.geometry["feature A1"], world.geometry["feature A2"]
    for solid, height in ((tank, 0.7), (slab, 0.1)):
        assert solid.is_watertight
        assert solid.volume == pytest.approx(1.5 * height, rel=1e-4)
        assert in_map(solid.vertices, made)[:, 2].min() == pytest.approx(0.6, abs=1e-4)
        assert in_map(solid.vertices, made)[:, 2].max() == pytest.approx(0.6 + height, abs=1e-4)
    assert "drawn" in slab.metadata["height_is"]
    assert tank.metadata["height_is"] == "measured"
    corner = TRANSFORM.to_map(TANK.ring_m[1])
    assert np.hypot(*(in_map(tank.vertices, made)[:, :2] - corner).T).min() < 1e-3
    stone = in_map(world.geometry["feature P1"].vertices, made)
    assert stone[:, 2].min() == pytest.approx(0.5, abs=0.002)


def test_the_file_keeps_the_rules_of_gltf(with_features):
    """Khronos glTF 2.0: header, accessors within their views, bounds of positions, indices in range, unit normals."""
    out, _ = with_features
    broken = rules_broken((out / "scene.glb").read_bytes())
    assert broken == []


def test_the_rules_are_not_blind(with_features):
    """The check of the rules sees a cut file, a wrong bound and an index out of range."""
    raw = (with_features[0] / "scene.glb").read_bytes()
    assert rules_broken(raw[:-8])
    tree, data = split_glb(raw)
    mesh = next(m for m in tree["meshes"] if m["name"] == "feature L1")
    position = mesh["primitives"][0]["attributes"]["POSITION"]
    tree["accessors"][position]["max"][1] += 1.0
    assert any("max" in rule for rule in rules_broken(join_glb(tree, data)))
    tree["accessors"][position]["max"][1] -= 1.0
    tree["accessors"][position]["count"] = 3
    assert any("range" in rule for rule in rules_broken(join_glb(tree, data)))


def test_the_validator_of_the_standards_body_finds_no_error(with_features):
    """The reference validator of glTF reports no error and no warning."""
    node, modules = shutil.which("node"), node_modules()
    if node is None or modules is None:
        pytest.skip(
            "the npm package gltf-validator is not installed; scripts/setup-tests installs it where npm is"
        )
    script = (
        "const v=require('gltf-validator'),f=require('fs'),raw=new Uint8Array(f.readFileSync(process.argv[1]));"
        "v.validateBytes(raw).then(r=>console.log(JSON.stringify(r.issues)))"
    )
    done = subprocess.run(
        [node, "-e", script, str(with_features[0] / "scene.glb")],
        capture_output=True, text=True, check=True, env={**os.environ, "NODE_PATH": str(modules)}, timeout=60,
    )  # fmt: skip
    issues = json.loads(done.stdout)
    assert (issues["numErrors"], issues["numWarnings"]) == (0, 0), issues["messages"][:5]


def test_pyvista_reads_the_same_place_from_both_files(with_features):
    """x east, y up, z minus north in glTF; east, north, up in VTK: the same box of the same size in metres."""
    out, _ = with_features
    web, desk = pv.read(out / "scene.glb").bounds, pv.read(out / "scene.vtm").bounds
    assert web[:2] == pytest.approx(desk[:2], abs=1e-3)
    assert web[2:4] == pytest.approx(desk[4:], abs=1e-3)
    assert (-web[5], -web[4]) == pytest.approx(desk[2:4], abs=1e-3)
