"""How much each cause makes a plain hyperbola fit read fast: full-wave echoes of one pipe, picked at envelope peaks.

python -m benchmarks.velocity_causes
"""

from __future__ import annotations

import numpy as np
from scipy.optimize import least_squares
from scipy.signal import hilbert

from benchmarks.simulate.ground import Layer
from benchmarks.simulate.layered_field import Buried, Echoes
from benchmarks.simulate.pulse import ricker_spectrum

MHZ, SEPARATION_M, INTERVAL_NS = 280.0, 0.15, 0.1


def fitted(
    layers: tuple[Layer, ...],
    height_m: float,
    depth_m: float,
    radius_m: float,
    half_m: float,
    air: bool = True,
) -> float:
    """Velocity of straight rays through the picked peaks of a metal pipe's hyperbola, m/ns; `air` False: no surface."""
    x = np.arange(-half_m, half_m + 1e-9, 0.05)
    samples = 1024
    frequency = np.fft.rfftfreq(samples, INTERVAL_NS)
    use = (frequency > 0.04) & (frequency < 0.8)
    ghz = frequency[use]
    thing = Buried((0.0, 0.0), depth_m + radius_m, radius_m, None, (1.0, 0.0))
    table = Echoes(thing, ghz, layers, height_m, 2.0)
    if not air:
        v = layers[0].velocity_m_per_ns
        k = 2 * np.pi * ghz / v
        table.table = np.broadcast_to(
            np.sqrt(2 / np.pi / (k[:, None] * table.distance)), table.table.shape
        ).astype(complex)
    at = np.stack([np.zeros_like(x), x], axis=1)
    ahead = np.array([0.0, SEPARATION_M / 2])
    echo = table.at(at - ahead, at + ahead)
    spectrum = np.zeros((len(frequency), len(x)), complex)
    spectrum[use] = ricker_spectrum(ghz, 1e-3 * MHZ)[:, None] * echo
    size = np.abs(hilbert(np.fft.irfft(np.conj(spectrum), samples, axis=0), axis=0))
    k = size.argmax(axis=0)
    columns = np.arange(len(x))
    a, b, c = size[k - 1, columns], size[k, columns], size[k + 1, columns]
    time = (k + 0.5 * (a - c) / (a - 2 * b + c)) * INTERVAL_NS

    def misfit(p):
        v, t0 = p
        z = 0.5 * v * t0
        legs = np.hypot(x - SEPARATION_M / 2, z) + np.hypot(x + SEPARATION_M / 2, z)
        return legs / v - time

    return float(least_squares(misfit, [0.1, time.min()]).x[0])


def main() -> None:
    """Print a row for each cause: how fast the fit reads against the mean velocity down to the pipe."""
    even = (Layer("even", 9.0, 9.0, 3.0),)
    rows = [("no surface, thin pipe, even ground", even, 0.025, 0.012, False)]
    rows += [("no surface, pipe of 10 cm", even, 0.025, 0.05, False)]
    rows += [
        (f"antennas {100 * h:.1f} cm up, thin pipe", even, h, 0.012, True) for h in (0.005, 0.025, 0.05, 0.1)
    ]
    for name, top, low in (("fast over slow", 0.1176, 0.1028), ("slow over fast", 0.0904, 0.1047)):
        layers = tuple(Layer(name, 0.32, (0.299792458 / v) ** 2, 3.0) for v in (top, low))
        rows += [(f"2.5 cm up, {name}", layers, 0.025, 0.012, True)]
    print("cause | 0.5 m, out to 0.6 m | 0.8 m, out to 0.6 m | 0.8 m, out to 0.3 m")
    for name, layers, height, radius, air in rows:
        out = []
        for depth, half in ((0.5, 0.6), (0.8, 0.6), (0.8, 0.3)):
            ns, top = 0.0, 0.0
            for k, layer in enumerate(layers):
                base = depth if k == len(layers) - 1 else min(depth, top + layer.thickness_m)
                ns += (base - top) / layer.velocity_m_per_ns
                top = base
            out.append(100 * (fitted(layers, height, depth, radius, half, air) / (depth / ns) - 1))
        print(name, *(f"{v:+.1f} %" for v in out), sep=" | ")


if __name__ == "__main__":
    main()
