"""A site file to edit, from what the line files say themselves."""

from __future__ import annotations

from pathlib import Path

from gridmap.errors import OutputError, ReadError
from gridmap.files import write_text
from gridmap.read.info import describe
from gridmap.site.keys import unfilled
from gridmap.site.template import FileFacts, site_template

SKIPPED = {".toml", ".md", ".json", ".html", ".pdf", ".png", ".jpg", ".zip"}
"""Suffixes of files that are never line files; all others are judged by content."""


def new_site_file(folder: Path, out: Path | None = None) -> tuple[Path, list[str]]:
    """Write a commented site file for a folder of line files; see `gridmap.new`."""
    if not folder.is_dir():
        raise ReadError(f"{folder}: no such folder. Name the folder that the line files lie in.")
    target = out or folder / "site.toml"
    if target.exists():
        raise OutputError(f"{target}: exists already and is never replaced. Give another name with -o.")
    if not target.absolute().parent.is_dir():
        raise OutputError(f"{target}: folder {target.parent} does not exist. Make it first.")
    facts = []
    refused = []
    for path in sorted(p for p in folder.rglob("*") if p.is_file() and _may_be_line(p)):
        try:
            facts.append(_facts(path, target.absolute().parent))
        except ReadError as problem:
            refused.append(str(problem))
    if not facts:
        why = f" The first file says: {refused[0]}" if refused else ""
        raise ReadError(f"{folder}: no line file in it.{why}")
    text = site_template(facts, folder.absolute().name)
    write_text(target, text)
    todo = [f"row {row}: {key}" for row, key in unfilled(text)]
    todo += [f"left out: {message}" for message in refused]
    return target, todo


def _may_be_line(path: Path) -> bool:
    return not path.name.startswith(".") and path.suffix.lower() not in SKIPPED


def _facts(path: Path, base: Path) -> FileFacts:
    info = describe(path)
    absolute = path.absolute()
    file = absolute.relative_to(base) if absolute.is_relative_to(base) else absolute
    return FileFacts(
        file.as_posix(),
        info.traces,
        info.samples,
        info.interval_ns,
        "; ".join(info.notes) or info.trouble,
        info.first_time_s,
        info.last_time_s,
        info.xy_bounds,
    )
