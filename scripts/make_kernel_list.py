"""Write gridmap/pipeline/kernels.txt: the kernels that the demo compiles, in the order in which it needs them.

Usage: PYTHONPATH=. python scripts/make_kernel_list.py [FILE]
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from numba.core import config, event, types

HERE = Path(__file__).parent.parent / "gridmap" / "pipeline" / "kernels.txt"


def kinds_in_words(kinds: tuple[types.Type, ...]) -> str:
    """Types of arguments as numba reads them, such as (float32[:,::1], int64)."""
    return f"({', '.join(_kind(t) for t in kinds)})"


def _kind(t: types.Type) -> str:
    if isinstance(t, types.Array):
        last = "::1" if t.layout == "C" else ":"
        return f"{_kind(t.dtype)}[{','.join([':'] * (t.ndim - 1) + [last])}]"
    if isinstance(t, types.BaseTuple):
        return f"Tuple(({', '.join(_kind(m) for m in t)}))"
    return "boolean" if isinstance(t, types.Boolean) else str(t)


class Recorder(event.Listener):
    """Notes every kernel that is compiled for a call from Python, and not for another kernel."""

    def __init__(self) -> None:
        self.depth = 0
        self.rows: list[str] = []

    def on_start(self, event: event.Event) -> None:
        """Note a kernel that is about to be compiled."""
        function = event.data["dispatcher"].py_func
        if self.depth == 0:
            self.rows.append(
                f"{function.__module__} {function.__name__} {kinds_in_words(event.data['args'])}"
            )
        self.depth += 1

    def on_end(self, event: event.Event) -> None:
        """Come back to the kernel before."""
        self.depth -= 1


def main() -> None:
    """Map the demo with no kernel on disk, and write down what was compiled."""
    import gridmap
    from gridmap.pipeline.map_site import map_site
    from gridmap.site.load import load_site

    recorder = Recorder()
    demo = Path(gridmap.__file__).parent / "demo_data" / "site.toml"
    with tempfile.TemporaryDirectory() as folder, event.install_listener("numba:compile", recorder):
        config.CACHE_DIR = f"{folder}/kernels"
        map_site(load_site(demo), Path(folder) / "map")
    Path(sys.argv[1] if len(sys.argv) > 1 else HERE).write_text(
        "\n".join(recorder.rows) + "\n", encoding="utf-8"
    )


if __name__ == "__main__":
    main()
