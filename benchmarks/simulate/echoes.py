"""Compiled sums: echoes of points, pipes and interfaces laid as spikes on a fine time axis."""

from __future__ import annotations

import math

import numba as nb
import numpy as np

from benchmarks.simulate.ground import LIGHT_M_PER_NS
from benchmarks.simulate.objects import Interface, Pipe, Points, Post, Scene

_GOLDEN = (math.sqrt(5) - 1) / 2


@nb.njit(inline="always")
def _look_up(table, step, depth, offset):
    """Bilinear value of a (depth, offset) table; the far edge is held."""
    i, j = depth / step, offset / step
    a = min(int(i), table.shape[0] - 2)
    b = min(int(j), table.shape[1] - 2)
    i, j = min(i - a, 1.0), min(j - b, 1.0)
    top = table[a, b] * (1 - j) + table[a, b + 1] * j
    low = table[a + 1, b] * (1 - j) + table[a + 1, b + 1] * j
    return top * (1 - i) + low * i


@nb.njit(inline="always")
def _lay(row, time, fine, strength):
    """Share a spike between its two neighbours on the time axis."""
    place = time / fine
    k = int(place)
    if 0 <= k < row.shape[0] - 1 and place >= 0:
        share = place - k
        row[k] += strength * (1 - share)
        row[k + 1] += strength * share


@nb.njit(inline="always")
def _both_ways(time, lost, step, sx, sy, rx, ry, x, y, z):
    """Time, nepers, distances and obliquity of source - point - receiver."""
    h1, h2 = math.hypot(x - sx, y - sy), math.hypot(x - rx, y - ry)
    d1, d2 = math.sqrt(h1 * h1 + z * z), math.sqrt(h2 * h2 + z * z)
    t = _look_up(time, step, z, h1) + _look_up(time, step, z, h2)
    a = _look_up(lost, step, z, h1) + _look_up(lost, step, z, h2)
    return t, a, d1, d2, z / math.sqrt(d1 * d2)


@nb.njit(parallel=True, cache=True)
def _add_points(spikes, shift, fine, src, rec, xyz, strength, time, lost, step, aperture):
    for n in nb.prange(spikes.shape[0]):
        row = spikes[n]
        mx, my = 0.5 * (src[n, 0] + rec[n, 0]), 0.5 * (src[n, 1] + rec[n, 1])
        for m in range(xyz.shape[0]):
            x, y, z = xyz[m, 0], xyz[m, 1], xyz[m, 2]
            near = ((x - mx) ** 2 + (y - my) ** 2) / aperture**2
            if near >= 1.0:
                continue
            t, a, d1, d2, slant = _both_ways(
                time, lost, step, src[n, 0], src[n, 1], rec[n, 0], rec[n, 1], x, y, z
            )
            fade = min(1.0, 4.0 * (1.0 - near))
            _lay(row, shift[n] + t, fine, strength[m] * fade * slant * math.exp(-a) / (d1 * d2))


@nb.njit(parallel=True, cache=True)
def _add_pipe(spikes, shift, fine, src, rec, a, b, radius, r1, r2, delay, v, dipole, time, lost, step):
    across = (b[0] - a[0]) * dipole[0] + (b[1] - a[1]) * dipole[1]
    length = math.hypot(b[0] - a[0], b[1] - a[1])
    # Dipoles couple best to a pipe that lies along them.
    coupling = 0.3 + 0.7 * (across / length) ** 2
    for n in nb.prange(spikes.shape[0]):
        sx, sy, rx, ry = src[n, 0], src[n, 1], rec[n, 0], rec[n, 1]
        low, high = 0.0, 1.0
        for _ in range(40):
            # Fermat: the specular point is where the path is shortest; golden section along the axis.
            p, q = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
            tp = _both_ways(
                time,
                lost,
                step,
                sx,
                sy,
                rx,
                ry,
                a[0] + p * (b[0] - a[0]),
                a[1] + p * (b[1] - a[1]),
                a[2] + p * (b[2] - a[2]),
            )[0]
            tq = _both_ways(
                time,
                lost,
                step,
                sx,
                sy,
                rx,
                ry,
                a[0] + q * (b[0] - a[0]),
                a[1] + q * (b[1] - a[1]),
                a[2] + q * (b[2] - a[2]),
            )[0]
            if tp < tq:
                high = q
            else:
                low = p
        s = 0.5 * (low + high)
        t, lose, d1, d2, slant = _both_ways(
            time,
            lost,
            step,
            sx,
            sy,
            rx,
            ry,
            a[0] + s * (b[0] - a[0]),
            a[1] + s * (b[1] - a[1]),
            a[2] + s * (b[2] - a[2]),
        )
        d = 0.5 * (d1 + d2)
        # A mirror cylinder: plane-mirror spreading 1/2d, times sqrt(radius / distance to its axis).
        size = coupling * slant * math.exp(-lose) / (2 * d) * math.sqrt(radius / d)
        t = shift[n] + t - 2 * radius / v
        _lay(spikes[n], t, fine, r1 * size)
        if r2 != 0.0:
            _lay(spikes[n], t + delay, fine, r2 * size)


