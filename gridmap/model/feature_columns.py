"""Columns of the layers of features: which are a person's to write and which the machine writes anew in every run."""

from __future__ import annotations

PERSON = ("status", "class", "quality_level", "depth_said_m", "note", "by", "when")
"""A person's; what stands there is never changed by a run."""

MACHINE = {
    "linear": (
        "depth_top_m", "depth_sd_m", "depth_start_m", "depth_end_m", "length_m", "width_m", "strength",
        "confidence", "crossings", "polarity", "evidence", "quality_level_suggested", "suggested_why",
    ),
    "outlines": (
        "depth_top_m", "depth_sd_m", "thickness_m", "area_m2", "length_m", "width_m", "bearing_deg", "strength",
        "confidence", "polarity", "evidence", "quality_level_suggested", "suggested_why",
    ),
    "points": (
        "depth_top_m", "depth_sd_m", "strength", "confidence", "polarity", "evidence", "quality_level_suggested",
        "suggested_why",
    ),
    "rejected": ("kind", "reason"),
}  # fmt: skip
"""The machine's, by layer."""

WHOLE = ("crossings",)
TEXT = (
    *(p for p in PERSON if p != "depth_said_m"),
    "id", "polarity", "evidence", "quality_level_suggested", "suggested_why", "kind", "reason",
)  # fmt: skip
"""Types of the columns; what is in neither is a number with decimals."""

AS_FOUND = "as_found"
"""Layer of shapes as the machine found them, so that a shape that a person moved is known."""


def columns_of(layer: str) -> tuple[str, ...]:
    """All our columns of a layer, in order; of candidates a person may set status and words alone."""
    person = tuple(
        p for p in PERSON if layer != "rejected" or p not in ("class", "quality_level", "depth_said_m")
    )
    return ("id", *person, *MACHINE[layer])
