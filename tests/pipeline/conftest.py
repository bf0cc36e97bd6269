import pytest
from small_survey import write_small_survey

import gridmap


@pytest.fixture(scope="session")
def mapped(tmp_path_factory):
    """One finished map of the small survey: (result, site file)."""
    folder = tmp_path_factory.mktemp("small")
    site = write_small_survey(folder)
    return gridmap.map(site, folder / "out"), site