@nb.njit(inline="always")
def _surface(x, y, depth, dip_x, dip_y, waves):
    h, gx, gy = depth + dip_x * x + dip_y * y, dip_x, dip_y
    for k in range(waves.shape[0]):
        angle = waves[k, 1] * x + waves[k, 2] * y + waves[k, 3]
        h += waves[k, 0] * math.cos(angle)
        gx -= waves[k, 0] * waves[k, 1] * math.sin(angle)
        gy -= waves[k, 0] * waves[k, 2] * math.sin(angle)
    return h, gx, gy


@nb.njit(parallel=True, cache=True)
def _add_interface(spikes, shift, fine, src, rec, depth, dip_x, dip_y, waves, r, time, lost, step):
    for n in nb.prange(spikes.shape[0]):
        mx, my = 0.5 * (src[n, 0] + rec[n, 0]), 0.5 * (src[n, 1] + rec[n, 1])
        x, y, z = mx, my, depth
        for _ in range(4):
            # Foot of the perpendicular from the mid-point on the plane that touches the interface there.
            h, gx, gy = _surface(x, y, depth, dip_x, dip_y, waves)
            under = (h + gx * (mx - x) + gy * (my - y)) / (1 + gx * gx + gy * gy)
            x, y, z = mx - gx * under, my - gy * under, under
        t, a, d1, d2, _ = _both_ways(time, lost, step, src[n, 0], src[n, 1], rec[n, 0], rec[n, 1], x, y, z)
        _lay(spikes[n], shift[n] + t, fine, r * math.exp(-a) / (d1 + d2))


def add_points(spikes, shift_ns, fine_ns, src, rec, points: Points, scene: Scene, aperture_m: float) -> None:
    """Add the echoes of point scatterers within `aperture_m` to `spikes` (trace, fine sample)."""
    ground = scene.ground
    low, high = np.minimum(src, rec).min(0) - aperture_m, np.maximum(src, rec).max(0) + aperture_m
    near = np.all((points.xyz_m[:, :2] > low) & (points.xyz_m[:, :2] < high), axis=1)
    if near.any():
        _add_points(
            spikes,
            shift_ns,
            fine_ns,
            src,
            rec,
            points.xyz_m[near],
            points.strength[near],
            ground.time_ns,
            ground.absorption_np,
            ground.step_m,
            aperture_m,
        )


def add_pipe(spikes, shift_ns, fine_ns, src, rec, pipe: Pipe, scene: Scene, dipole) -> None:
    """Add the echo of a pipe's near wall, and of its far wall where it has one."""
    ground = scene.ground
    a, b = np.array(pipe.start), np.array(pipe.end)
    second = 0.0 if pipe.inside_permittivity is None else -pipe.far_wall_share * pipe.reflection
    _add_pipe(
        spikes,
        shift_ns,
        fine_ns,
        src,
        rec,
        a,
        b,
        pipe.radius_m,
        pipe.reflection,
        second,
        pipe.far_wall_delay_ns,
        ground.velocity_at(0.5 * (a[2] + b[2])),
        np.asarray(dipole, float),
        ground.time_ns,
        ground.absorption_np,
        ground.step_m,
    )


def add_interface(spikes, shift_ns, fine_ns, src, rec, interface: Interface, scene: Scene) -> None:
    """Add the mirror echo of an interface."""
    ground = scene.ground
    _add_interface(
        spikes,
        shift_ns,
        fine_ns,
        src,
        rec,
        interface.depth_m,
        interface.dip_x,
        interface.dip_y,
        interface.waves,
        interface.reflection,
        ground.time_ns,
        ground.absorption_np,
        ground.step_m,
    )


def add_post(spikes, shift_ns, fine_ns, src, rec, post: Post) -> None:
    """Add the air-wave echo of a post: path over 0.2998 m/ns."""
    place = np.array([post.x_m, post.y_m])
    d1, d2 = (np.hypot(*(p - place).T) for p in (src, rec))
    where = (shift_ns + (d1 + d2) / LIGHT_M_PER_NS) / fine_ns
    k = where.astype(int)
    share = where - k
    strength = post.strength / np.sqrt(d1 * d2)
    good = k < spikes.shape[1] - 1
    rows = np.flatnonzero(good)
    spikes[rows, k[good]] += (strength * (1 - share))[good]
    spikes[rows, k[good] + 1] += (strength * share)[good]
