"""The folder that a plan is handed over in: field sheet, site file, stakes, and figures for scripts."""

from __future__ import annotations

from pathlib import Path

from gridmap.deliver.field_sheet import write_field_sheet
from gridmap.deliver.outfolder import finished_folder
from gridmap.deliver.plan_record import plan_record, planned_site_text, stakes_csv
from gridmap.deliver.strict_json import to_text
from gridmap.files import write_text
from gridmap.plan.survey import Plan

PLAN_FILES = (
    ("field-sheet.pdf", "To print: settings, grid plan, lines to tick, checklists, sources of all figures"),
    ("site.toml", "The site file, ready for the lines"),
    ("stakes.csv", "Pegs and line ends, for the total station or a tape"),
    ("plan.json", "All figures for scripts"),
    ("lines/", "Put the line files here"),
)
"""What a plan's folder holds, in the order in which people open it."""


def write_plan(out: Path, plan: Plan) -> None:
    """Write a plan into a new folder, whole or not at all.

    Raises
    ------
    OutputError
        Where the folder is not new or empty: a plan is never replaced, since people edit it.
    """
    with finished_folder(out, False) as folder:
        write_field_sheet(folder / "field-sheet.pdf", plan)
        write_text(folder / "site.toml", planned_site_text(plan))
        write_text(folder / "stakes.csv", stakes_csv(plan))
        write_text(folder / "plan.json", to_text(plan_record(plan)))
        (folder / "lines").mkdir()
