"""The forward model against textbook formulas; the shipped demo against its own promises."""

import ast
import json
import math
from pathlib import Path

import numpy as np
import pytest
from scipy.ndimage import uniform_filter1d
from scipy.optimize import minimize

from benchmarks import make_demo_survey, make_survey_s
from benchmarks.simulate.faults import Levels, apply_faults, plan_faults
from benchmarks.simulate.ground import LIGHT_M_PER_NS, Ground, Layer, trace_rays
from benchmarks.simulate.objects import Interface, Pipe, Post, Scene, surface_patch
from benchmarks.simulate.pulse import clean_line, direct_spectrum, spikes_to_traces
from benchmarks.simulate.walk import Habits, lay_lines, walk_line
from gridmap.site.load import load_site

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "gridmap" / "demo_data"
V = 0.1
ALMOST_NO_SEPARATION_M = 1e-4


@pytest.fixture(scope="module")
def even() -> Ground:
    """Lossless ground of 0.1 m/ns throughout."""
    return Ground.lay(Layer("even", math.inf, (LIGHT_M_PER_NS / V) ** 2))


def line_along_y(y_m, x_m=0.0):
    y = np.asarray(y_m, float)
    return np.stack([np.full(y.shape, x_m), y], axis=1)


def strongest(traces, interval_ns):
    """Time and value of the strongest sample of each trace, by the parabola through its neighbours."""
    k = np.argmax(np.abs(traces), axis=1)
    rows = np.arange(len(traces))
    left, top, right = traces[rows, k - 1], traces[rows, k], traces[rows, k + 1]
    shift = 0.5 * (left - right) / (left - 2 * top + right)
    return (k + shift) * interval_ns, top - 0.25 * (left - right) * shift


def modelled(scene, mid_m, separation_m=ALMOST_NO_SEPARATION_M, heading=(0.0, 1.0), **more):
    settings = {"centre_mhz": 600.0, "samples": 700, "interval_ns": 0.05} | more
    traces = clean_line(scene, mid_m, np.array(heading), separation_m=separation_m, **settings)
    return strongest(traces, settings["interval_ns"])


def test_thin_pipe_hyperbola_with_antenna_separation(even):
    """A thin pipe 0.5 m down gives 15.654 ns at 0.6 m and 10.127 ns at the apex for S = 0.16 m."""
    # shared/trade.md 1.3, row "Separation S" (standard geometry, computed there).
    scene = Scene(even, pipes=(Pipe((-9, 0, 0.5), (9, 0, 0.5), 1e-7, -1.0),))
    time, _ = modelled(scene, line_along_y([0.6, 0.0, -0.6]), separation_m=0.16)
    np.testing.assert_allclose(time, [15.654, 10.127, 15.654], atol=0.005)


def test_thin_pipe_without_separation_gives_back_the_velocity(even):
    """At d = 1 m and x = 1 m the time is 28.284 ns, and v = 2 sqrt(x^2 / (t^2 - t0^2)) is 0.1 again."""
    # shared/trade.md 1.3, row "Thin pipe" (textbook formula, GPG Survey).
    scene = Scene(even, pipes=(Pipe((-9, 0, 1.0), (9, 0, 1.0), 1e-7, -1.0),))
    (t0, t1), _ = modelled(scene, line_along_y([0.0, 1.0]))
    assert t1 == pytest.approx(28.284, abs=0.005)
    assert 2 / math.sqrt(t1**2 - t0**2) == pytest.approx(0.1, abs=1e-4)


def test_thick_pipe_echoes_from_its_skin(even):
    """A cylinder of radius 0.15 m with its top at 0.5 m gives 14.692 ns at 0.6 m."""
    # shared/trade.md 1.3, row "Cylinder r, top h".
    scene = Scene(even, pipes=(Pipe((-9, 0, 0.65), (9, 0, 0.65), 0.15, -1.0),))
    (time,), _ = modelled(scene, line_along_y([0.6]))
    assert time == pytest.approx(14.692, abs=0.005)


@pytest.mark.parametrize("angle_deg", [90.0, 50.0, 15.0])
def test_oblique_pipe_widens_its_hyperbola_by_the_angle(even, angle_deg):
    """Only the distance at right angles to the pipe counts: t = 2 sqrt((x sin g)^2 + d^2) / v."""
    # Distance of a point from a line, elementary geometry.
    g = math.radians(angle_deg)
    run = np.array([math.sin(g), math.cos(g)])
    scene = Scene(even, pipes=(Pipe((*(-12 * run), 0.7), (*(12 * run), 0.7), 1e-7, -1.0),))
    y = np.array([0.0, 0.5, 1.0])
    time, _ = modelled(scene, line_along_y(y))
    np.testing.assert_allclose(time, 2 / V * np.hypot(y * math.sin(g), 0.7), atol=0.006)


