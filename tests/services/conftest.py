import pytest

from linewright.store import Library


@pytest.fixture
def library():
    with Library.open(":memory:") as opened:
        yield opened
