"""The velocity that maps are made with: stated, found in the data, from the medium, or a wide default."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from gridmap.model import VelocityModel
from gridmap.site.records import Ground
from gridmap.velocity.by_area import area_trend
from gridmap.velocity.dielectric import permittivity_of, water_content
from gridmap.velocity.focusing import FocusWindow
from gridmap.velocity.hyperbola import HyperbolaFits
from gridmap.velocity.media import Medium, find_medium, medium_velocity
from gridmap.velocity.profile import (
    LAYERED_ODDS,
    Profile,
    Targets,
    fit_profile,
    join_targets,
    no_targets,
    one_target,
)
from gridmap.velocity.ties import TiePick

Basis = Literal["stated", "hyperbolas", "ties", "focusing", "medium", "default"]

STATED_SD = 0.10
"""Deviation of a stated velocity whose deviation is not stated, as a share of it."""
LEAST_EVENTS, LEAST_LINES = 4, 2
"""Fewer accepted hyperbolas, or from fewer lines, decide nothing."""
LEAST_SPOTS = 12
"""Fewer spots that focus decide nothing."""
WIDEST_SD = 0.15
"""Hyperbolas that leave a wider relative deviation decide nothing either."""
DEFAULT_M_PER_NS, DEFAULT_SD_M_PER_NS = 0.10, 0.02
"""Common practice where nothing is known: 0.1 m/ns; two deviations span wet clay to dry sand."""


@dataclass(frozen=True, slots=True)
class VelocityChoice:
    """The velocity chosen, and why.

    Attributes
    ----------
    model : VelocityModel
        For migration and depth.
    basis : "stated", "hyperbolas", "ties", "focusing", "medium" or "default"
        What it rests on; hyperbolas may have ties with them.
    evidence : tuple of str
        Sentences for the report.
    warnings : tuple of str
        What a person should look at.
    profile : Profile or None
        What the hyperbolas say, whether it was used or not.
    """

    model: VelocityModel
    basis: Basis
    evidence: tuple[str, ...]
    warnings: tuple[str, ...]
    profile: Profile | None


def choose_velocity(
    ground: Ground,
    fits: HyperbolaFits | None,
    ties: Sequence[TiePick] = (),
    focus: Sequence[FocusWindow] = (),
) -> VelocityChoice:
    """Choose the velocity model of a survey.

    Parameters
    ----------
    ground : Ground
        What the surveyor says.
    fits : HyperbolaFits or None
        From `gridmap.velocity.hyperbola.fit_hyperbolas`; None: not looked for.
    ties : sequence of TiePick
        Echoes of known depth, from `gridmap.velocity.ties.pick_ties`.
    focus : sequence of FocusWindow
        From `gridmap.velocity.focusing.focusing_scan`; its first window is a check on the hyperbolas, and decides
        where those are too few.

    Returns
    -------
    VelocityChoice
        A stated velocity is used as it is. Otherwise hyperbolas, if there are enough, and ties decide together,
        with a named medium as prior unless they contradict it. Without them the medium decides, or the wide default.
        A contradiction between what is said and what is seen, above two joint deviations, is a warning.

    Raises
    ------
    SiteError
        If the medium is not known.
    """
    medium = medium_velocity(ground.medium) if ground.medium is not None else None
    prior = None if medium is None else (medium.mean_m_per_ns(), medium.sd_m_per_ns)
    profile, evidence = _from_data(fits, ties)
    seen = "ties" if _too_few(fits) else "hyperbolas"
    clear = next((w for w in focus[:1] if np.isfinite(w.sd_m_per_ns)), None)
    alone: Targets | None = None
    if clear is not None:
        v, sd = clear.velocity_m_per_ns, clear.sd_m_per_ns
        told = f"{clear.spots} spots focus best at {v:.4f} +- {sd:.4f} m/ns (about {clear.time_ns:.0f} ns)"
        if profile is None and clear.spots >= LEAST_SPOTS and sd < WIDEST_SD * v:
            alone = one_target(clear.time_ns, v, sd / v, clear.spots)
            profile, seen = fit_profile(alone), "focusing"
            told += "; too few hyperbolas stand alone, so this is used"
        elif profile is not None:
            rms = float(profile.model.rms_m_per_ns(profile.model.depth_m(clear.time_ns)))
            apart = abs(v - rms) / float(np.hypot(sd, rms * profile.sd_m_per_ns / profile.mean_m_per_ns))
            told += f", {apart:.1f} joint deviations from the {seen}"
        evidence = (*evidence, told + ".")
    if ground.velocity_m_per_ns is not None:
        v = ground.velocity_m_per_ns
        sd = ground.velocity_sd_m_per_ns if ground.velocity_sd_m_per_ns is not None else STATED_SD * v
        said = f"Velocity {v:.4f} +- {sd:.4f} m/ns is stated in the site file"
        if ground.velocity_sd_m_per_ns is None:
            said += f"; its deviation is not, so {STATED_SD:.0%} is taken"
        warnings = _contradiction(f"stated velocity {v:.4f} m/ns", v, sd, profile, seen)
        return VelocityChoice(
            VelocityModel.constant(v, sd, "stated in the site file"),
            "stated",
            (said + ".", *evidence),
            tuple(warnings),
            profile,
        )
    if profile is not None:
        warnings = []
        parts = ["focusing of the echoes"] if alone is not None else []
        parts += [] if _too_few(fits) else [f"{_count(fits)} hyperbolas in the data"]
        parts += [f"{len(ties)} {'tie' if len(ties) == 1 else 'ties'} of known depth"] if ties else []
        source = " and ".join(parts)
        if prior is not None and medium is not None and ground.medium is not None:
            warnings = _contradiction(
                f"medium '{ground.medium}' ({prior[0]:.4f} m/ns)", *prior, profile, seen
            )
            if warnings:
                warnings = [warnings[0] + f" The {seen} are used."]
            else:
                source += f" with {medium.source}"
                evidence = (
                    *evidence,
                    f"They agree with {medium.source}, {prior[0]:.4f} +- {prior[1]:.4f} m/ns.",
                )
        kept = prior if prior is not None and not warnings else None
        if kept is None and alone is None:  # fitted already, without a prior
            profile = replace(profile, model=replace(profile.model, source=source))
        else:
            profile = fit_profile(profile.targets, kept, source, ties)
        if ground.medium is not None:
            warnings += _outside(find_medium(ground.medium), profile)
        trend = None if fits is None or alone is not None else area_trend(fits, profile)
        warnings += [trend] if trend is not None else []
        basis: Basis = "ties" if seen == "ties" else "focusing" if seen == "focusing" else "hyperbolas"
        water = water_content(permittivity_of(profile.mean_m_per_ns))
        if 0.0 < water < 0.6:
            evidence = (
                *evidence,
                f"That is a permittivity of {permittivity_of(profile.mean_m_per_ns):.1f}, in mineral soil about "
                f"{water:.0%} of water by volume (Topp 1980).",
            )
        return VelocityChoice(profile.model, basis, evidence, tuple(warnings), profile)
    if medium is not None:
        warning = (
            f"velocity rests on the name of the medium alone: {medium.mean_m_per_ns():.3f} +- "
            f"{medium.sd_m_per_ns:.3f} m/ns. Give [ground] velocity_m_per_ns from a target of known depth."
        )
        return VelocityChoice(medium, "medium", evidence, (warning,), None)
    warning = (
        f"velocity could not be found in the data; {DEFAULT_M_PER_NS:.2f} +- {DEFAULT_SD_M_PER_NS:.2f} m/ns "
        f"is assumed, and depths are uncertain by {DEFAULT_SD_M_PER_NS / DEFAULT_M_PER_NS:.0%} "
        "(one deviation). Give [ground] velocity_m_per_ns from a target of known depth, or medium."
    )
    model = VelocityModel.constant(DEFAULT_M_PER_NS, DEFAULT_SD_M_PER_NS, "default, nothing is known")
    return VelocityChoice(model, "default", evidence, (warning,), None)


def _count(fits: HyperbolaFits | None) -> int:
    return 0 if fits is None else int(fits.accepted.sum())


def _too_few(fits: HyperbolaFits | None) -> bool:
    return (
        fits is None or _count(fits) < LEAST_EVENTS or len(np.unique(fits.line[fits.accepted])) < LEAST_LINES
    )


def _from_data(fits: HyperbolaFits | None, ties: Sequence[TiePick]) -> tuple[Profile | None, tuple[str, ...]]:
    """Profile of hyperbolas and ties, None if they are too few or too vague, and sentences that say so."""
    tied = tuple(
        f"Tie '{t.name}': {t.depth_m:.2f} m at {t.time_ns:.1f} ns, {t.velocity_m_per_ns:.4f} m/ns down to it."
        for t in ties
    )
    if fits is None:
        profile = fit_profile(no_targets(), ties=ties) if ties else None
        return profile, ("Hyperbolas were not looked for.", *tied)
    events = _count(fits)
    lines = len(np.unique(fits.line[fits.accepted]))
    seen = (
        f"{events} of {len(fits.line)} likely hyperbolas were accepted, "
        f"on {lines} of {len(fits.lines_used)} lines."
    )
    if _too_few(fits):
        profile = fit_profile(join_targets(fits), ties=ties) if ties else None
        return profile, (
            seen,
            f"At least {LEAST_EVENTS} on {LEAST_LINES} lines are needed to tell a velocity.",
            *tied,
        )
    profile = fit_profile(join_targets(fits), ties=ties)
    v, sd = profile.mean_m_per_ns, profile.sd_m_per_ns
    if sd > WIDEST_SD * v:
        return None, (seen, f"They leave {v:.3f} +- {sd:.3f} m/ns, too vague to use.", *tied)
    rows = int((profile.targets.lines >= 3).sum())
    points = len(profile.targets.lines) - rows
    sentences = [
        seen,
        f"They belong to {rows} linear and {points} other targets and give a mean velocity of "
        f"{v:.4f} +- {sd:.4f} m/ns down to 1 m{', with the ties below' if ties else ''}.",
        *tied,
    ]
    if profile.layered_odds >= LAYERED_ODDS:
        top = profile.model.velocity_m_per_ns
        sentences.append(
            f"Two layers are {min(profile.layered_odds, 1e4):.0f} times as likely as one: {top[0]:.3f} m/ns down to "
            f"{profile.model.top_m[1]:.2f} m, {top[1]:.3f} m/ns below."
        )
    return profile, tuple(sentences)


def _outside(medium: Medium, profile: Profile) -> list[str]:
    """Say where what is found lies outside the published range of the named medium by more than a deviation."""
    slow, fast = medium.range_m_per_ns
    v, sd = profile.mean_m_per_ns, profile.sd_m_per_ns
    if slow - sd <= v <= fast + sd:
        return []
    return [
        f"{v:.4f} +- {sd:.4f} m/ns was found, outside the published range of '{medium.name}', {slow:.3f} to {fast:.3f} "
        f"m/ns ({medium.source}). Is the ground what it was taken for?"
    ]


def _contradiction(what: str, v: float, sd: float, profile: Profile | None, seen: str) -> list[str]:
    """Say in words where hyperbolas or ties lie farther from `v` than two joint deviations."""
    if profile is None:
        return []
    apart = abs(profile.mean_m_per_ns - v) / float(np.hypot(sd, profile.sd_m_per_ns))
    if apart <= 2.0:
        return []
    more = 100.0 * abs(profile.mean_m_per_ns / v - 1.0)
    way = "faster" if profile.mean_m_per_ns > v else "slower"
    return [
        f"the {what} and the {seen} disagree: they give {profile.mean_m_per_ns:.4f} +- "
        f"{profile.sd_m_per_ns:.4f} m/ns, {more:.0f} % {way}."
    ]