def test_dipping_pipe_echoes_from_its_nearest_point(even):
    """Above a pipe that falls with slope tan(a) the path is z cos(a): the echo comes from up-dip."""
    # Distance of a point from a sloping line, elementary geometry.
    slope = 0.2
    scene = Scene(even, pipes=(Pipe((-4, 0, 0.2), (6, 0, 2.2), 1e-7, -1.0),))
    (time,), _ = modelled(scene, line_along_y([0.0], x_m=1.0))
    assert time == pytest.approx(2 * (1.2 * math.cos(math.atan(slope))) / V, abs=0.006)


def test_flat_top_is_a_mirror_with_edges_of_half_strength(even):
    """Over a plate: 2h/v and R/2h; on its rim half of that; beyond it the limb of the edge, weaker still."""
    # Times: shared/trade.md 1.3, row "Block edges". R/2h: mirror image. One half on the rim: Kirchhoff's
    # half-plane.
    scene = Scene(even, surfaces=surface_patch(even, (0, 0), (6, 3), 0.0, 0.7, -1.0, spacing_m=0.01))
    time, size = modelled(scene, line_along_y([0.0, 1.5, 1.9]), centre_mhz=400.0)
    assert time[0] == pytest.approx(14.0, abs=0.03)
    assert size[0] == pytest.approx(-1 / 1.4, rel=0.02)
    assert time[1] == pytest.approx(14.0, abs=0.1)
    assert size[1] / size[0] == pytest.approx(0.5, abs=0.03)
    assert time[2] == pytest.approx(2 / V * math.hypot(0.4, 0.7), abs=0.35)
    assert abs(size[2]) < 0.3 * abs(size[0])


def test_dip_looks_too_small_before_migration(even):
    """An interface that dips 30 degrees shows a time slope of 2 sin(30)/v, as if it dipped 26.57 degrees."""
    # shared/trade.md 1.3: tan(apparent) = sin(true).
    scene = Scene(even, interfaces=(Interface(1.0, 0.0, math.tan(math.radians(30)), 0.2),))
    time, _ = modelled(scene, line_along_y([0.0, 0.5]))
    apparent = math.degrees(math.atan((time[1] - time[0]) * V / 2 / 0.5))
    assert apparent == pytest.approx(26.57, abs=0.05)


def test_post_echo_runs_through_the_air(even):
    """A post 10 m away comes at 66.7 ns, and its limb falls by 6.671 ns a metre."""
    # shared/trade.md 1.3, row "Surface object".
    scene = Scene(even, posts=(Post(0.0, 0.0, -1.0),))
    time, size = modelled(scene, line_along_y([9.0, 10.0]), samples=1500)
    assert time[1] == pytest.approx(66.7, abs=0.05)
    assert time[1] - time[0] == pytest.approx(6.671, abs=0.01)
    assert np.all(size < 0)


def test_metal_turns_the_pulse_and_a_void_does_not(even):
    """Metal has R = -1, a void in ground has R > 0."""
    # shared/trade.md 1.2, row "Reflection".
    for reflection, inside in ((-1.0, None), (0.5, 1.0)):
        scene = Scene(even, pipes=(Pipe((-9, 0, 0.7), (9, 0, 0.7), 0.05, reflection, inside),))
        _, size = modelled(scene, line_along_y([0.0]))
        assert np.sign(size[0]) == np.sign(reflection)


def test_absorption_of_a_layer():
    """Ground of permittivity 9 and 10 mS/m takes 5.452 dB a metre."""
    # shared/trade.md 1.2, row "Attenuation": low-loss 1636 sigma / sqrt(eps).
    decibel = 20 * math.log10(math.e) * Layer("x", 1.0, 9.0, 10.0).absorption_np_per_m
    assert decibel == pytest.approx(5.452, abs=0.005)


def test_rays_in_layers_obey_fermat():
    """The ray through three layers takes the least time of all bent paths."""
    # Fermat's principle; scipy.optimize, a general minimiser, is the other author.
    layers = (Layer("a", 0.3, 4.0), Layer("b", 0.5, 12.0), Layer("c", math.inf, 6.0))
    thickness, speed = np.array([0.3, 0.5, 0.4]), np.array([a.velocity_m_per_ns for a in layers])

    def path_time(steps):
        across = np.array([steps[0], steps[1], offset - steps[0] - steps[1]])
        return float((np.hypot(across, thickness) / speed).sum())

    for offset in (0.0, 0.4, 1.5, 4.0):
        best = minimize(
            path_time, [offset / 3, offset / 3], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12}
        )
        time, _ = trace_rays(layers, np.array([1.2]), np.array([offset]))
        assert time[0] == pytest.approx(best.fun, abs=1e-6)


