"""Draw docs/pictures/condition_*.png: each conditioning step before and after, with spectra, from the demo survey.

Usage: PYTHONPATH=. python scripts/draw_conditioning.py [FOLDER]
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
from PIL import Image

from gridmap.condition.background import common_background, flat_part, remove_background
from gridmap.condition.band import suggest_band
from gridmap.condition.deconvolution import prediction_filter, take_off_predicted
from gridmap.condition.dewow import dewow
from gridmap.condition.faulty import faulty_traces
from gridmap.condition.gain import decay_gain, fit_decay, mean_square
from gridmap.condition.nearfield import direct_wave
from gridmap.condition.noise import noise_floor
from gridmap.condition.picture_gain import automatic_gain
from gridmap.condition.recipe import choose_recipe, prepare_line
from gridmap.condition.repair import fill_dead, repair_spikes
from gridmap.condition.ringing import line_tones
from gridmap.condition.spectrum import to_time_zero
from gridmap.condition.timezero import POINTS, direct_wave_lag_ns, pick_direct_wave_ns
from gridmap.model import Float32, PlacedLine
from gridmap.read.sniff import read_line
from gridmap.site.load import load_site

ROOT = Path(__file__).parent.parent
SHOWN = "B012"


def draw(
    path: Path,
    title: str,
    panels: list[tuple[str, Float32, float]],
    dt: float,
    along: np.ndarray,
    lines: Callable[[plt.Axes], None] | None = None,
) -> None:
    """Draw radargrams side by side and, at the right, their mean amplitude spectra or what `lines` draws."""
    figure, axes = plt.subplots(
        1, len(panels) + 1, figsize=(9.6, 3.2), width_ratios=[*[1.0] * len(panels), 0.9], layout="constrained"
    )
    for axis, (name, traces, limit) in zip(axes, panels, strict=False):
        axis.imshow(
            traces.T, cmap="gray", vmin=-limit, vmax=limit, aspect="auto", interpolation="nearest",
            extent=(along[0], along[-1], dt * traces.shape[1], 0),
        )  # fmt: skip
        axis.set(title=name, xlabel="along the line, m", ylabel="time, ns")
    if lines is not None:
        lines(axes[-1])
    else:
        for name, traces, _ in panels:
            spectrum = np.sqrt(np.mean(np.abs(np.fft.rfft(traces, 1024, axis=1)) ** 2, axis=0))
            mhz = np.fft.rfftfreq(1024, dt * 1e-3)
            axes[-1].semilogy(mhz, spectrum / spectrum.max(), label=name)
        axes[-1].set(
            title="spectrum", xlabel="MHz", ylabel="share of the strongest", xlim=(0, 1200), ylim=(1e-4, 1.5)
        )
        axes[-1].legend(fontsize=7)
    figure.suptitle(title, fontsize=10)
    figure.savefig(path, dpi=90)
    plt.close(figure)
    Image.open(path).convert("RGB").quantize(160, dither=Image.Dither.NONE).save(path, optimize=True)


def main(folder: Path) -> None:
    """Draw all."""
    folder.mkdir(parents=True, exist_ok=True)
    site = load_site(ROOT / "gridmap" / "demo_data" / "site.toml")
    raw = [read_line(p.file, name=p.name, sample_interval_ns=0.2) for p in site.lines]
    dt, f = raw[0].sample_interval_ns, site.antenna.frequency_mhz
    recipe = choose_recipe(f, site.antenna.separation_m, dt)
    period = recipe.period_ns
    shown = next(i for i, line in enumerate(raw) if line.name == SHOWN)
    x = raw[shown].traces
    along = np.linspace(0, 7.5, len(x))
    wave = float(np.abs(np.median(x, axis=0)).max())

    def picture(name: str) -> Path:
        return folder / f"condition_{name}.png"

    def waves(axis: plt.Axes) -> None:
        at, field = direct_wave(f, site.antenna.separation_m)
        median = np.median(x, axis=0)
        zero = pick_direct_wave_ns(x, dt, 0.5) - recipe.direct_wave_lag_ns
        size = np.abs(median).max()
        axis.plot(dt * np.arange(len(median)) - zero, median / size, label="median trace")
        axis.plot(
            at,
            field * np.sign(median[np.abs(median).argmax()]) / field[np.abs(field).argmax()],
            "--",
            label="model",
        )
        for name, share in POINTS.items():
            lag = direct_wave_lag_ns(f, site.antenna.separation_m, share=share)
            axis.axvline(lag, color="gray", lw=0.7)
            axis.text(lag, 1.05, name, fontsize=6, rotation=45)
        axis.set(title="direct wave", xlabel="time from time zero, ns", xlim=(-3, 4), ylim=(-1.2, 1.6))
        axis.legend(fontsize=7)

    samples = int((x.shape[1] - 1) * dt - 4)
    zero = pick_direct_wave_ns(x, dt, 0.5) - recipe.direct_wave_lag_ns
    moved = to_time_zero(dewow(x, dt, recipe.dewow_ns), dt, zero, int(samples / dt), None)
    draw(picture("time_zero"), f"Time zero, line {SHOWN}",
         [("as recorded", x[:, :75], wave), ("from time zero", moved[:, :75], wave)], dt, along, waves)  # fmt: skip

    spoilt = x.copy()
    rng = np.random.default_rng(1)
    spoilt[rng.integers(0, len(x), 60), rng.integers(20, x.shape[1] - 5, 60)] += wave * rng.normal(
        size=60
    ).astype(np.float32)
    dead = np.zeros(len(x), bool)
    dead[[30, 75, 110]] = True
    spoilt[dead] = 0
    before = dewow(spoilt, dt, recipe.dewow_ns)
    mended, _ = repair_spikes(spoilt, dt, 0.125 * period)
    mended, _ = fill_dead(dewow(mended, dt, recipe.dewow_ns), dead, along, 0.12, 40, 0.3)
    draw(picture("repair"), "Spikes and dead traces laid on on purpose, and mended",
         [("spoilt", before, 0.03 * wave), ("mended", mended, 0.03 * wave)], dt, along)  # fmt: skip

    swept = dewow(x, dt, recipe.dewow_ns)
    draw(picture("dewow"), "Dewow over four periods",
         [("as recorded", x, 0.05 * wave), ("dewowed", swept, 0.05 * wave)], dt, along)  # fmt: skip

    early = round((pick_direct_wave_ns(x, dt) + period) / dt)
    evidence = suggest_band(swept[~faulty_traces(swept, early), early:], dt, f)

    def bands(axis: plt.Axes) -> None:
        top = evidence.echo.max()
        axis.semilogy(evidence.frequency_mhz, evidence.echo / top, label="echoes")
        axis.semilogy(evidence.frequency_mhz, evidence.noise / top, label="noise")
        for (low, high), style, name in (
            (evidence.corners_mhz, ":", "from the data"),
            (recipe.band_mhz, "--", "antenna's"),
        ):
            axis.axvline(low, ls=style, color="k", lw=0.8, label=name)
            axis.axvline(high, ls=style, color="k", lw=0.8)
        axis.set(
            title="spectrum and corners",
            xlabel="MHz",
            ylabel="share of the strongest",
            xlim=(0, 1200),
            ylim=(1e-3, 1.5),
        )
        axis.legend(fontsize=7)

    passed = to_time_zero(swept, dt, 0.0, x.shape[1], evidence.corners_mhz)
    draw(picture("band"), "Zero-phase band-pass, corners suggested from the data",
         [("dewowed", swept, 0.02 * wave), ("band-passed", passed, 0.02 * wave)], dt, along, bands)  # fmt: skip

    clean = []
    for line in raw:
        place = np.linspace(0, 7.5, len(line.traces))
        clean.append(prepare_line(PlacedLine(line, np.stack([place, 0 * place], axis=1), place), recipe))
    count = min(c.traces.shape[1] for c in clean)
    flat = np.array([flat_part(c.traces[c.usable, :count]) for c in clean])
    common = np.median(flat, axis=0).astype(np.float32)
    rates, tones = line_tones(flat, common, dt, recipe.decay_from_ns, recipe.band_mhz)
    line = clean[shown].traces[:, :count]

    def tone_lines(axis: plt.Axes) -> None:
        axis.plot(flat[shown] - common, dt * np.arange(count), label="flat part")
        axis.plot(tones[shown], dt * np.arange(count), label="tones")
        axis.set(title="flat part of the line", ylabel="time, ns", ylim=(dt * count, 0), xlim=(-0.02, 0.02))
        axis.legend(fontsize=7)

    tuned = line - common
    mhz = ", ".join(f"{v:.0f}" for v in rates.imag / (2 * np.pi) * 1e3)
    draw(picture("tones"), f"Long tones of the antenna ({mhz or 'none'} MHz); common background off on both",
         [("with tones", tuned, 0.02), ("without", tuned - tones[shown], 0.02)], dt, along, tone_lines)  # fmt: skip

    background = common_background(flat, round(period / dt) | 1)
    removed = remove_background(line, along, recipe.background_m, background)
    removed[~clean[shown].usable] = 0
    draw(picture("background"), "Background removal, guarded by what lines usually differ by",
         [("with background", line, 0.02), ("without", removed, 0.02)], dt, along)  # fmt: skip

    every = [
        remove_background(c.traces[:, :count], np.linspace(0, 7.5, len(c.traces)), 5.0, background)
        for c in clean
    ]
    rms = np.sqrt(np.mean([mean_square(e[c.usable]) for e, c in zip(every, clean, strict=True)], axis=0))
    time = dt * np.arange(count)
    decay = fit_decay(rms, time, recipe.decay_from_ns)
    gain = decay_gain(decay, time)
    noise = noise_floor(removed[clean[shown].usable], dt)

    def decays(axis: plt.Axes) -> None:
        axis.semilogy(time, rms, label="RMS of the survey")
        axis.semilogy(time, decay.amplitude(time), "--", label="fitted decay")
        axis.semilogy(time, noise.per_time, label="differs from trace to trace")
        axis.axhline(noise.level, color="k", ls=":", lw=0.8, label="noise floor")
        axis.set(title="decay and noise", xlabel="time, ns", ylim=(rms[20:].min() / 5, rms[20:].max() * 2))
        axis.legend(fontsize=7)

    gained = removed * gain
    limit = 3 * float(np.sqrt(np.mean(gained[:, 20:] ** 2)))
    draw(picture("gain"), "Spreading and absorption undone, as fitted to the survey",
         [("before gain", removed, 0.02), ("after", gained, limit)], dt, along, decays)  # fmt: skip
    loud = automatic_gain(removed, dt, 4 * period)
    draw(picture("picture_gain"), "Fitted gain against automatic gain (pictures only: relative strength is lost)",
         [("fitted gain", gained, limit), ("automatic gain", loud, 3.0)], dt, along)  # fmt: skip

    late = round(recipe.decay_from_ns / dt)
    taps = prediction_filter(gained[:, late:], dt, period, 2 * period)
    shorter = take_off_predicted(gained, taps, dt, period)
    draw(picture("deconvolution"), "Predictive deconvolution, gap one period (off in the recipes)",
         [("after gain", gained, limit), ("deconvolved", shorter, limit)], dt, along)  # fmt: skip
    for path in sorted(folder.glob("condition_*.png")):
        print(path, path.stat().st_size)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "docs" / "pictures")
