"""One browser and one service for all tests of the page, and a page for each."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from browser import FLAGS, NotThere, chromium
from playwright.sync_api import Browser, Page, Playwright, sync_playwright
from serving import Running, running

from page.common import opened


@pytest.fixture(scope="package")
def playwright() -> Iterator[Playwright]:
    with sync_playwright() as found:
        yield found


@pytest.fixture(scope="package")
def browser(playwright: Playwright) -> Iterator[Browser]:
    try:
        path = chromium()
    except NotThere as fault:
        pytest.skip(str(fault))
    found = playwright.chromium.launch(executable_path=path, args=list(FLAGS))
    yield found
    found.close()


@pytest.fixture(scope="package")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with running(tmp_path_factory.mktemp("page") / "jobs", "--solve-seconds", "1000000") as one:
        yield one


@pytest.fixture
def page(browser: Browser, service: Running) -> Iterator[Page]:
    with opened(browser, service) as one:
        yield one
