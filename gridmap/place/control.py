"""Fit the local grid to control points: a least-squares similarity, its residuals, and its refusals."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from gridmap.errors import PlaceError
from gridmap.model import Float64, Similarity
from gridmap.site.records import ControlPoint

SCALE_LIMIT = 0.01
"""Largest departure of the scale from 1 that is taken for tape and map projection (trade practice: 1 %)."""

_SAME_M = 0.001
_UNITS = (
    (0.3048, "feet"),
    (0.9144, "yards"),
    (0.01, "centimetres"),
    (0.001, "millimetres"),
    (1000.0, "kilometres"),
)


@dataclass(frozen=True, slots=True)
class ControlFit:
    """How well the local grid lies on the map.

    Attributes
    ----------
    transform : Similarity
        Local grid to map.
    names : tuple of str
        The control points, in the order given.
    residuals_m : (point, 2) float64
        Easting and northing as given minus as fitted, metres.
    rms_m : float
        Root of the mean squared length of the residuals, metres; 0 with two points, which are no check.
    warnings : tuple of str
        What a person should look at, one or two sentences each, the worst misfit first.
    """

    transform: Similarity
    names: tuple[str, ...]
    residuals_m: Float64
    rms_m: float
    warnings: tuple[str, ...] = ()


def fit_similarity(control: Sequence[ControlPoint], limit_cm: float = 5.0) -> ControlFit:
    """Fit shift, turn and one scale (two-dimensional Helmert, no reflection) by least squares.

    Parameters
    ----------
    control : sequence of ControlPoint
        Two or more points known in the local grid and in the map.
    limit_cm : float
        A residual longer than this is warned about, centimetres.

    Returns
    -------
    ControlFit
        Transform, residuals and warnings.

    Raises
    ------
    PlaceError
        Fewer than two points; two points in one place; a mirrored grid; a scale more than 1 % off 1.

    Notes
    -----
    With p = x + iy and q = E + iN about their means, the best q = c p has c = sum(conj(p) q) / sum(|p|^2),
    and c = a + ib are the a and b of `Similarity`: the normal equations of the four-parameter
    transformation as survey textbooks give them (such as Ghilani, Adjustment Computations, chapter 18;
    from memory). A mirrored grid is one that q = c conj(p) fits much better.
    """
    names = tuple(point.name for point in control)
    if len(control) < 2:
        raise PlaceError(
            f"{len(control)} control point{'' if len(control) == 1 else 's'} cannot place the grid on the"
            " map. Give two or more, better four at the corners."
        )
    _refuse_coincident(control)
    xy = np.array([[point.x_m, point.y_m] for point in control], dtype=np.float64)
    en = np.array([[point.easting_m, point.northing_m] for point in control], dtype=np.float64)
    transform = _solve(xy, en)
    residuals = en - transform.to_map(xy)
    rms_m = float(np.sqrt((residuals**2).sum(axis=1).mean()))
    _refuse_mirrored(xy, en, names, rms_m, limit_cm)
    _refuse_scale(xy, en, names, transform.scale, limit_cm)
    return ControlFit(transform, names, residuals, rms_m, _warnings(xy, en, names, residuals, limit_cm))


def _solve(xy: Float64, en: Float64) -> Similarity:
    middle, target = xy.mean(axis=0), en.mean(axis=0)
    p, q = _complex(xy), _complex(en)
    c = np.vdot(p, q) / np.vdot(p, p).real
    a, b = float(c.real), float(c.imag)
    return Similarity(
        e0_m=float(target[0] - a * middle[0] + b * middle[1]),
        n0_m=float(target[1] - b * middle[0] - a * middle[1]),
        a=a,
        b=b,
    )


def _complex(points: Float64) -> np.ndarray[tuple[int], np.dtype[np.complex128]]:
    centred = points - points.mean(axis=0)
    return np.asarray(centred[:, 0] + 1j * centred[:, 1])


def _mirrored_rms_m(xy: Float64, en: Float64) -> float:
    p, q = np.conj(_complex(xy)), _complex(en)
    c = np.vdot(p, q) / np.vdot(p, p).real
    return float(np.sqrt((np.abs(q - c * p) ** 2).mean()))


def _refuse_coincident(control: Sequence[ControlPoint]) -> None:
    for one in control:
        if not all(map(math.isfinite, (one.x_m, one.y_m, one.easting_m, one.northing_m))):
            raise PlaceError(
                f"control point {one.name} holds no finite number. Correct its local_m or map_m."
            )
    for one, other in combinations(control, 2):
        if math.hypot(one.x_m - other.x_m, one.y_m - other.y_m) < _SAME_M:
            where = f"the same place in the grid, x {one.x_m:g} m, y {one.y_m:g} m"
        elif math.hypot(one.easting_m - other.easting_m, one.northing_m - other.northing_m) < _SAME_M:
            where = f"the same place in the map, {one.easting_m:.3f}, {one.northing_m:.3f}"
        else:
            continue
        raise PlaceError(
            f"control points {one.name} and {other.name} have {where}. Correct one of them or take it out."
        )


def _refuse_mirrored(xy: Float64, en: Float64, names: tuple[str, ...], rms_m: float, limit_cm: float) -> None:
    if len(names) < 3 or rms_m <= 2 * limit_cm / 100 or _mirrored_rms_m(xy, en) > rms_m / 4:
        return
    raise PlaceError(
        f"control points {', '.join(names)} fit only a mirrored grid (misfit {rms_m:.2f} m, mirrored"
        f" {_mirrored_rms_m(xy, en):.2f} m). Either the two numbers of local_m or of map_m are swapped (x"
        " then y, easting then northing), or y was laid out to the right of x: it must run to the left, seen"
        " along x."
    )


def _refuse_scale(xy: Float64, en: Float64, names: tuple[str, ...], scale: float, limit_cm: float) -> None:
    if abs(scale - 1.0) <= SCALE_LIMIT:
        return
    unit = next((unit for factor, unit in _UNITS if abs(scale / factor - 1.0) < 2 * SCALE_LIMIT), None)
    back = next((unit for factor, unit in _UNITS if abs(scale * factor - 1.0) < 2 * SCALE_LIMIT), None)
    suspect = _suspect(xy, en, names, limit_cm)
    if unit:
        cause = f"The local grid looks as if it were in {unit}: write metres in local_m."
    elif back:
        cause = f"The map co-ordinates look as if they were in {back}: write metres in map_m."
    elif suspect:
        cause = f"Without point {suspect} the others fit: look there for a mistyped or swapped number."
    else:
        cause = "Look for a mistyped number in local_m or map_m, or for feet among metres."
    raise PlaceError(
        f"one metre in the grid is {scale:.4f} m in the map by control points {', '.join(names)}; "
        f"more than 1 % off is refused. {cause}"
    )


def _suspect(xy: Float64, en: Float64, names: tuple[str, ...], limit_cm: float) -> str | None:
    """Return the one point without which all others fit; None where there is none, or more than one."""
    if len(names) < 3:
        return None
    found = []
    for index in range(len(names)):
        keep = np.arange(len(names)) != index
        rest = _solve(xy[keep], en[keep])
        worst = np.hypot(*(en[keep] - rest.to_map(xy[keep])).T).max()
        if abs(rest.scale - 1.0) <= SCALE_LIMIT and worst <= limit_cm / 100:
            found.append(names[index])
    return found[0] if len(found) == 1 else None


def _warnings(
    xy: Float64, en: Float64, names: tuple[str, ...], residuals: Float64, limit_cm: float
) -> tuple[str, ...]:
    if len(names) == 2:
        return (
            (
                f"two control points ({names[0]} and {names[1]}) place the grid but check nothing, not even"
                " which side y lies on. Measure a third, better four."
            ),
        )
    warnings = []
    miss_cm = 100 * np.hypot(*residuals.T)
    if miss_cm.max() > limit_cm:
        suspect = _suspect(xy, en, names, limit_cm) if len(names) > 3 else None
        warnings = [
            f"control point {names[index]} misses its place by {miss_cm[index]:.1f} cm (limit {limit_cm:g}"
            " cm). Check its numbers, or measure it again."
            for index in np.argsort(-miss_cm)
            if miss_cm[index] > limit_cm
        ]
        if suspect:
            warnings.append(
                f"without control point {suspect} all others fit within {limit_cm:g} cm: check it first."
            )
    spread = np.linalg.svd(xy - xy.mean(axis=0), compute_uv=False)
    if spread[1] < 0.01 * spread[0]:
        warnings.append(
            f"control points {', '.join(names)} lie in one row, which does not show on which side y lies. "
            "Measure one away from the row."
        )
    return tuple(warnings)
