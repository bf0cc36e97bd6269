"""From what is asked to a whole plan."""

from __future__ import annotations

from dataclasses import dataclass

from gridmap.errors import SiteError
from gridmap.plan.choose import Answer, Choice, answer, choose_antenna
from gridmap.plan.effort import Effort, effort_of
from gridmap.plan.figures import Figure, effort_figures, figures_of
from gridmap.plan.formulas import footprint_radius_m, vertical_resolution_m
from gridmap.plan.frame import Frame, box, lay_frame
from gridmap.plan.ground import GroundGuess, guess_ground
from gridmap.plan.layout import MOST_LINES, Axis, PlannedLine, lay_lines
from gridmap.plan.request import Request
from gridmap.plan.spacing import line_limit_m, proposed_line_spacing_m

SLOW_MEASURED = "Measure the velocity on the site: over a thing of known depth, or by hyperbolas afterwards."


@dataclass(frozen=True, slots=True)
class Plan:
    """What is proposed.

    Attributes
    ----------
    request : Request
        What was asked.
    seen : "yes", "perhaps" or "no"
        Whether the target can be seen.
    reasons : tuple of str
        Why not, or why not surely.
    choice : Choice
        Antenna and reach.
    figures : tuple of Figure
        All numbers with formula and source.
    frame : Frame
        Where the grid lies.
    axes : tuple of "x" or "y"
        Which ways the lines run.
    lines : tuple of PlannedLine
        In the order walked.
    effort : Effort
        Metres and hours.
    cautions : tuple of str
        What the plan leaves open, one or two sentences each.
    """

    request: Request
    seen: Answer
    reasons: tuple[str, ...]
    choice: Choice
    figures: tuple[Figure, ...]
    frame: Frame
    axes: tuple[Axis, ...]
    lines: tuple[PlannedLine, ...]
    effort: Effort
    cautions: tuple[str, ...]

    def figure(self, key: str) -> float:
        """Value of one figure by its key."""
        return next(figure.value for figure in self.figures if figure.key == key)


def plan_survey(request: Request) -> Plan:
    """Propose antenna, spacing, record and lines.

    Raises
    ------
    SiteError, PlaceError
        Where what is asked cannot be; names table, key and fix.
    """
    ground = guess_ground(request.ground)
    frame = lay_frame(request.area)
    choice = choose_antenna(request.sought, ground, request.antennas, request.walk.performance_db)
    seen, reasons = answer(request.sought, ground, choice.reach_m)
    spacing = request.walk.spacing_m or proposed_line_spacing_m(request.sought)
    axes = _axes(request, frame)
    lines: list[PlannedLine] = []
    left_out = 0.0
    for axis in axes:
        some, short = lay_lines(frame.corners_m, axis, spacing, request.walk.zigzag)
        lines += some
        left_out += short
    if not lines or len(lines) > MOST_LINES:
        raise SiteError(
            f"[site] corners: {len(lines)} lines of {spacing:g} m spacing. Give an area that takes 1 to {MOST_LINES}."
        )
    figures = figures_of(request.sought, ground, choice, request.walk, spacing)
    cautions = (
        *_spacing_cautions(request, ground, choice, spacing),
        *_others(request, ground, choice, left_out),
    )
    effort = effort_of(lines, request.walk)
    interval = next(figure.value for figure in figures if figure.key == "trace_interval_m")
    return Plan(
        request=request,
        seen=seen,
        reasons=reasons,
        choice=choice,
        figures=(*figures, *effort_figures(effort, request.walk, interval)),
        frame=frame,
        axes=axes,
        lines=tuple(lines),
        effort=effort,
        cautions=(*cautions, *frame.warnings),
    )


def _axes(request: Request, frame: Frame) -> tuple[Axis, ...]:
    """Across the trend; both ways where a line may run any way; else along the longer side."""
    sought, walk = request.sought, request.walk
    (west, south), _, (east, north), _ = box(frame.corners_m)
    first: Axis = "y" if north - south >= east - west else "x"
    if sought.shape == "line" and sought.trend != "any":
        first = "y" if sought.trend == "x" else "x"
    second: Axis = "x" if first == "y" else "y"
    both = walk.both_ways if walk.both_ways is not None else sought.shape == "line" and sought.trend == "any"
    return (first, second) if both else (first,)


def _spacing_cautions(
    request: Request, ground: GroundGuess, choice: Choice, spacing: float
) -> tuple[str, ...]:
    """Say in different words what each limit means that the spacing passes."""
    sought, mhz, v = request.sought, choice.antenna.frequency_mhz, ground.velocity_m_per_ns.likely
    limit = line_limit_m(sought)[0]
    lit, quarter = footprint_radius_m(v, mhz, sought.depth_m), vertical_resolution_m(v, mhz)
    said = []
    if spacing > limit * (1 + 1e-9):
        said.append(
            f"Lines {spacing:g} m apart are wider than the {limit:.2g} m that this target asks for: it may lie between"
            " two lines unseen."
        )
    if spacing > 2 * lit:
        said.append(
            f"Between lines {spacing:g} m apart some ground at {sought.depth_m:g} m is lit from no line"
            f" (each lights {lit:.2g} m to either side)."
        )
    if spacing > quarter * (1 + 1e-9):
        said.append(
            f"Across the lines the survey is coarser than a quarter wavelength ({quarter:.2g} m): steep echoes alias"
            " between lines, and shapes are smooth along the lines only."
        )
    return tuple(said)


def _others(request: Request, ground: GroundGuess, choice: Choice, left_out: float) -> tuple[str, ...]:
    sought, walk, said = request.sought, request.walk, []
    if choice.antenna.frequency_mhz < choice.wanted_mhz * (1 - 1e-9):
        said.append(
            f"No antenna at hand of {choice.wanted_mhz:.0f} MHz or more reaches surely;"
            f" {choice.antenna.frequency_mhz:g} MHz will not resolve the detail asked for,"
            " or blends a shallow target with the direct wave."
        )
    if sought.shape == "line" and sought.trend == "any" and walk.both_ways is False:
        said.append("Walked one way only, a line that runs along the walking is hardly seen. Walk both ways.")
    if left_out > 0:
        said.append(
            f"Pieces under 0.5 m at narrow corners, {left_out:.1f} m in all, are left out of the lines."
        )
    if not ground.measured:
        v = ground.velocity_m_per_ns
        said.append(
            f"The velocity is from a table and may be {v.low:.3f} to {v.high:.3f} m/ns: depths on the map would be as"
            f" uncertain. {SLOW_MEASURED}"
        )
    return tuple(said)
