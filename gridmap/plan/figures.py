"""The figures of a plan, each with its formula and its source."""

from __future__ import annotations

from dataclasses import dataclass

from gridmap.plan import formulas as f
from gridmap.plan import spacing as s
from gridmap.plan.choose import Choice, detail_m
from gridmap.plan.effort import Effort
from gridmap.plan.ground import GroundGuess, Span
from gridmap.plan.request import Sought, Walk
from gridmap.plan.target import contrast

EMG = "EM GeoSci (open textbook, 2024)"
GPG = "Geophysics for Practicing Geoscientists (open textbook, 2025)"


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure.

    Attributes
    ----------
    key : str
        Name in plan.json, with its unit.
    label : str
        Name in words.
    value : float
        In `unit`.
    unit : str
        As printed.
    formula, source : str
        How it was found, and who says so.
    low, high : float or None
        Its range, where there is one.
    """

    key: str
    label: str
    value: float
    unit: str
    formula: str
    source: str
    low: float | None = None
    high: float | None = None

    @property
    def text(self) -> str:
        """Value, range and unit as printed."""
        span = "" if self.low is None else f" ({self.low:.3g} to {self.high:.3g})"
        return f"{self.value:.4g}{span} {self.unit}".strip()


def figures_of(
    sought: Sought, ground: GroundGuess, choice: Choice, walk: Walk, line_spacing_m: float
) -> tuple[Figure, ...]:
    """Work out everything that the crew and the report need.

    Parameters
    ----------
    sought, ground, choice, walk
        What is asked and what was chosen.
    line_spacing_m : float
        As walked, metres.
    """
    mhz, d, v, e = choice.antenna.frequency_mhz, sought.depth_m, ground.velocity_m_per_ns, ground.permittivity
    window = s.proposed_window_ns(v, d)
    samples = s.proposed_samples(window, mhz)
    _, line_formula, line_source = s.line_limit_m(sought)
    reflected = contrast(sought, e.likely)
    absorbed = ground.absorption_db_per_m(mhz)

    def ranged(key: str, label: str, span: Span, unit: str, formula: str, source: str) -> Figure:
        low, high = min(span.low, span.likely, span.high), max(span.low, span.likely, span.high)
        return Figure(key, label, span.likely, unit, formula, source, low, high)

    return (
        Figure(
            "frequency_mhz",
            "Antenna",
            mhz,
            "MHz",
            "finest still needed that surely reaches; needed: 75 / (detail sqrt(e)) and v / depth",
            "Annan 2005 [memory]; common practice",
        ),
        Figure(
            "detail_m",
            "Detail to be told apart",
            detail_m(sought),
            "m",
            "as asked; else the size, 0.1 m at most",
            "common practice",
        ),
        Figure(
            "line_spacing_m",
            "Line spacing",
            line_spacing_m,
            "m",
            line_formula if walk.spacing_m is None else "as the crew insists",
            line_source,
        ),
        Figure(
            "trace_interval_m",
            "Trace interval",
            s.proposed_trace_interval_m(v, mhz),
            "m",
            "within c / (4 f sqrt(e)) of the slowest ground",
            "Grasmueck 2005 [memory]; " + EMG,
        ),
        Figure(
            "window_ns",
            "Time window after time zero",
            window,
            "ns",
            "1.3 * 2 d / v, or 2 d / v of the slowest ground",
            "Annan 2005 [memory]",
        ),
        Figure(
            "samples",
            "Samples a trace",
            samples,
            "",
            "power of two that keeps the interval within 1 / (6 f)",
            "Annan 2005 [memory]",
        ),
        Figure(
            "sample_interval_ns", "Sample interval", window / samples, "ns", "window / samples", "definition"
        ),
        ranged("permittivity", "Relative permittivity", e, "", "range of the medium", ground.source),
        ranged(
            "conductivity_ms_per_m",
            "Conductivity",
            _milli(ground.conductivity_s_per_m),
            "mS/m",
            "range of the medium",
            ground.source,
        ),
        ranged("velocity_m_per_ns", "Velocity", v, "m/ns", "c / sqrt(e)", GPG),
        Figure("wavelength_m", "Wavelength", f.wavelength_m(v.likely, mhz), "m", "w = v / f", GPG),
        Figure(
            "vertical_resolution_m",
            "Vertical resolution",
            f.vertical_resolution_m(v.likely, mhz),
            "m",
            "w / 4",
            GPG,
        ),
        Figure(
            "horizontal_resolution_m",
            "Horizontal resolution at depth, unmigrated",
            f.horizontal_resolution_m(v.likely, mhz, d),
            "m",
            "sqrt(v d / (2 f))",
            EMG,
        ),
        Figure(
            "fresnel_radius_m",
            "First Fresnel zone at depth, radius",
            f.fresnel_radius_m(v.likely, mhz, d),
            "m",
            "sqrt(w d / 2 + w^2 / 16)",
            "Reynolds 1997 [memory]",
        ),
        Figure(
            "footprint_radius_m",
            "Ground lit at depth, half length",
            f.footprint_radius_m(v.likely, mhz, d),
            "m",
            "w / 4 + d / sqrt(e + 1)",
            "Conyers 2013 [memory]",
        ),
        Figure(
            "reflection",
            "Reflection of the target",
            reflected,
            "",
            "(sqrt(e1) - sqrt(e2)) / (sqrt(e1) + sqrt(e2))",
            GPG,
        ),
        ranged(
            "absorption_db_per_m",
            "Absorption, one way",
            absorbed,
            "dB/m",
            "2 pi f sqrt(mu e / 2) sqrt(sqrt(1 + tan^2 loss) - 1), with the relaxation of water",
            f"{GPG}; Debye 1929 [memory]",
        ),
        ranged(
            "reach_m",
            "Reach for this target",
            choice.reach_m,
            "m",
            f"range equation, {walk.performance_db:g} +- 15 dB; 10 to 40 wavelengths at most",
            "Annan and Davis 1977 [memory]; common practice",
        ),
        Figure(
            "probing_depth_m",
            "Three skin depths, for comparison",
            f.probing_depth_m(e.likely, ground.conductivity_s_per_m.likely),
            "m",
            "0.0159 sqrt(e) / sigma",
            EMG,
        ),
        Figure(
            "focusing_separation_m",
            "Best antenna separation for the depth",
            f.focusing_separation_m(e.likely, d),
            "m",
            "2 d / sqrt(e - 1)",
            EMG,
        ),
    )


def effort_figures(effort: Effort, walk: Walk, trace_interval_m: float) -> tuple[Figure, ...]:
    """Say how far, how long, and how fast the recorder must take traces."""
    return (
        Figure(
            "walk_m",
            "Walking",
            effort.line_m + effort.between_m,
            "m",
            "lines, and from each to the next",
            "geometry",
        ),
        Figure(
            "hours",
            "Time on site",
            effort.hours,
            "h",
            f"walking / {walk.speed_m_per_s:g} m/s + lines * {walk.turn_s:g} s + {walk.setup_min:g} min",
            "common practice",
        ),
        Figure(
            "traces_per_s",
            "Traces that the recorder must take",
            walk.speed_m_per_s / trace_interval_m,
            "a second",
            "speed / trace interval",
            "definition",
        ),
    )


def _milli(span: Span) -> Span:
    return Span(1e3 * span.low, 1e3 * span.likely, 1e3 * span.high)
