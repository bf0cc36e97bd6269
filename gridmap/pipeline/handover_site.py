"""From a finished output folder to a hand-over for a GIS or CAD office."""

from __future__ import annotations

from pathlib import Path

from gridmap.deliver.handover_folder import write_handover, write_zip
from gridmap.deliver.report_build import stated
from gridmap.deliver.report_words import checked_date, load_words
from gridmap.errors import OutputError
from gridmap.files import whole_folder
from gridmap.read.made_map import read_made_map


def handover_site(
    out: Path, folder: Path, *, packed: bool = False, template: Path | None = None, day: str | None = None
) -> tuple[list[Path], list[str]]:
    """Write the hand-over of a map; see `gridmap.handover`."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise OutputError(f"{folder}: is there already. Name a folder that does not exist yet.")
    made = read_made_map(out)
    said = stated(made, load_words(template))
    said.setdefault("purpose", str(made.record["parameters"].get("site", {}).get("description") or ""))
    if day is not None:
        said["date"] = checked_date(day, "date of the hand-over")
    if folder.resolve().is_relative_to(out.resolve()):
        raise OutputError(
            f"{folder}: lies within the map's own folder, which the next run replaces. Name another place."
        )
    try:
        folder.absolute().parent.mkdir(parents=True, exist_ok=True)
        with whole_folder(folder.absolute()) as part:
            notes = write_handover(part, made, said)
        written = [folder]
        if packed:
            write_zip(folder.absolute().with_name(f"{folder.absolute().name}.zip"), folder.absolute())
            written.append(folder.with_name(f"{folder.absolute().name}.zip"))
    except OSError as problem:
        raise OutputError(f"{folder}: cannot be written ({problem.strerror or problem}).") from problem
    return written, notes
