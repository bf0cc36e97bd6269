from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from gridmap.errors import ReadError
from gridmap.read.blocks import record_blocks


@pytest.mark.parametrize("at_once", [1, 3, 7, 50])
def test_blocks_together_are_the_file(tmp_path: Path, at_once: int) -> None:
    """Whatever the size of a block, every record comes once and in order, the last block being what is left."""
    content = np.arange(7 * 12 + 5, dtype=np.uint8)
    (tmp_path / "a").write_bytes(content.tobytes())
    with (tmp_path / "a").open("rb", buffering=0) as stream:
        got = [block.copy() for block in record_blocks(stream, 5, 12, 7, at_once, "a")]  # type: ignore[arg-type]
    np.testing.assert_array_equal(np.concatenate(got), content[5:].reshape(7, 12))
    assert all(len(block) <= at_once for block in got)


def test_a_file_that_shrinks_meanwhile_is_an_error_not_old_bytes(tmp_path: Path) -> None:
    """Half the file vanishes after the first block: the next one fails and names the file."""
    path = tmp_path / "a"
    path.write_bytes(bytes(100))
    with path.open("rb", buffering=0) as stream:
        blocks = record_blocks(stream, 0, 10, 10, 2, "a.sgy")  # type: ignore[arg-type]
        next(blocks)
        with path.open("r+b") as other:
            other.truncate(30)
        with pytest.raises(ReadError, match=r"a\.sgy: the file became shorter while it was read"):
            list(blocks)
