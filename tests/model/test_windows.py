"""Labels and file names of windows."""

from gridmap.model import Window


def test_labels_speak_in_the_windows_own_axis():
    """Depth in metres, time in nanoseconds."""
    assert Window("depth", 0.4, 0.5, 8.0, 10.0).label == "0.40 to 0.50 m"
    assert Window("time", 0.4, 0.5, 8.0, 10.0).label == "8.0 to 10.0 ns"


def test_stems_have_no_character_that_a_file_system_refuses():
    """Letters, digits, dot, dash and underscore only."""
    for window in (Window("depth", 0, 0.12, 0, 2), Window("time", 0, 0.1, 0, 2)):
        assert all(c.isalnum() or c in "._-" for c in window.stem)