def test_pulse_is_a_ricker():
    """Zero at 0.2251/f0, trough of -0.4463 at 0.3898/f0."""
    # shared/trade.md 1.4, row "Ricker".
    spikes = np.zeros((1, 4000))
    spikes[0, 2000] = 1.0
    trace = spikes_to_traces(spikes, None, 1000, 0.02, 0.4)[0]
    time = np.arange(1000) * 0.02 - 10.0
    assert np.interp(0.2251 / 0.4, time, trace) == pytest.approx(0.0, abs=2e-3)
    assert np.interp(0.3898 / 0.4, time, trace) == pytest.approx(-0.4463, abs=1e-3)
    assert trace.max() == pytest.approx(1.0, abs=1e-3)


def test_direct_wave_far_away_goes_with_light():
    """At 3 m the near field is gone and the direct wave stands at r/c = 10.007 ns."""
    # shared/trade.md 1.3, row "Airwave": x/c.
    frequency = np.arange(2049) * 0.002
    wave = np.fft.irfft(direct_spectrum(frequency, 0.4, 3.0, 0.1, 0.0), 16 * 2048)
    step = 1 / (16 * 2048 * 0.002)
    assert np.argmax(np.abs(wave)) * step == pytest.approx(10.007, abs=0.03)


def test_same_numbers_draw_the_same_faults():
    """Walk, faults and noise are equal for equal generators and differ for others."""

    def spoil(number):
        rng = np.random.default_rng(number)
        walk = walk_line(rng, "L", (0, 0), (0, 5), Habits(0.05, 0.01, 0.002, 0.04, 0.01, 0.01), 0.0)
        faults = plan_faults(rng, walk.trigger, Levels())
        return apply_faults(rng, np.zeros((len(walk.mid_m), 100)), faults, Levels(), 0.2, 0.35)

    assert np.array_equal(spoil(3), spoil(3))
    first, other = spoil(3), spoil(4)
    assert first.shape != other.shape or not np.array_equal(first, other)


def test_walk_keeps_wheel_scale_stagger_and_triggers():
    """Opposite walks are shifted to opposite sides; a missing trigger is a missing trace."""
    habits = Habits(trace_m=0.05, wheel_error=0.02, late_m=0.1, dropped=0.1)
    (_, *there), (_, *back) = lay_lines("L", 20.0, 0.25, 0.25)
    walks = [walk_line(np.random.default_rng(1), "L", *pegs, habits, 0.0) for pegs in (there, back)]
    for walk, sign in zip(walks, (1, -1), strict=True):
        shift = walk.mid_m[0, 1] - walk.start_m[1]
        assert shift == pytest.approx(sign * 0.1, abs=0.04)
        assert len(walk.trigger) < walk.trigger[-1]
        spacing = (walk.mid_m[-1, 1] - walk.mid_m[0, 1]) / (walk.trigger[-1] - walk.trigger[0])
        assert spacing == pytest.approx(sign * 0.051, abs=2e-4)


def test_model_imports_nothing_of_gridmap_but_the_writer():
    """The forward model must stay independent of the code it judges."""
    taken = set()
    for path in (ROOT / "benchmarks" / "simulate").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            names = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            names += [a.name for a in node.names] if isinstance(node, ast.Import) else []
            taken |= {n for n in names if n.split(".")[0] == "gridmap"}
    assert taken == {"gridmap.read.segy_write"}


def test_small_survey_s_is_the_same_twice_and_loads(tmp_path):
    """The speed survey gives the same bytes for the same scale, with a site file that is accepted."""
    counts = [make_survey_s.make(tmp_path / name, 2.0) for name in ("a", "b")]
    assert counts[0] == counts[1]
    assert counts[0][0] == 18
    for path in sorted((tmp_path / "a").rglob("*.*")):
        assert path.read_bytes() == (tmp_path / "b" / path.relative_to(tmp_path / "a")).read_bytes(), (
            path.name
        )
    assert len(load_site(tmp_path / "a" / "site.toml").lines) == 18


def test_shipped_demo_is_what_the_script_makes(tmp_path):
    """Site file and truth are the same bytes; samples agree to one count (processors round apart)."""
    segyio = pytest.importorskip("segyio")
    make_demo_survey.make(tmp_path)
    for name in ("site.toml", "ground.json"):
        assert (tmp_path / name).read_bytes() == (DEMO / name).read_bytes()
    made, shipped = (sorted((folder / "lines").glob("*.sgy")) for folder in (tmp_path, DEMO))
    assert [p.name for p in made] == [p.name for p in shipped]
    for a, b in zip(made, shipped, strict=True):
        with segyio.open(a, ignore_geometry=True) as one, segyio.open(b, ignore_geometry=True) as two:
            assert np.abs(one.trace.raw[:] - two.trace.raw[:]).max() <= 1


