"""From a finished output folder to its report."""

from __future__ import annotations

from pathlib import Path

from gridmap.deliver.report_build import build_report
from gridmap.deliver.report_folder import write_report
from gridmap.deliver.report_words import load_words
from gridmap.errors import InputError
from gridmap.read.made_map import read_made_map


def report_site(out: Path, *, template: Path | None = None, day: str | None = None) -> list[Path]:
    """Write the report of a map; see `gridmap.report`."""
    if template is not None and not template.is_dir():
        raise InputError(
            f"{template}: is no folder. gridmap report --new-template {template} writes one to edit."
        )
    words = load_words(template)
    made = read_made_map(out)
    report = build_report(made, words, template=template, day=day)
    return [out / name for name in write_report(out, report, made, words, template)]
