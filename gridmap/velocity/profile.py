"""Velocity against depth from the fitted hyperbolas: constant or two layers, weighed against each other.

Each target gives a root-mean-square velocity down to it. Every pair of velocities, every depth of the change
and every shared error of time is tried (Bayes on a grid: nothing is linearised, nothing gets stuck). A share
of the targets is allowed to be something else than a pipe or a stone: an edge, a bump in a layer, an echo of
an echo.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from gridmap.model import Float64, VelocityModel
from gridmap.velocity.hyperbola import RADIUS_SD_M, TIME_ZERO_SD_NS, HyperbolaFits
from gridmap.velocity.ties import TiePick

GROUND_MEDIAN_M_PER_NS, GROUND_LOG_SD = 0.10, 0.25
"""What is expected of moist to dry ground before any datum: 0.06 to 0.165 m/ns (two deviations)."""
CHANGE_LOG_SD = 0.2
"""Logarithm of the ratio of the lower to the upper velocity: one deviation."""
LAYERED_ODDS = 3.0
"""Two layers are used when the data make them this many times as likely as one: "positive" evidence on the scale of
Kass & Raftery (1995, JASA 90:773 [memory]). Odds of marginal likelihoods charge for the added numbers by themselves,
what the information criteria approximate."""
UNSEEN_LOG_SD = 0.11
"""Deviation of the logarithm of the velocity below the deepest target: one layer more."""
OTHER_TIE = 0.05
"""Share of ties whose echo is another's."""
KNOWN_M = np.array([0.0, 0.1, 0.2, 0.3, 0.45, 0.6, 0.8, 1.0, 1.3, 1.7, 2.2, 3.0])
"""Depths at which the deviation of depth is worked out, metres."""
OTHER_LINEAR, OTHER_POINT = 0.1, 0.3
"""Share of targets that are something else: rows on three lines or more, and single hyperbolas."""
SLANTED_POINT, SLANTED_PAIR, STEEPEST_DEG = 0.1, 0.6, 60.0
"""Share of lone hyperbolas that are a pipe crossed at an angle: of one line, with any angle up to the steepest;
of two neighbouring lines, with the angle that the two make. Such read too fast by 1 / cos(angle)."""
SITE_LOG_SD, TARGET_LOG_SD = 0.02, 0.02
"""What the travel-time model leaves: for the whole survey, and from target to target (uneven ground)."""
_LOG_COSINES = np.log(np.cos(np.radians(STEEPEST_DEG * (np.arange(9) + 0.5) / 9)))


@dataclass(frozen=True, slots=True)
class Targets:
    """Hyperbolas of one target joined; arrays over (target,).

    Attributes
    ----------
    time_ns, velocity_m_per_ns, log_sd : float64
        Mean time, mean velocity, and the deviation of its logarithm with the target's unknown size in it.
    pair_deg : float64
        Crossing angle if a target of two lines is a straight one; NaN: no pair.
    events, lines : int64
        Hyperbolas joined and lines that saw them.
    """

    time_ns: Float64
    velocity_m_per_ns: Float64
    log_sd: Float64
    pair_deg: Float64
    events: NDArray[np.int64]
    lines: NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Profile:
    """What the hyperbolas say.

    Attributes
    ----------
    mean_m_per_ns, sd_m_per_ns : float
        Mean velocity from the surface to 1 m and its standard deviation, layered ground allowed.
    model : VelocityModel
        One layer, or two where `layered_odds` reach `LAYERED_ODDS`.
    layered_odds : float
        How many times as likely two layers make the data as one.
    targets : Targets
        What went in.
    """

    mean_m_per_ns: float
    sd_m_per_ns: float
    model: VelocityModel
    layered_odds: float
    targets: Targets


