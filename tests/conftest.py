"""Fixtures of the tests that need a library or the web app."""

import os

# Each worker keeps to one core, which numpy's threads would not.
os.environ.setdefault("OMP_NUM_THREADS", "1")

import pytest
from hypothesis import HealthCheck, settings

from samples import PORCH

# Laws are judged, not raced: a busy machine fails no test. On CI the cases are always the same.
settings.register_profile(
    "steady",
    deadline=None,
    derandomize=bool(os.environ.get("CI")),
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("steady")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """The tests of a file go to one worker, so what they share is made once."""
    for item in items:
        if item.get_closest_marker("xdist_group") is None:
            item.add_marker(pytest.mark.xdist_group(item.path.stem))


@pytest.fixture
def library(monkeypatch):
    from libraries import memory_library

    with memory_library(monkeypatch) as opened:
        yield opened


@pytest.fixture(scope="session")
def one_app():
    from linewright.web.app import create_app

    return create_app(None)


@pytest.fixture
def app(one_app, library):
    """The app over the test's library: one for all tests, since its routes take longest."""
    one_app.state.library = library
    yield one_app
    one_app.state.library = None


@pytest.fixture
def client(app):
    from fastapi.testclient import TestClient

    # raise_server_exceptions=False: what a browser would see, a 500 included
    with TestClient(app, base_url="http://127.0.0.1:8765", raise_server_exceptions=False) as made:
        yield made


@pytest.fixture
def porch(library):
    from linewright.services.bring import bring_in
    from linewright.services.shelf import keep

    return keep(library, bring_in(PORCH.encode()))


@pytest.fixture(scope="session")
def porch_text():
    return PORCH
