"""The demo library: what the issue asks of it, and that it is put in once."""

from collections import Counter

import pytest

from linewright.services.demo_library import add_demo_licks, demo_licks
from linewright.services.shelf import delete
from linewright.store import Query


@pytest.fixture(scope="module")
def demo():
    return list(demo_licks())


def test_there_are_enough_licks_of_enough_kinds(demo):
    licks = [brought.lick for _, brought in demo]
    assert len(licks) >= 16
    assert len({lick.style for lick in licks if lick.style}) >= 4
    assert len({lick.meter.text for lick in licks}) >= 3
    assert len({lick.instrument.tuning for lick in licks if lick.instrument}) >= 2
    assert any(lick.instrument and lick.instrument.name == "mandolin" for lick in licks)
    assert all(count == 1 for count in Counter(lick.title for lick in licks).values())


def test_demo_licks_are_added_once_and_stay_deleted(library, demo):
    assert add_demo_licks(library) == len(demo)
    delete(library, library.search(Query()).entries[0].id)
    assert add_demo_licks(library) == 0
    assert library.search(Query()).total == len(demo) - 1
