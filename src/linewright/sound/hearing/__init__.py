"""Hearing: from a recording of single-note playing to the notes that were played.

:func:`hear` takes samples and gives a :class:`Heard`. The way there: spectra and their rises
(``frames``, ``flux``), the pitches of every frame (``pitch``), the best division of the recording
into notes (``divide``), and each note's exact times, strength and attack (``notes``). Clicks and
backing that were played to the player are taken out first (``cancel``).
"""

from linewright.sound.hearing.listen import MAX_SECONDS, hear
from linewright.sound.hearing.model import Heard

__all__ = ["MAX_SECONDS", "Heard", "hear"]
