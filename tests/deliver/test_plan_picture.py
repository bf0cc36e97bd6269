"""The plan of the lines walked."""

import numpy as np
from PIL import Image

from gridmap.deliver.drawing import OUTLINE
from gridmap.deliver.plan_picture import RIGHTED, PlanLine, draw_plan, write_plan_picture


def _lines():
    up = np.column_stack([np.zeros(50), np.linspace(0, 5, 50)])
    shift = np.array([1.0, 0.0])
    return [
        PlanLine("A1", up),
        PlanLine("A2", up[::-1] + shift, suspected=("reversed",)),
        PlanLine("A3", up + 2 * shift, applied=("along +0.40 m",)),
    ]


def _count(image, colour):
    return int((np.asarray(image) == np.array(colour)).all(axis=2).sum())


def test_suspects_and_righted_lines_stand_out():
    """A suspect is drawn in its colour and listed; without suspects only the legend has that colour."""
    image = draw_plan("court", _lines())
    sound = draw_plan("court", [PlanLine(ln.name, ln.xy_m) for ln in _lines()])
    assert _count(image, OUTLINE) > 1000 + _count(sound, OUTLINE)
    assert _count(image, RIGHTED) > 500 + _count(sound, RIGHTED)


def test_one_short_line_can_be_drawn():
    """Two traces of one line make a picture."""
    assert draw_plan("x", [PlanLine("A", np.array([[0.0, 0.0], [0.2, 0.0]]))]).width == 1500


def test_file_is_a_png(tmp_path):
    """The file opens as PNG and nothing else is left beside it."""
    write_plan_picture(tmp_path / "plan.png", "court", _lines())
    assert Image.open(tmp_path / "plan.png").format == "PNG"
    assert [p.name for p in tmp_path.iterdir()] == ["plan.png"]
