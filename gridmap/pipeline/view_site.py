"""From a finished output folder to a window, a picture or a turntable of its scene."""

from __future__ import annotations

from pathlib import Path

from gridmap.deliver.colours import colour_range
from gridmap.deliver.report_words import clean
from gridmap.deliver.scene_window import draw_still, draw_turntable, open_window
from gridmap.deliver.words import velocity_words
from gridmap.errors import InputError
from gridmap.read.made_map import read_made_map


def view_site(
    out: Path, *, picture: Path | None = None, turntable: Path | None = None, at_m: float | None = None
) -> list[Path]:
    """Show the scene of a map; see `gridmap.view`."""
    made = read_made_map(out)
    vtm = out / "scene.vtm"
    if not vtm.is_file():
        raise InputError(f"{vtm}: is missing. Make the map again with gridmap map.")
    if picture is not None and picture.suffix.lower() != ".png":
        raise InputError(f"{picture.name}: a picture ends in .png.")
    hidden = sorted(
        f"feature {row['id']}"
        for name in ("linear", "outlines", "points")
        for _, row in made.layer(name).iterrows()
        if row.get("status") == "rejected"
    )
    title, scale = clean(made.record.get("site", "")), colour_range(made.slices.values)
    order = {"colour_range": list(scale), "hidden": hidden, "at_m": at_m}
    written = []
    note = velocity_words(made.velocity())
    for path, draw in ((picture, draw_still), (turntable, draw_turntable)):
        if path is not None:
            draw(vtm, path, title=title, note=note, order=order)
            written.append(path)
    if not written:
        open_window(vtm, title=title, colour_range=scale, hidden=hidden, at_m=at_m)
    return written
