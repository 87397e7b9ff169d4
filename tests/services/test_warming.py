"""Warming up makes what it says, waits while there is something to do, and ends when told to."""

import asyncio
import threading
from concurrent.futures import ThreadPoolExecutor

from linewright.services import sounding, warming
from linewright.sound.band import STYLES
from linewright.web.idle import Idle


def test_a_fresh_server_has_a_score_and_every_band_at_hand():
    sounding._bar_wav.cache_clear()
    assert warming.warm_up(lambda: True) == 4 + len(STYLES)
    assert sounding._bar_wav.cache_info().currsize == 1 + len(STYLES)


def test_what_cannot_be_made_is_left_to_the_page_that_needs_it(monkeypatch):
    def broken():
        raise OSError("no fonts")

    monkeypatch.setattr(warming, "_steps", lambda: iter((broken, str)))
    assert warming.warm_up(lambda: True) == 1


def test_it_ends_when_the_server_does():
    assert warming.warm_up(lambda: False) == 0


def test_it_waits_while_somebody_is_answered():
    seen = []
    waited = threading.Event()

    async def answer(scope, receive, send):
        thread = threading.Thread(target=lambda: (seen.append(idle.wait()), waited.set()))
        thread.start()
        await asyncio.sleep(0.1)
        assert not waited.is_set()  # not while this is answered, however long it takes

    idle = Idle(answer, quiet_s=0.0)
    # in a thread of its own: a browser test before may have left a loop running in this one
    with ThreadPoolExecutor(1) as own:
        own.submit(asyncio.run, idle({"type": "http"}, None, None)).result()
    assert waited.wait(10)
    assert seen == [True]
    idle.stop()
    assert idle.wait() is False
