"""The velocity of one survey and everything it rests on, ready for the record and the report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from gridmap.model import CleanLine, VelocityModel
from gridmap.site.records import Antenna, Ground
from gridmap.velocity.combine import VelocityChoice, choose_velocity
from gridmap.velocity.focusing import FocusWindow, focusing_scan
from gridmap.velocity.hyperbola import HyperbolaFits, fit_hyperbolas
from gridmap.velocity.surface import surface_effect
from gridmap.velocity.ties import TiePick, pick_ties


@dataclass(frozen=True, slots=True)
class VelocityEvidence:
    """The choice and the hyperbolas behind it.

    Attributes
    ----------
    choice : VelocityChoice
        Model, basis, sentences, warnings.
    fits : HyperbolaFits
        Every hyperbola that was looked at; lines are numbered as in `line_names`.
    line_names : tuple of str
        Names of the lines.
    ties : tuple of TiePick
        Echoes of known depth that were found.
    focus : tuple of FocusWindow
        What the focusing scan says, beside the hyperbolas.
    """

    choice: VelocityChoice
    fits: HyperbolaFits
    line_names: tuple[str, ...]
    ties: tuple[TiePick, ...] = ()
    focus: tuple[FocusWindow, ...] = ()

    @property
    def velocity(self) -> VelocityModel:
        """The model for migration and depth."""
        return self.choice.model

    @property
    def warnings(self) -> tuple[str, ...]:
        """What a person should look at."""
        return self.choice.warnings

    def record(self) -> dict[str, object]:
        """Plain values for run.json: the accepted hyperbolas one by one, the others counted by reason."""
        f = self.fits
        refused: dict[str, int] = {}
        for reason in (r for r, good in zip(f.reason, f.accepted, strict=True) if not good):
            refused[reason] = refused.get(reason, 0) + 1
        accepted = [
            {
                "line": self.line_names[f.line[i]],
                "x_m": round(float(f.x_m[i]), 3),
                "y_m": round(float(f.y_m[i]), 3),
                "time_ns": round(float(f.time_ns[i]), 2),
                "velocity_m_per_ns": round(float(f.velocity_m_per_ns[i]), 4),
                "sd_m_per_ns": round(float(f.sd_m_per_ns[i]), 4),
                "coherence": round(float(f.coherence[i]), 3),
                "angle_deg": None if np.isnan(f.angle_deg[i]) else round(float(f.angle_deg[i]), 1),
                "target": int(f.target[i]),
            }
            for i in np.flatnonzero(f.accepted)
        ]
        return {
            "basis": self.choice.basis,
            "sentences": list(self.choice.evidence),
            "layers": [
                {"top_m": float(top), "velocity_m_per_ns": float(v)}
                for top, v in zip(self.velocity.top_m, self.velocity.velocity_m_per_ns, strict=True)
            ],
            "depth_sd": [
                {"depth_m": float(z), "sd_m": round(float(self.velocity.depth_sd_m(z)), 4)}
                for z in (0.3, 0.5, 1.0, 1.5, 2.0)
            ],
            "ties": [
                {"name": t.name, "depth_m": t.depth_m, "time_ns": round(t.time_ns, 2)} for t in self.ties
            ],
            "focusing": [
                {
                    "where": w.where,
                    "first_ns": round(w.first_ns, 2),
                    "last_ns": round(w.last_ns, 2),
                    "velocity_m_per_ns": _known(w.velocity_m_per_ns),
                    "sd_m_per_ns": _known(w.sd_m_per_ns),
                    "spots": w.spots,
                }
                for w in self.focus
            ],
            "hyperbolas": accepted,
            "refused": refused,
        }


def survey_velocity(
    lines: Sequence[CleanLine], sample_interval_ns: float, antenna: Antenna, ground: Ground
) -> VelocityEvidence:
    """Find the velocity of a survey from its conditioned lines and from what the surveyor says.

    Parameters
    ----------
    lines : sequence of CleanLine
        Background removed, unusable traces zero, before or after gain.
    sample_interval_ns : float
        Common to all lines.
    antenna : Antenna
        The radar.
    ground : Ground
        What is said of the ground.

    Returns
    -------
    VelocityEvidence
        Hyperbolas are fitted even where a velocity is stated, so that a contradiction shows.

    Raises
    ------
    SiteError
        If a medium is named that is not known.
    """
    effect = surface_effect(antenna.frequency_mhz, antenna.height_m)
    fits = fit_hyperbolas(lines, sample_interval_ns, antenna, effect=effect)
    names = tuple(line.name for line in lines)
    focus = focusing_scan(lines, sample_interval_ns, antenna, effect)
    choice = choose_velocity(ground, fits, focus=focus)
    if not ground.ties:
        return VelocityEvidence(choice, fits, names, (), focus)
    picks, notes = pick_ties(ground.ties, lines, sample_interval_ns, antenna, choice.model)
    choice = choose_velocity(ground, fits, picks, focus)
    return VelocityEvidence(replace(choice, warnings=(*choice.warnings, *notes)), fits, names, picks, focus)


def _known(value: float) -> float | None:
    return round(value, 4) if np.isfinite(value) else None
