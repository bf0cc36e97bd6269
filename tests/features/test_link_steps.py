"""The compiled loops of linking against plain geometry and against a published routine's shortest paths."""

import itertools

import numpy as np
import pytest
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import cKDTree

from gridmap.features.link_steps import Squares, cheapest_path, step_table, take_beside

GAP, DIP, TURN, LEVEL = 0.7, 0.25, 30.0, 3.2


@pytest.fixture(scope="module")
def crests():
    """Places, directions and strengths without order."""
    rng = np.random.default_rng(3)
    xyz = rng.uniform(0, [5, 4, 1], (900, 3))
    return xyz, rng.uniform(0, np.pi, 900), rng.uniform(2.5, 8, 900)


def table_of(crests):
    xyz, angle, strength = crests
    return step_table(Squares.of(xyz[:, :2], GAP).table, xyz, angle, strength, GAP, DIP, TURN, LEVEL)


def test_steps_are_all_pairs_within_reach_that_turn_little(crests):
    """Every pair near enough by a k-d tree (scipy) that meets both directions is a step each way, and no other is."""
    xyz, angle, _ = crests
    first, target, cost = table_of(crests)
    expected = set()
    for i, j in cKDTree(xyz[:, :2]).query_pairs(GAP):
        for a, b in ((i, j), (j, i)):
            dx, dy, dz = xyz[b] - xyz[a]
            bearing = np.arctan2(dy, dx)
            off = np.array([bearing - angle[a], bearing - angle[b]])
            if abs(dz) <= DIP * np.hypot(dx, dy) and (np.abs(np.sin(off)) <= np.sin(np.radians(TURN))).all():
                way = (np.cos(off) <= 0).astype(int)
                expected.add((2 * a + way[0], 2 * b + way[1]))
    node = np.repeat(np.arange(len(first) - 1), np.diff(first))
    assert set(zip(node.tolist(), target.tolist(), strict=True)) == expected
    assert len(target) == len(expected) > 1000
    assert (cost > 0).all()


def test_paths_are_cheapest_and_the_work_space_is_left_clean(crests):
    """Cost of the path found equals the distance on the graph that scipy's Dijkstra gives."""
    xyz = crests[0]
    first, target, cost = table_of(crests)
    nodes = len(first) - 1
    graph = csr_matrix((cost, target, first), shape=(nodes, nodes))
    work = np.full(nodes, np.inf), np.zeros(nodes), np.full(nodes, -1), np.zeros(nodes, bool)
    longest = 0
    for source in range(0, nodes, 37):
        path = cheapest_path(first, target, cost, xyz, np.ones(len(xyz), bool), source, *work)
        spent = sum(graph[a, b] for a, b in itertools.pairwise(path))
        assert spent == pytest.approx(dijkstra(graph, indices=source)[path[-1]])
        longest = max(longest, len(path))
    assert longest > 2
    assert np.isinf(work[0]).all()
    assert not work[1].any()
    assert (work[2] == -1).all()
    assert not work[3].any()


def test_what_lies_beside_a_path_is_taken(crests):
    """Points within reach of a straight line, at its depth and along it, or almost on it, are used; all others stay."""
    xyz, angle, _ = crests
    line = np.stack([np.linspace(-1, 6, 141), np.full(141, 2.0), np.full(141, 0.5)], axis=1)
    spare, far = np.ones(len(xyz), bool), np.full(len(xyz), np.inf)
    table = Squares.of(xyz[:, :2], GAP).table
    take_beside(table, xyz, angle, spare, line, 0.3, 0.15, 35.0, 0.1, far, np.zeros(len(xyz), np.int64))
    off = np.hypot(xyz[:, 1] - 2.0, (xyz[:, 0] - np.round(xyz[:, 0] / 0.05) * 0.05))
    level = np.abs(xyz[:, 2] - 0.5) <= 0.15
    along = np.abs(np.sin(angle)) <= np.sin(np.radians(35.0))
    assert np.array_equal(spare, ~((off < 0.3) & level & (along | (off < 0.1))))
    assert 0 < (~spare).sum() < len(spare)
    assert np.isinf(far).all()
