"""What of a written take can be sounded."""

from dataclasses import replace

import pytest

from linewright.errors import MusicError
from linewright.services.bring import bring_in
from linewright.services.sounding import bar_wav
from linewright.services.take_sound import playable
from linewright.theory import Pitch
from samples import PORCH


def test_a_note_the_instrument_has_not_leaves_the_rest_to_be_heard():
    """A guitar's lowest string is E2 (common practice); the ear may say D2."""
    lick = bring_in(PORCH.encode()).lick
    bare = tuple(replace(n, string=None, fret=None, marks=()) for n in lick.notes)
    heard = lick.with_(notes=(*bare[:-1], replace(bare[-1], pitch=Pitch.parse("D2"))))
    with pytest.raises(MusicError, match="below the lowest note"):
        bar_wav(heard, "lead", 0)
    assert playable(heard).notes == bare[:-1]
    assert bar_wav(playable(heard), "lead", 0).startswith(b"RIFF")
    assert playable(lick) == lick
