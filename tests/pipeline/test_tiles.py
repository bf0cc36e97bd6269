"""A volume made by tiles is the volume made at once, to the last bit, whoever makes them and however often it stops."""

import os
import pickle
import signal

import numpy as np
import pytest
from small_survey import files_of, write_small_survey

import gridmap
from gridmap.model import Grid
from gridmap.pipeline import volume_stage, workers
from gridmap.volume import tiles
from gridmap.volume.tiles import plan_tiles


@pytest.fixture
def small_tiles(monkeypatch):
    """Tiles of about 40 cells a side for the small survey, which would be one."""
    monkeypatch.setattr(tiles, "WHOLE_BYTES", 1)
    monkeypatch.setattr(tiles, "TILE_BYTES", 600_000)


def survey_of(folder, imaging):
    path = write_small_survey(folder / "s")
    text = path.read_text()
    assert "[processing]" not in text
    path.write_text(text + f'\n[processing]\nimaging = "{imaging}"\n')
    return path


@pytest.fixture(params=["3d", "2d", "none"])
def site(request, tmp_path):
    return survey_of(tmp_path, request.param)


def test_tiles_show_no_seam(site, tmp_path, monkeypatch):
    """Every file but run.json is that of the volume made at once: the difference at seams is nought."""
    whole = files_of(gridmap.map(site, tmp_path / "whole").out)
    monkeypatch.setattr(tiles, "WHOLE_BYTES", 1)
    monkeypatch.setattr(tiles, "TILE_BYTES", 600_000)
    planned = []
    monkeypatch.setattr(volume_stage, "plan_tiles", lambda *a: planned.append(plan_tiles(*a)) or planned[-1])
    assert files_of(gridmap.map(site, tmp_path / "tiled").out) == whole
    assert len(planned[0]) >= 4


def test_a_job_stopped_among_tiles_goes_on_there(small_tiles, tmp_path, monkeypatch):
    """Stopped at every fifth task and called again, no task is done twice, and the map is the same."""
    site = survey_of(tmp_path, "3d")
    whole = files_of(gridmap.map(site, tmp_path / "whole").out)
    ran = []

    def do(task):
        if len(ran) % 5 == 4:
            ran.append(None)
            raise KeyboardInterrupt
        task.run()
        ran.append(task.out.name)

    monkeypatch.setattr(volume_stage, "do", do)
    for _ in range(20):
        try:
            gridmap.map(site, tmp_path / "out")
            break
        except KeyboardInterrupt:
            assert not (tmp_path / "out").exists()
    names = [name for name in ran if name]
    assert len(ran) > len(names) > 8
    assert len(set(names)) == len(names)
    assert files_of(tmp_path / "out") == whole


def test_tasks_can_be_sent_elsewhere(small_tiles, tmp_path, monkeypatch):
    """Pickled, in any order and twice, tasks give the same map; none carries the traces with it."""
    site = survey_of(tmp_path, "3d")
    whole = files_of(gridmap.map(site, tmp_path / "whole").out)
    sizes = []

    class Elsewhere:
        def each(self, task, of, done):
            sent = [pickle.dumps(argument) for argument in of]
            sizes.extend(len(raw) for raw in sent)
            for raw in [*sent[::-1], *sent[:2]]:
                task(pickle.loads(raw))
            done(1.0)
            return [None for _ in of]

    monkeypatch.setattr(workers, "Here", Elsewhere)
    assert files_of(gridmap.map(site, tmp_path / "out").out) == whole
    assert 0 < max(sizes) < 1_000_000


def test_the_plan_covers_every_cell_once():
    """Tiles tile the grid, none larger than it may be, and small grids are one tile."""
    grid = Grid(0.3, -2.0, 0.05, 2003, 1501)
    plan = plan_tiles(grid, 256)
    seen = np.zeros(grid.shape, int)
    for tile in plan:
        seen[tile.part] += 1
        rows, columns = tile.grid(grid).shape
        assert 4 * 256 * rows * columns <= tiles.TILE_BYTES
    assert (seen == 1).all()
    assert len(plan_tiles(Grid(0.0, 0.0, 0.05, 401, 401), 256)) == 1


def test_a_gap_in_a_line_is_filled_alike_in_every_part(tmp_path):
    """A sum over a part of the grid is that part of the whole sum, with gaps and bent lines at its rim."""
    from gridmap.image.migrate import plan_3d, sum_3d
    from gridmap.model import CleanLine, VelocityModel

    noise = np.random.default_rng(4)
    lines = []
    for k in range(12):
        x = np.arange(0.0, 6.0, 0.04) + 0.01 * noise.standard_normal(150)
        y = 0.25 * k + 0.04 * np.sin(x)
        usable = np.ones(150, bool)
        usable[50 + 3 * k : 62 + 3 * k] = False
        traces = noise.standard_normal((150, 90)).astype(np.float32)
        lines.append(CleanLine(f"L{k}", np.stack([x, y], 1), x, traces, usable, 0.0))
    velocity = VelocityModel(np.array([0.0]), np.array([0.1]), 0.01, "stated")
    grid, depth_m = Grid(0.0, 0.0, 0.05, 60, 120), np.arange(24) * 0.02
    plan = plan_3d(lines, 0.2, 0.1, velocity, grid.cell_m, depth_m)
    whole = sum_3d(lines, plan, grid, (slice(0, 60), slice(0, 120)))
    for part in ((slice(20, 41), slice(35, 70)), (slice(0, 20), slice(70, 120))):
        for got, wanted in zip(sum_3d(lines, plan, grid, part), whole, strict=True):
            np.testing.assert_array_equal(got, wanted[:, part[0], part[1]])


@pytest.mark.slow
def test_a_cluster_that_loses_a_worker_makes_the_same_map(small_tiles, tmp_path, monkeypatch):
    """Two worker processes make the tiles, one is killed among them, and every file but run.json is as made here."""
    distributed = pytest.importorskip("distributed", reason="dask.distributed comes with the extra `test`")
    site = survey_of(tmp_path, "3d")
    whole = files_of(gridmap.map(site, tmp_path / "whole").out)
    killed = []
    each = workers.Scheduled.each

    def each_with_a_loss(self, task, of, done):
        def kill_one(share):
            if not killed and share > 0.2:
                pids = self.client.run(os.getpid)
                killed.append(min(pids.values()))
                os.kill(killed[0], signal.SIGKILL)
            done(share)

        return each(self, task, of, kill_one)

    monkeypatch.setattr(workers.Scheduled, "each", each_with_a_loss)
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=None
    ) as cluster:
        made = gridmap.map(site, tmp_path / "out", scheduler=cluster.scheduler_address).out
    assert killed
    assert files_of(made) == whole
