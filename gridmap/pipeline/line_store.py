"""Prepared lines in the work folder: each found again by its file's SHA-256 and by what placed and prepared it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from gridmap.check.line import LineCheck
from gridmap.condition.recipe import Recipe
from gridmap.model import CleanLine, PlacedLine
from gridmap.pipeline.frame import Frame
from gridmap.pipeline.inputs import Inputs, shared_files
from gridmap.pipeline.kept import digest
from gridmap.pipeline.work import Work
from gridmap.site.records import LinePlan, Site


@dataclass(frozen=True, slots=True)
class Prepared:
    """One line, read, placed and conditioned by itself.

    Attributes
    ----------
    placed : PlacedLine
        Without samples.
    clean : CleanLine
        Not yet conditioned with the others.
    notes, warnings : tuple of str
        What placing it said.
    check : LineCheck or None
        What it was judged to be; None: nobody judged.
    """

    placed: PlacedLine
    clean: CleanLine
    notes: tuple[str, ...]
    warnings: tuple[str, ...]
    check: LineCheck | None = None


class LineStore:
    """Keeps prepared lines of one survey.

    Parameters
    ----------
    work : Work
        Where.
    inputs : Inputs
        Hashes the files.
    site, frame
        What the lines are read and placed by.
    """

    def __init__(self, work: Work, inputs: Inputs, site: Site, frame: Frame) -> None:
        self.work, self.inputs, self.site = work, inputs, site
        files = [*shared_files(site)]
        if site.track is not None and site.track.time_offset_s is None:
            files += [
                plan.file for plan in site.lines if plan.placing == "track"
            ]  # Clocks are set by all of them.
        self._shared = digest(
            frame.transform, frame.crs_wkt, site.antenna, site.track, site.stations, site.terrain,
            site.layouts, site.processing.sample_interval_ns, [inputs.sha256(path) for path in files],
        )  # fmt: skip

    def line_key(self, plan: LinePlan) -> str:
        """Say what a placed line depends on."""
        return digest(self._shared, replace(plan, file=Path(plan.file.name)), self.inputs.sha256(plan.file))

    def keys(self, recipe: Recipe) -> list[str]:
        """Say what the prepared lines are, all of them."""
        return [digest(self.line_key(plan), recipe) for plan in self.site.lines]

    def recipe(self, first: LinePlan) -> Recipe | None:
        """Return the settings that were chosen by the first line."""
        found: Recipe | None = self.work.look("recipe", self._recipe_key(first))
        return found

    def keep_recipe(self, first: LinePlan, recipe: Recipe) -> None:
        """Keep the settings that were chosen by the first line."""
        self.work.keep("recipe", self._recipe_key(first), recipe)

    def _recipe_key(self, first: LinePlan) -> str:
        wish = self.site.processing
        steps = wish.recipe, wish.band_mhz, wish.dewow_ns, wish.background_m
        return self.work.key("recipe", self.line_key(first), self.site.antenna, steps)

    def look(self, plan: LinePlan, recipe: Recipe) -> Prepared | None:
        """Return a prepared line, its traces in a file; None where it is not there."""
        key = self.work.key("prepared", self.line_key(plan), recipe)
        found: Prepared | None = self.work.look("prepared", key)
        return found

    def keep(self, plan: LinePlan, recipe: Recipe, made: Prepared) -> Prepared:
        """Keep a prepared line, and return it with its traces in a file.

        Raises
        ------
        ReadError
            If the line's file is not the same any more as when its SHA-256 was taken.
        """
        self.inputs.refuse_changed(plan.file)
        key = self.work.key("prepared", self.line_key(plan), recipe)
        traces = self.work.store("prepared", key, made.clean.traces)
        made = replace(made, clean=replace(made.clean, traces=traces))
        self.work.keep("prepared", key, made)
        return made