def join_targets(fits: HyperbolaFits) -> Targets:
    """Join the accepted hyperbolas of each target by weighted mean.

    Returns
    -------
    Targets
        The deviation holds the fits' own, the ground's unevenness, and half the relative error of time that
        an unknown radius makes: v goes as the root of moveout times time, so d ln v = d t / (2 t).
    """
    rows = []
    for target in np.unique(fits.target[fits.accepted]):
        m = fits.accepted & (fits.target == target)
        v, sd, time = fits.velocity_m_per_ns[m], fits.sd_m_per_ns[m], fits.time_ns[m]
        weight = 1.0 / ((sd / v) ** 2 + TARGET_LOG_SD**2)
        log_v = float((weight * np.log(v)).sum() / weight.sum())
        mean_ns = float((weight * time).sum() / weight.sum())
        scatter = float((weight * (np.log(v) - log_v) ** 2).sum() / max(1, len(v) - 1))
        own = max(1.0, scatter) / weight.sum()
        radius = 0.5 * (2.0 * RADIUS_SD_M / np.exp(log_v)) / mean_ns
        log_sd = np.sqrt(own + radius**2 + TARGET_LOG_SD**2)
        pair = float(fits.pair_deg[m].min())
        rows.append((mean_ns, np.exp(log_v), log_sd, pair, len(v), len(np.unique(fits.line[m]))))
    table = np.array(rows, dtype=float).reshape(-1, 6)
    time_ns, velocity, log_sd, pair_deg, events, lines = table.T
    return Targets(time_ns, velocity, log_sd, pair_deg, events.astype(int), lines.astype(int))


def no_targets() -> Targets:
    """Return targets of length none, for ties alone."""
    none = np.zeros(0)
    return Targets(none, none, none, none, none.astype(int), none.astype(int))


def one_target(time_ns: float, velocity_m_per_ns: float, log_sd: float, events: int) -> Targets:
    """Return one target as seen by many lines, for what is not a row of hyperbolas."""
    one = [np.array([x]) for x in (time_ns, velocity_m_per_ns, log_sd, np.nan)]
    return Targets(one[0], one[1], one[2], one[3], np.array([events]), np.array([3]))


def fit_profile(
    targets: Targets,
    prior: tuple[float, float] | None = None,
    source: str = "hyperbolas",
    ties: Sequence[TiePick] = (),
) -> Profile:
    """Weigh constant and two-layer ground by the targets.

    Parameters
    ----------
    targets : Targets
        One or more.
    prior : (float, float) or None
        Mean velocity to 1 m expected before the data, and its deviation, metres per nanosecond; None: any
        ground.
    source : str
        Goes into the model.
    ties : sequence of TiePick
        Echoes of known depth; they count like the hyperbolas, and there may be no hyperbolas at all.

    Returns
    -------
    Profile
        Posterior mean and deviation of the mean velocity to 1 m; `SITE_LOG_SD` is added. The deviation of the depth
        of an echo at any time is that over all the grounds tried, with the time zero that goes with each.
    """
    upper, ratio, change_m, shift, weight = _grid()
    lower = upper * np.exp(ratio)
    change_ns = 2.0 * change_m / upper
    log_like = np.zeros(upper.shape)
    for t, v, sd, pair, lines in zip(
        targets.time_ns,
        targets.velocity_m_per_ns,
        targets.log_sd,
        targets.pair_deg,
        targets.lines,
        strict=True,
    ):
        above = np.minimum(t, change_ns)
        rms = np.sqrt((above * upper**2 + (t - above) * lower**2) / t)
        off = (np.log(v / rms) - 0.5 * shift / t) / sd
        straight = np.exp(-0.5 * off**2)
        if lines < 3:
            paired = not np.isnan(pair)
            turns = np.log(np.cos(np.radians([pair]))) if paired else _LOG_COSINES
            share = SLANTED_PAIR if paired else SLANTED_POINT
            slanted = np.mean([np.exp(-0.5 * (off + turn / sd) ** 2) for turn in turns], axis=0)
            straight = (1.0 - share) * straight + share * slanted
        other = OTHER_LINEAR if lines >= 3 else OTHER_POINT
        likely = (1.0 - other) * straight / sd + other * np.sqrt(2 * np.pi) / np.log(0.18 / 0.05)
        log_like += np.log(likely)
    for tie in ties:
        time = _two_way_ns(tie.depth_m, upper, lower, change_m)
        sd_ns = float(np.hypot(tie.time_sd_ns, 2.0 * tie.depth_sd_m / tie.velocity_m_per_ns))
        off = (tie.time_ns + shift - time) / sd_ns
        log_like += np.log((1.0 - OTHER_TIE) * np.exp(-0.5 * off**2) / sd_ns + OTHER_TIE / tie.time_ns)
    mean = 2.0 / _two_way_ns(1.0, upper, lower, change_m)
    centre, spread = (
        (GROUND_MEDIAN_M_PER_NS, GROUND_LOG_SD) if prior is None else (prior[0], prior[1] / prior[0])
    )
    weight = weight * np.exp(-0.5 * (np.log(mean / centre) / spread) ** 2)
    posterior = weight * np.exp(log_like - log_like.max())
    one = ratio == 0.0
    odds = (posterior[~one].sum() / weight[~one].sum()) / (posterior[one].sum() / weight[one].sum())
    posterior = posterior / posterior.sum()
    log_mean = float((posterior * np.log(mean)).sum())
    log_sd = float(np.sqrt((posterior * (np.log(mean) - log_mean) ** 2).sum() + SITE_LOG_SD**2))
    value = float(np.exp(log_mean))
    sd_value = value * log_sd
    top_m, velocity = np.zeros(1), np.array([value])
    if odds >= LAYERED_ODDS:
        depth = float((posterior * change_m)[~one].sum() / posterior[~one].sum())
        top = float(np.exp((posterior * np.log(upper))[~one].sum() / posterior[~one].sum()))
        below = (1.0 - depth) / (1.0 / value - depth / top) if depth < 0.7 else float("nan")
        if not 0.5 < below / top < 2.0:
            below = float(np.exp((posterior * np.log(lower))[~one].sum() / posterior[~one].sum()))
        top_m, velocity = np.array([0.0, depth]), np.array([top, below])
    plain = VelocityModel(top_m, velocity, sd_value, source)
    # Below the deepest thing that was seen nobody knows.
    deepest = max(
        [tie.depth_m for tie in ties]
        + [0.5 * t * v for t, v in zip(targets.time_ns, targets.velocity_m_per_ns, strict=True)],
        default=0.0,
    )
    sd_value = value * float(np.hypot(log_sd, UNSEEN_LOG_SD * max(0.0, 1.0 - deepest)))
    plain = replace(plain, sd_m_per_ns=sd_value)
    known = np.array(
        [
            _depth_sd_m(float(plain.two_way_ns(z)), float(z), posterior, upper, lower, change_m, shift)
            for z in KNOWN_M
        ]
    )
    known = np.hypot(known, UNSEEN_LOG_SD * np.maximum(0.0, KNOWN_M - deepest))
    model = VelocityModel(top_m, velocity, sd_value, source, KNOWN_M, known)
    return Profile(value, sd_value, model, float(odds), targets)


