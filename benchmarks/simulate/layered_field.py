"""Full-wave echoes of pipes and stones under layers: exact plane-wave sums, nothing of rays.

A line source in the air over flat layers, electric field along the source, is summed from plane waves
(Wait, Geo-electromagnetism, 1982; layers by the recursion of Chew, Waves and Fields in Inhomogeneous Media,
1990, section 2.1 [memory]). Pipes answer with the series for a cylinder (Balanis 1989, section 11.5 [memory]),
stones as the square of frequency (Rayleigh). The wave straight from antenna to antenna is that of a dipole over
the ground (Sommerfeld). Time goes as exp(-i w t).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import h1vp, hankel1, jv, jvp

from benchmarks.simulate.ground import LIGHT_M_PER_NS, Layer

_MU0_NS = 4e-7 * np.pi * 1e9  # henry per metre in (volt nanosecond per ampere metre)


def _root(square):
    root = np.sqrt(square + 0j)
    return np.where(root.imag < 0, -root, root)


def _wave_numbers(ghz: float, layers: tuple[Layer, ...]) -> np.ndarray:
    """Squared wave numbers of air and of each layer, with conduction."""
    w = 2 * np.pi * ghz
    return np.array(
        [(w / LIGHT_M_PER_NS) ** 2 + 0j]
        + [
            w * w * a.permittivity / LIGHT_M_PER_NS**2 + 1j * w * _MU0_NS * a.conductivity_ms_per_m * 1e-3
            for a in layers
        ]
    )


def field_at(
    ghz: float, layers: tuple[Layer, ...], height_m: float, depth_m: float, offset_m: np.ndarray
) -> np.ndarray:
    """Field (offset,) at a depth below a line source `height_m` above layered ground."""
    squares = _wave_numbers(ghz, layers)
    air, fastest = np.sqrt(squares[0].real), np.sqrt(squares.real.max())
    s = np.linspace(0.0, fastest + 9.0 / (depth_m + height_m), 1201)
    step = s[1] - s[0]
    bend = 0.3 / max(float(offset_m.max()), 0.3)
    t = np.tanh(4 * s / air)
    k = s - 1j * bend * t
    weight = np.full(s.shape, step)
    weight[1:-1:2] *= 4 / 3
    weight[2:-1:2] *= 2 / 3
    weight[[0, -1]] /= 3
    weight = weight * (1 - 1j * bend * (1 - t * t) * 4 / air)
    vertical = [_root(q - k * k) for q in squares]
    tops = np.concatenate([[0.0], np.cumsum([a.thickness_m for a in layers[:-1]])])
    own = int(np.searchsorted(tops, depth_m, side="right"))  # index into `vertical`
    thick = [0.0] + [a.thickness_m for a in layers]
    below = [np.zeros_like(k)] * (len(layers) + 1)  # reflection at the base of each medium, seen from above
    echo = np.zeros_like(k)  # reflection of medium j + 1's base, brought to its top
    steps = [None] * (len(layers) + 1)
    for j in range(len(layers) - 1, -1, -1):
        r = (vertical[j] - vertical[j + 1]) / (vertical[j] + vertical[j + 1])
        below[j] = (r + echo) / (1 + r * echo)
        steps[j] = (1 + r) / (1 + r * echo)
        echo = below[j] * np.exp(2j * vertical[j] * thick[j])
    down = np.exp(1j * vertical[0] * height_m) * 1j / (2 * vertical[0]) * steps[0]
    for j in range(1, own):
        down = down * np.exp(1j * vertical[j] * thick[j]) * steps[j]
    into = depth_m - tops[own - 1]
    field = np.exp(1j * vertical[own] * into)
    if own < len(layers):
        field = field + below[own] * np.exp(1j * vertical[own] * (2 * thick[own] - into))
    return np.cos(offset_m[:, None] * k) @ (down * field * weight) / np.pi


def cylinder_echo(ghz: np.ndarray, v: float, radius_m: float, permittivity: float | None) -> np.ndarray:
    """Backscatter (frequency,) of a cylinder, referred to its axis; permittivity None: metal."""
    x = 2 * np.pi * ghz / v * radius_m
    out = np.zeros(len(x), complex)
    for n in range(int(x.max()) + 9):
        with np.errstate(all="ignore"):
            if permittivity is None:
                c = -jv(n, x) / hankel1(n, x)
            else:
                m = np.sqrt(permittivity) * v / LIGHT_M_PER_NS
                up = m * jvp(n, m * x) * jv(n, x) - jv(n, m * x) * jvp(n, x)
                c = -up / (m * jvp(n, m * x) * hankel1(n, x) - jv(n, m * x) * h1vp(n, x))
        out += (1 if n == 0 else 2) * (-1) ** n * np.where(np.isfinite(c), c, 0)
    return out


def direct_wave(ghz: np.ndarray, v: float, height_m: float, separation_m: float) -> np.ndarray:
    """Field (frequency,) of a dipole over ground of velocity v, broadside, at the other antenna."""
    out = np.zeros(len(ghz), complex)
    for i, f in enumerate(ghz):
        k0, k1 = 2 * np.pi * f / LIGHT_M_PER_NS, 2 * np.pi * f / v
        x = k0 * separation_m
        free = np.exp(1j * x) / (4 * np.pi * separation_m) * (1 + 1j / x - 1 / x**2)
        s = np.linspace(1e-9, k1 + 14 / max(2 * height_m, 0.03), 3001)
        step = s[1] - s[0]
        k = s - 0.25j * k0 * np.tanh(4 * s / k0) * np.exp(-((s / (2 * k1)) ** 2))
        weight = np.full(s.shape, step) * np.gradient(k, step)
        weight[[0, -1]] *= 0.5
        a, b = _root(k0**2 - k * k), _root(k1**2 - k * k)
        te, tm = (a - b) / (a + b), ((k1 / k0) ** 2 * a - b) / ((k1 / k0) ** 2 * a + b)
        j0, j1 = jv(0, k * separation_m), jv(1, k * separation_m) / (k * separation_m)
        kernel = k / a * ((j0 - j1) * te - j1 * (a / k0) ** 2 * tm) * np.exp(2j * a * height_m)
        out[i] = free + 1j / (4 * np.pi) * np.sum(kernel * weight)
    return out


@dataclass(frozen=True, slots=True)
class Buried:
    """A pipe crossed by the lines (`radius_m` above 0) or a stone (`radius_m` 0, `strength` in metres).

    `xy_m` is any point on it; `along` its unit direction (pipes only); `depth_m` that of its axis.
    """

    xy_m: tuple[float, float]
    depth_m: float
    radius_m: float = 0.0
    permittivity: float | None = None
    along: tuple[float, float] = (0.0, 0.0)
    strength: float = 1.0


class Echoes:
    """Spectra of the echo of one buried thing, tabled over the distance of an antenna from it."""

    def __init__(
        self, thing: Buried, ghz: np.ndarray, layers: tuple[Layer, ...], height_m: float, reach_m: float
    ):
        self.thing, self.reach_m, self.step_m = thing, reach_m, 0.02
        offset = np.arange(0.0, reach_m + 2 * self.step_m, self.step_m)
        tops = np.concatenate([[0.0], np.cumsum([a.thickness_m for a in layers[:-1]])])
        v = layers[int(np.searchsorted(tops, thing.depth_m, side="right")) - 1].velocity_m_per_ns
        self.distance = np.hypot(offset, thing.depth_m)
        self.k = 2 * np.pi * ghz / v
        plain = np.array([field_at(f, layers, height_m, thing.depth_m, offset) for f in ghz])
        # The straight wave is divided out, so that what is left may be interpolated.
        self.table = plain * np.exp(-1j * self.k[:, None] * self.distance)
        if thing.radius_m > 0:
            self.answer = cylinder_echo(ghz, v, thing.radius_m, thing.permittivity)
        else:
            self.answer = thing.strength * self.k**1.5

    def _one_way(self, offset):
        place = np.minimum(offset / self.step_m, self.table.shape[1] - 2.0)
        low = place.astype(int)
        share = place - low
        field = self.table[:, low] * (1 - share) + self.table[:, low + 1] * share
        r = np.hypot(offset, self.thing.depth_m)
        field = field * np.exp(1j * self.k[:, None] * r)
        return field / np.sqrt(r) if self.thing.radius_m == 0 else field

    def at(self, source_m: np.ndarray, receiver_m: np.ndarray) -> np.ndarray:
        """Echo (frequency, trace) at antenna positions (trace, 2)."""
        offsets = []
        for place in (source_m, receiver_m):
            d = place - np.array(self.thing.xy_m)
            if self.thing.radius_m > 0:
                u = np.array(self.thing.along)
                offsets.append(np.abs(d[:, 0] * u[1] - d[:, 1] * u[0]))
            else:
                offsets.append(np.hypot(d[:, 0], d[:, 1]))
        near = np.maximum(*offsets) < self.reach_m
        fade = np.clip(4 * (1 - np.maximum(*offsets) / self.reach_m), 0, 1)
        echo = self._one_way(offsets[0]) * self._one_way(offsets[1]) * self.answer[:, None]
        return echo * (near * fade)
