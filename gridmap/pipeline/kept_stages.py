"""The stages that are worth keeping: done once, taken from the work folder by a run that goes on.

Each key names what the stage looks at and the key of the stage before, so that a changed setting redoes what depends on
it. A stage that comes to look at another setting must name it here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from gridmap.condition.air_echo import AirEcho
from gridmap.condition.levels import Levels
from gridmap.condition.recipe import Conditioned, Recipe, finish_lines
from gridmap.features.find import find_features
from gridmap.features.ground import Ground
from gridmap.model import CleanLine, Features, PlacedLine
from gridmap.pipeline.air_echoes import quiet_air_echoes
from gridmap.pipeline.frame import Frame
from gridmap.pipeline.inputs import Inputs
from gridmap.pipeline.kept import digest
from gridmap.pipeline.level_lines import level_lines
from gridmap.pipeline.line_store import LineStore
from gridmap.pipeline.read_lines import put_right
from gridmap.pipeline.run import Run
from gridmap.pipeline.terrain import along_ground
from gridmap.pipeline.volume_stage import Filled, Filling, fill
from gridmap.pipeline.work import Work
from gridmap.pipeline.workers import Workers
from gridmap.place.corrections import Corrections
from gridmap.place.dispatch import Survey
from gridmap.site.records import Site
from gridmap.velocity.evidence import VelocityEvidence, survey_velocity


class KeptStages:
    """Stages of one job.

    Parameters
    ----------
    site, frame, run, work, inputs
        Of the job.
    who : Workers
        Who makes the parts of a large volume.
    """

    def __init__(self, site: Site, frame: Frame, run: Run, work: Work, inputs: Inputs, who: Workers) -> None:
        self.who = who
        self.site, self.frame, self.run, self.work = site, frame, run, work
        self.lines = LineStore(work, inputs, site, frame)
        self.key = ""

    def conditioned(self, clean: list[CleanLine], recipe: Recipe) -> Conditioned:
        """Condition all lines together; their traces in files."""
        key = self._next("conditioned", self.lines.keys(recipe))

        def make() -> Conditioned:
            samples = min(line.traces.shape[1] for line in clean)
            made, lines = self.work.rewrite(
                "conditioned", key, clean, samples, lambda copies: finish_lines(copies, recipe)
            )
            return replace(made, lines=tuple(lines))

        return self.work.once("conditioned", key, self.run, make)

    def put_right(
        self, signal: Conditioned, placed: list[PlacedLine], recipe: Recipe
    ) -> tuple[list[CleanLine], list[PlacedLine], Corrections]:
        """Put places right; see `gridmap.pipeline.read_lines.put_right`."""
        site = self.site
        key = self._next("placed", site.corrections, site.track is not None and site.track.latency_s)

        def make() -> tuple[list[CleanLine], list[PlacedLine], Corrections]:
            lines, moved, found = put_right(site, list(signal.lines), placed, recipe.interval_ns, self.run)
            return self.work.stored("placed", key, lines), moved, found

        return self.work.once("placed", key, self.run, make)

    def levelled(
        self, signal: Conditioned, lines: list[CleanLine], recipe: Recipe
    ) -> tuple[Conditioned, list[CleanLine], Levels]:
        """Take gains off that lines do not share; see `gridmap.pipeline.level_lines.level_lines`."""
        arrays = [(plan.name, plan.block, plan.swath, plan.channel) for plan in self.site.lines]
        key = self._next("levelled", self.site.corrections.gains, arrays)

        def rewrite(some: Sequence[CleanLine], change: Callable[[list[CleanLine]], None]) -> list[CleanLine]:
            return self.work.rewrite("levelled", key, some, some[0].traces.shape[1], change)[1]

        def make() -> tuple[Conditioned, list[CleanLine], Levels]:
            return level_lines(self.site, signal, lines, recipe, self.run, rewrite)

        return self.work.once("levelled", key, self.run, make)

    def velocity(
        self, lines: list[CleanLine], survey: Survey, recipe: Recipe
    ) -> tuple[VelocityEvidence, tuple[AirEcho, ...], list[CleanLine]]:
        """Find the velocity, and what stands above the ground."""
        site, run = self.site, self.run
        key = self._next("velocity", site.antenna, site.ground, site.processing.air_echoes)

        def rewrite(some: Sequence[CleanLine], change: Callable[[list[CleanLine]], None]) -> list[CleanLine]:
            return self.work.rewrite("velocity", key, some, some[0].traces.shape[1], change)[1]

        def make() -> tuple[VelocityEvidence, tuple[AirEcho, ...], list[CleanLine]]:
            evidence = survey_velocity(
                along_ground(lines, survey), recipe.interval_ns, site.antenna, site.ground
            )
            run.warnings += evidence.warnings
            run.notes.append(f"velocity: {evidence.velocity.source}")
            return evidence, *quiet_air_echoes(site, lines, recipe, self.frame.transform, run, rewrite)

        return self.work.once("velocity", key, self.run, make)

    def volume(self, filling: Filling, tick: Callable[[float], None]) -> Filled:
        """Fill the volume; see `gridmap.pipeline.volume_stage.fill`."""
        key = self._next("volume", *filling.depends())
        return self.work.once("volume", key, self.run, lambda: fill(filling, self.work, key, self.who, tick))

    def features(self, survey: Ground, spacing_m: float) -> Features:
        """Find what lies in the ground."""
        key = self._next(
            "features", survey.frequency_mhz, survey.shallow_m, survey.height_m, survey.shift, spacing_m
        )
        return self.work.once("features", key, self.run, lambda: find_features(survey, spacing_m))

    def _next(self, stage: str, *depends: object) -> str:
        """Name the next product by the one before and by what it looks at besides."""
        self.key = self.work.key(stage, digest(self.key, *depends))
        return self.key