def test_shipped_demo_opens_in_another_library_with_the_promised_counts():
    """At most 4 MB; 39 lines, format 3, 200 samples of 200 ps, traces as the truth file counts them."""
    segyio = pytest.importorskip("segyio")
    truth = json.loads((DEMO / "ground.json").read_text())
    assert sum(p.stat().st_size for p in DEMO.rglob("*") if p.is_file()) <= 4_000_000
    files = sorted((DEMO / "lines").glob("*.sgy"))
    assert [p.stem for p in files] == [line["name"] for line in truth["lines"]]
    assert len(files) == 39
    for path, line in zip(files, truth["lines"], strict=True):
        with segyio.open(path, ignore_geometry=True) as file:
            assert file.tracecount == line["traces"]
            assert len(file.samples) == 200
            assert file.bin[segyio.BinField.Format] == 3
            assert file.bin[segyio.BinField.Interval] == 200
            data = file.trace.raw[:]
            triggers = file.attributes(segyio.TraceField.TraceNumber)[:]
        assert sorted(set(range(1, triggers[-1] + 1)) - set(triggers.tolist())) == line["dropped_triggers"]
        assert 0.3 * 32767 < np.abs(data).max() < 32767
        quiet = data[:, 150:].std(axis=1) < 1e-9
        assert not quiet.any()


def test_shipped_site_file_is_accepted_and_its_pegs_fit_the_truth():
    """The example that users read loads, states no velocity, and its pegs lie within 3 cm of the frame."""
    site = load_site(DEMO / "site.toml")
    frame = json.loads((DEMO / "ground.json").read_text())["frame"]
    turn = np.exp(1j * math.radians(frame["rotation_deg_x_axis_from_east_anticlockwise"]))
    origin = complex(*frame["origin_map_m"])
    for point in site.control:
        true = origin + turn * complex(point.x_m, point.y_m)
        assert abs(complex(point.easting_m, point.northing_m) - true) < 0.03
    assert site.ground.velocity_m_per_ns is None
    assert len(site.lines) == 39
    assert site.lines[1].start_m == (0.25, 7.5)


def echo_over_clutter(data, y_m, where_m, due_ns):
    """Strength at a place and time, over the median strength at that time along the line."""
    k = round(due_ns / 0.2)
    window = data[:, k - 4 : k + 5]
    near = np.abs(y_m - where_m) < 0.08
    return np.abs(np.median(window[near], axis=0)).max() / np.median(np.abs(window).max(axis=1))


@pytest.mark.parametrize(
    ("name", "aside_m", "low", "high"),
    [
        ("main", 0.0, 0.9, 1.0),
        ("main", 1.4, 0.0, 0.3),
        ("drain", 0.0, 0.7, 1.0),
        ("drain", -1.4, 0.0, 0.3),
        ("tank", 0.0, 1.0, 1.0),
        ("tank", -2.5, 0.0, 0.3),
    ],
)
def test_demo_lines_show_the_buried_things_where_the_truth_says(name, aside_m, low, high):
    """On most lines an echo stands twice above the clutter where and when the truth says, and not aside."""
    segyio = pytest.importorskip("segyio")
    truth = json.loads((DEMO / "ground.json").read_text())
    item = next(o for o in truth["objects"] if o["id"] == name)
    time_at = {float(d): t for d, t in truth["two_way_time_ns_at_depth_m"].items()}
    seen = []
    for line in truth["lines"]:
        (x, first), last = line["true_first_m"], line["true_last_m"][1]
        if name == "tank":
            if not 6.0 < x < 7.4:
                continue
            where, depth = np.mean([p[1] for p in item["outline_local_m"]]), item["depth_top_m"]
        else:
            (xa, ya, za), (xb, yb, zb) = item["axis_local_m"]
            share = (x - xa) / (xb - xa)
            where, depth = ya + share * (yb - ya), za + share * (zb - za) - item["radius_m"]
        with segyio.open(DEMO / "lines" / f"{line['name']}.sgy", ignore_geometry=True) as file:
            data = file.trace.raw[:].astype(float)
        data -= np.median(data, axis=0)
        data -= uniform_filter1d(data, 25, axis=1)
        due = np.interp(depth, list(time_at), list(time_at.values())) + line["time_zero_ns"]
        seen.append(echo_over_clutter(data, np.linspace(first, last, len(data)), where + aside_m, due) > 2)
    assert low <= np.mean(seen) <= high