def _two_way_ns(depth_m: float, upper: Float64, lower: Float64, change_m: Float64) -> Float64:
    """Vertical two-way time to a depth in every ground tried."""
    above = np.minimum(depth_m, change_m)
    return np.asarray(2.0 * (above / upper + (depth_m - above) / lower))


def _depth_sd_m(
    time_ns: float,
    depth_m: float,
    posterior: Float64,
    upper: Float64,
    lower: Float64,
    change_m: Float64,
    shift: Float64,
) -> float:
    """Root mean square distance of the depths of an echo at `time_ns`, over every ground tried, from `depth_m`."""
    time = np.maximum(time_ns + shift, 0.0)
    above = np.minimum(time, 2.0 * change_m / upper)
    depth = 0.5 * (above * upper + (time - above) * lower)
    return float(np.sqrt((posterior * (depth - depth_m) ** 2).sum() + (SITE_LOG_SD * depth_m) ** 2))


def _grid() -> tuple[Float64, Float64, Float64, Float64, Float64]:
    """Every combination of upper velocity, log ratio, depth of change and shared time error; its weight."""
    upper = np.exp(np.linspace(np.log(0.05), np.log(0.17), 62))
    ratio = np.linspace(-0.6, 0.6, 31)
    change = np.array([0.12, 0.2, 0.3, 0.4, 0.5, 0.65, 0.8, 1.0, 1.3])
    shift = TIME_ZERO_SD_NS * np.linspace(-2.4, 2.4, 7)
    a, b, c, d = np.meshgrid(upper, ratio, change, shift, indexing="ij")
    # Half of the weight goes to one layer, half to two.
    b = np.where(np.abs(b) < 1e-9, 0.0, b)
    prior = np.exp(-0.5 * (b / CHANGE_LOG_SD) ** 2) * np.exp(-0.5 * (d / TIME_ZERO_SD_NS) ** 2)
    one = b == 0.0
    prior = np.where(one, prior / prior[one].sum(), prior / prior[~one].sum())
    return a.ravel(), b.ravel(), c.ravel(), d.ravel(), prior.ravel()
