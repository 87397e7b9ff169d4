"""The command about recordings: hear."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from linewright.cli.options import Instrument, print_json, say
from linewright.errors import OptionError, ReadError, TooLarge

__all__ = ["hear"]


def hear(
    audio: Annotated[Path, typer.Argument(help="The recording: wav, flac, mp3, m4a, ogg, opus, webm; or a MIDI file.", metavar="AUDIO")],
    tempo: Annotated[float | None, typer.Option(help="Beats a minute the playing follows, when known.", metavar="BPM")] = None,
    instrument: Instrument = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the notes as JSON.")] = False,
) -> None:  # fmt: skip
    """Hear the notes of a recording in which one note is played at a time.

    Prints each note's onset, length, pitch, strength and attack, and how sure it is; with --json
    everything, as documented in docs/hearing.md.
    """
    from linewright.services.hearing import hear_file, heard_text

    if tempo is not None and not 10 <= tempo <= 1000:
        raise OptionError(f"--tempo {tempo:g}", accepted="Use 10 to 1000 beats a minute")
    named = None
    if instrument:
        from linewright.fretboard import parse_instrument

        named = parse_instrument(instrument, None, 0)
    data = _read(audio)
    try:
        heard = hear_file(data, tempo=tempo, instrument=named)
    except (ReadError, TooLarge) as error:
        raise error.in_file(audio.name) from error.__cause__
    if as_json:
        print_json(heard.to_dict())
    else:
        say(heard_text(heard))


def _read(path: Path) -> bytes:
    """A recording's bytes, if they are not too many."""
    from linewright.sound.decode import MAX_AUDIO_BYTES

    try:
        with path.open("rb") as stream:
            data = stream.read(MAX_AUDIO_BYTES + 1)
    except OSError as error:
        raise ReadError(
            f"{path} cannot be read: {error.strerror or error}", accepted="Name a recording"
        ) from error
    if len(data) > MAX_AUDIO_BYTES:
        raise TooLarge(
            f"{path.name} has more than {MAX_AUDIO_BYTES:,} bytes",
            accepted="Save it as flac or mp3, or cut it",
        )
    return data
