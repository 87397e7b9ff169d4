"""Fixtures of the browser tests: one browser, one server with an empty library, pages of two sizes."""

from datetime import UTC, datetime

import pytest
from browser_rig import FLAGS, SIZES, Watch, chromium, served

from linewright.store import Query


@pytest.fixture(scope="session")
def playing():
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        yield playwright


@pytest.fixture(scope="session")
def browser(playing):
    launched = playing.chromium.launch(executable_path=chromium(), args=FLAGS)
    yield launched
    launched.close()


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    with served(tmp_path_factory.mktemp("library") / "library.db") as running:
        yield running


@pytest.fixture
def library(server):
    """The served library, emptied."""
    opened = server[0]
    for entry in opened.search(Query()).entries:
        opened.delete(entry.id, now=entry.created)
    for student in opened.plans.students():
        opened.plans.delete_student(student.id, now=student.created)
    opened.purge(before=datetime.now(UTC))
    return opened


@pytest.fixture(params=SIZES)
def page(request, browser, server):
    width, height = SIZES[request.param]
    context = browser.new_context(
        base_url=server[1], viewport={"width": width, "height": height}, accept_downloads=True
    )
    opened = context.new_page()
    opened.set_default_timeout(15_000)
    watch = Watch(opened)
    yield opened
    wide = opened.evaluate("document.documentElement.scrollWidth")
    context.close()
    assert watch.odd == []
    assert wide <= width
