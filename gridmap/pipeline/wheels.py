"""Lines placed by an uncalibrated wheel alone: the scale of each is looked for and put right, or reported."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gridmap.model import CleanLine
from gridmap.pipeline.run import Run
from gridmap.place.corrections import Finding
from gridmap.place.wheel_scale import WheelScale, estimate_wheel_scale, scaled
from gridmap.site.records import Site


def put_wheels_right(
    site: Site, lines: Sequence[CleanLine], interval_ns: float, run: Run
) -> tuple[list[CleanLine], tuple[Finding, ...]]:
    """Find the scale of every wheel that no length is known for.

    Parameters
    ----------
    site : Site
        Says which lines are placed by a wheel alone, and what is done about it.
    lines : sequence of CleanLine
        Conditioned, placed by the nominal trace interval.
    interval_ns : float
        Sample interval, nanoseconds.
    run : Run
        Takes the messages.

    Returns
    -------
    lines : list of CleanLine
        With the scale put in where it is to be applied and can be told.
    findings : tuple of Finding
        One a line whose scale can be told; size and deviation are metres at its far end.
    """
    free = {p.name for p in site.lines if p.placing == "wheel" and p.length_m is None}
    if not free:
        return list(lines), ()
    handling = site.corrections.wheel
    if handling == "off":
        run.warnings.append(
            f"{len(free)} lines are placed by an uncalibrated wheel; their far ends may be off by centimetres a metre"
        )
        return list(lines), ()
    wheels = {w.name: w for w in estimate_wheel_scale(lines, interval_ns, free=free)}
    apply = handling == "apply"
    _say(list(wheels.values()), apply, run)
    findings = tuple(_finding(wheels[ln.name], ln, apply) for ln in lines if _told(wheels.get(ln.name)))
    if not apply:
        return list(lines), findings
    return [scaled(ln, wheels[ln.name]) if ln.name in wheels else ln for ln in lines], findings


def _told(wheel: WheelScale | None) -> bool:
    return wheel is not None and bool(np.isfinite(wheel.error))


def _finding(wheel: WheelScale, line: CleanLine, apply: bool) -> Finding:
    length_m = float(line.along_m[-1])
    z = abs(wheel.error) / wheel.sd
    return Finding("wheel", (wheel.name,), wheel.error * length_m, wheel.sd * length_m, z, apply, wheel.words)


def _say(wheels: Sequence[WheelScale], apply: bool, run: Run) -> None:
    """Say it once for all lines, not line by line."""
    told = [w for w in wheels if _told(w)]
    if told:
        error = [100 * w.error for w in told]
        sd = 100 * float(np.median([w.sd for w in told]))
        words = (
            f"wheel scale of {len(told)} lines, {min(error):+.2f} to {max(error):+.2f} % (1 sigma {sd:.2f} %), from"
            " marks and from what the lines have in common"
        )
        if apply:
            run.notes.append(f"put right: {words}")
        else:
            run.warnings.append(f"{words} (only reported; [corrections] wheel decides)")
    if any(not w.absolute for w in told):
        run.warnings.append(
            "all lines ran one way and none cross them, so wheel scales are relative to each other only: lengths along"
            " the lines may all be off by a few percent. Tape one line (length_m), or walk some back or across"
        )
    lost = [w.name for w in wheels if not _told(w)]
    if lost:
        names = ", ".join(lost[:4]) + (f" and {len(lost) - 4} more" if len(lost) > 4 else "")
        run.warnings.append(
            f"wheel scale cannot be told for {names}: their far ends may be off by centimetres a metre. Tape them"
            " (length_m)"
        )
