"""Quality levels of the open standards, suggested and never granted: a licensed person sets them.

PAS 128 and ASCE 38-22, from surveyors' public summaries of the standards, not from their texts:
QL-B4 assumed, not detected; QL-B3 plan position by one technique, within 500 mm; QL-B2 plan and depth by one
technique, within 250 mm or 40 % of the depth; QL-B1 by several techniques; suffix P where radar was processed off
site. ASCE 38-22: B, surface geophysics; A, exposed and measured.
"""

from __future__ import annotations

import math

DETECTED = 0.5
"""Confidence from which a feature counts as detected."""
B2_M, B2_SHARE = 0.25, 0.4
_WHO = "radar alone never earns QL-B1; a licensed person decides"


def suggest_level(
    *, confidence: float, depth_m: float, depth_sd_m: float, crossings: int | None, tied: bool
) -> tuple[str, str]:
    """Suggest a quality level.

    Parameters
    ----------
    confidence : float
        Of the feature; NaN where there is none.
    depth_m, depth_sd_m : float
        Depth to the top and one standard deviation, metres; NaN where not known.
    crossings : int or None
        Lines whose own traces show it; None where that is not counted for its kind.
    tied : bool
        Whether the plan is tied to the ground by control points or a track.

    Returns
    -------
    level : str
        In the standards' words; empty where none can be suggested.
    why : str
        One sentence.
    """
    if not tied:
        return "", f"the plan is not tied to control points, so no level can be suggested; {_WHO}"
    if not confidence >= DETECTED:
        reason = "no measure of confidence" if math.isnan(confidence) else f"confidence {confidence:.2f}"
        return "PAS 128 QL-B4", f"assumed more than detected: {reason}; {_WHO}"
    most = max(B2_M, B2_SHARE * depth_m)
    if math.isfinite(depth_sd_m) and 2 * depth_sd_m <= most and crossings != 0:
        within = f"depth within {2 * depth_sd_m:.2f} m (2 sigma) of {most:.2f} m allowed"
        return "ASCE 38-22 QL B; PAS 128 QL-B2P", f"plan and depth by one technique, {within}; {_WHO}"
    lacks = "no line crosses it" if crossings == 0 else "depth not sure enough for QL-B2"
    return "ASCE 38-22 QL B; PAS 128 QL-B3P", f"plan position by one technique, {lacks}; {_WHO}"
