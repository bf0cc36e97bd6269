"""The velocity that maps are made with: stated, found in the data, from the medium, or a wide default."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from gridmap.model import VelocityModel
from gridmap.site.records import Ground
from gridmap.velocity.hyperbola import HyperbolaFits
from gridmap.velocity.media import medium_velocity
from gridmap.velocity.profile import LAYERED_ODDS, Profile, fit_profile, join_targets

Basis = Literal["stated", "hyperbolas", "medium", "default"]

STATED_SD = 0.10
"""Deviation of a stated velocity whose deviation is not stated, as a share of it."""
LEAST_EVENTS, LEAST_LINES = 4, 2
"""Fewer accepted hyperbolas, or from fewer lines, decide nothing."""
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
    basis : "stated", "hyperbolas", "medium" or "default"
        What it rests on.
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


def choose_velocity(ground: Ground, fits: HyperbolaFits | None) -> VelocityChoice:
    """Choose the velocity model of a survey.

    Parameters
    ----------
    ground : Ground
        What the surveyor says.
    fits : HyperbolaFits or None
        From `gridmap.velocity.hyperbola.fit_hyperbolas`; None: not looked for.

    Returns
    -------
    VelocityChoice
        A stated velocity is used as it is. Otherwise hyperbolas decide if there are enough, with a named
        medium as prior unless they contradict it. Without them the medium decides, or the wide default.
        A contradiction between what is said and what is seen, above two joint deviations, is a warning.

    Raises
    ------
    SiteError
        If the medium is not known.
    """
    medium = medium_velocity(ground.medium) if ground.medium is not None else None
    prior = None if medium is None else (medium.mean_m_per_ns(), medium.sd_m_per_ns)
    profile, evidence = _from_fits(fits)
    if ground.velocity_m_per_ns is not None:
        v = ground.velocity_m_per_ns
        sd = ground.velocity_sd_m_per_ns if ground.velocity_sd_m_per_ns is not None else STATED_SD * v
        said = f"Velocity {v:.4f} +- {sd:.4f} m/ns is stated in the site file"
        if ground.velocity_sd_m_per_ns is None:
            said += f"; its deviation is not, so {STATED_SD:.0%} is taken"
        warnings = _contradiction(f"stated velocity {v:.4f} m/ns", v, sd, profile)
        return VelocityChoice(
            VelocityModel.constant(v, sd, "stated in the site file"),
            "stated",
            (said + ".", *evidence),
            tuple(warnings),
            profile,
        )
    if profile is not None:
        warnings = []
        source = f"{_count(fits)} hyperbolas in the data"
        if prior is not None and medium is not None:
            warnings = _contradiction(f"medium '{ground.medium}' ({prior[0]:.4f} m/ns)", *prior, profile)
            if warnings:
                warnings = [warnings[0] + " The hyperbolas are used."]
            else:
                source += f" with {medium.source}"
                evidence = (
                    *evidence,
                    f"They agree with {medium.source}, {prior[0]:.4f} +- {prior[1]:.4f} m/ns.",
                )
        kept = prior if prior is not None and not warnings else None
        profile = fit_profile(profile.targets, kept, source)
        return VelocityChoice(profile.model, "hyperbolas", evidence, tuple(warnings), profile)
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


def _from_fits(fits: HyperbolaFits | None) -> tuple[Profile | None, tuple[str, ...]]:
    """Profile of the hyperbolas, None if they are too few or too vague, and sentences that say so."""
    if fits is None:
        return None, ("Hyperbolas were not looked for.",)
    events = _count(fits)
    lines = len(np.unique(fits.line[fits.accepted]))
    seen = (
        f"{events} of {len(fits.line)} likely hyperbolas were accepted, "
        f"on {lines} of {len(fits.lines_used)} lines."
    )
    if events < LEAST_EVENTS or lines < LEAST_LINES:
        return None, (seen, f"At least {LEAST_EVENTS} on {LEAST_LINES} lines are needed to tell a velocity.")
    profile = fit_profile(join_targets(fits))
    v, sd = profile.mean_m_per_ns, profile.sd_m_per_ns
    if sd > WIDEST_SD * v:
        return None, (seen, f"They leave {v:.3f} +- {sd:.3f} m/ns, too vague to use.")
    rows = int((profile.targets.lines >= 3).sum())
    points = len(profile.targets.lines) - rows
    sentences = [
        seen,
        f"They belong to {rows} linear and {points} other targets and give a mean velocity of "
        f"{v:.4f} +- {sd:.4f} m/ns down to 1 m.",
    ]
    if profile.layered_odds >= LAYERED_ODDS:
        top = profile.model.velocity_m_per_ns
        sentences.append(
            f"Two layers explain them far better than one: {top[0]:.3f} m/ns down to "
            f"{profile.model.top_m[1]:.2f} m, {top[1]:.3f} m/ns below."
        )
    return profile, tuple(sentences)


def _contradiction(what: str, v: float, sd: float, profile: Profile | None) -> list[str]:
    """Say in words where the hyperbolas lie farther from `v` than two joint deviations."""
    if profile is None:
        return []
    apart = abs(profile.mean_m_per_ns - v) / float(np.hypot(sd, profile.sd_m_per_ns))
    if apart <= 2.0:
        return []
    more = 100.0 * abs(profile.mean_m_per_ns / v - 1.0)
    way = "faster" if profile.mean_m_per_ns > v else "slower"
    return [
        f"the {what} and the hyperbolas disagree: they give {profile.mean_m_per_ns:.4f} +- "
        f"{profile.sd_m_per_ns:.4f} m/ns, {more:.0f} % {way}."
    ]
