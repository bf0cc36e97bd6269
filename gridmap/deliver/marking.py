"""Colours of utilities as marked on the ground: the uniform colour code of the public works association [memory].

Only where a person says what a feature is: an echo does not tell a water main from a sewer.
"""

from __future__ import annotations

from gridmap.deliver.styles import Kind

NEUTRAL = "#b03a6f"
"""Of everything whose class is not known."""

_RED, _YELLOW, _ORANGE, _BLUE, _PURPLE, _GREEN = (
    "#d81e2c",
    "#d9a900",
    "#ee7a12",
    "#1766c2",
    "#7d3fa8",
    "#1f8a3b",
)

GROUPS = (
    ("Electric power, lighting", _RED, ("electric", "electricity", "power", "lighting")),
    ("Gas, oil, steam", _YELLOW, ("gas", "oil", "steam", "petroleum")),
    (
        "Communication, signals", _ORANGE,
        ("communication", "communications", "telecom", "signal", "fibre", "alarm"),
    ),
    ("Drinking water", _BLUE, ("water", "potable water", "drinking water")),
    ("Reclaimed water, irrigation, slurry", _PURPLE, ("reclaimed water", "irrigation", "slurry")),
    ("Sewer, drain", _GREEN, ("sewer", "drain", "storm drain", "drainage")),
)  # fmt: skip
"""Title, colour and classes of each group of the code; shades dark enough to be read on white."""

MARKING = {word: colour for _, colour, words in GROUPS for word in words}
"""Colour by class."""

KINDS = (
    Kind("Rejected by a person", "#9a9a9a", "status", ("rejected",)),
    *(Kind(title, colour, "class", words) for title, colour, words in GROUPS),
)
"""For the styles of layers: a class that a person wrote decides, and nothing else."""
OTHERS = "Class not known"


def marking_colour(class_name: object) -> str:
    """Colour of a class, as six hexadecimal digits after #; neutral where the class is not one of the code's."""
    return MARKING.get(str(class_name or "").strip().lower(), NEUTRAL)


def rgb(colour: str) -> tuple[int, int, int]:
    """Take "#rrggbb" to three numbers, 0 to 255."""
    red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return red, green, blue


def short_label(row) -> str:  # type: ignore[no-untyped-def]
    """Identity, depth and one standard deviation of a row, as "L1 0.61±0.03 m"; from end to end where it falls."""
    depth, sd = row["depth_top_m"], row["depth_sd_m"]
    if depth != depth:
        return f"{row['id']} depth unknown"
    words = f"{depth:.2f}"
    ends = row.get("depth_start_m"), row.get("depth_end_m")
    if None not in ends and abs(ends[1] - ends[0]) > max(2 * sd, 0.05):
        words = f"{ends[0]:.2f} to {ends[1]:.2f}"
    return f"{row['id']} {words} m" if sd != sd else f"{row['id']} {words}\N{PLUS-MINUS SIGN}{sd:.2f} m"
