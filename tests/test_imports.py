"""`import gridmap` and `gridmap --help` are light."""

import subprocess
import sys
from pathlib import Path

import pytest

RUNNER = "from click.testing import CliRunner; from gridmap.cli.main import cli"
ROOT = Path(__file__).parents[1]
HEAVY = (
    "numpy",
    "scipy",
    "numba",
    "rasterio",
    "geopandas",
    "pyvista",
    "vtk",
    "matplotlib",
    "PIL",
    "zarr",
    "pyproj",
)


@pytest.mark.parametrize(
    "code",
    [
        "import gridmap",
        f"{RUNNER}; CliRunner().invoke(cli, ['--help'])",
        f"{RUNNER}; CliRunner().invoke(cli, ['map', '--help'])",
    ],
)
def test_no_heavy_library_is_loaded(code):
    """Nothing that takes longer than a blink."""
    check = f"import sys; {code}; print([m for m in {HEAVY!r} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", check], capture_output=True, text=True, cwd=ROOT, timeout=60)
    assert done.stdout.strip() == "[]", done.stderr


def test_public_names_exist():
    """`__all__` names what is there."""
    import gridmap
    import gridmap.model

    for module in (gridmap, gridmap.model):
        assert all(hasattr(module, name) for name in module.__all__)
        assert sorted(module.__all__, key=str.lower) == sorted(set(module.__all__), key=str.lower)
