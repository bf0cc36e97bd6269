"""Tests marked `browser` need Chromium: without it they skip with the reason, and fail where CI=true."""

import os
import shutil

import pytest


def chromium():
    """Path of the browser, or None."""
    return next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)


def pytest_runtest_setup(item):
    if item.get_closest_marker("browser") is None or chromium() is not None:
        return
    why = "Chromium is not installed; scripts/setup-tests installs it"
    if os.environ.get("CI", "").lower() in ("1", "true"):
        pytest.fail(why, pytrace=False)
    pytest.skip(why)


@pytest.fixture(scope="module")
def browser():
    """One headless Chromium for a module's tests of pages; closed after it, since only one driver may run at a time."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=chromium(), args=["--no-sandbox"])
        yield running
        running.close()


@pytest.fixture(scope="session")
def mapped(tmp_path_factory):
    """One finished map of the small survey: (result, site file). Not to be changed: copy it."""
    from small_survey import write_small_survey

    import gridmap

    folder = tmp_path_factory.mktemp("small")
    site = write_small_survey(folder)
    return gridmap.map(site, folder / "out"), site
