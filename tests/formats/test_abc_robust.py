"""Whatever the text, only errors of our own family come out, and time stays linear."""

from __future__ import annotations

import contextlib
import time
from functools import cache
from pathlib import Path
from typing import Literal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewright.errors import ChoiceNeeded, LinewrightError
from linewright.formats.abc import decode, read_abc, split_book
from linewright.score import problems

_SIGNS = "ABCDEFGabcdefgzxZ|:[](){}<>-/'\",^_=.~!+&%\\*0123456789 \nHLMOPSTuvyKMLVQXUP"


@cache
def corpus_tunes() -> list[str]:
    music21 = pytest.importorskip("music21")
    folder = Path(music21.__file__).parent / "corpus"
    texts = [
        (folder / "oneills1850" / "0001-0050.abc").read_bytes(),
        (folder / "airdsAirs" / "book6.abc").read_bytes(),
    ]
    return [tune.text for data in texts for tune in split_book(decode(data))]


def read_quietly(text: str, *ways: Literal["once", "play"]) -> None:
    """Read, and let nothing but our own errors end it quietly."""
    for repeats in ways or ("once", "play"):
        with contextlib.suppress(LinewrightError):
            try:
                lick = read_abc(text, repeats=repeats)
            except ChoiceNeeded as choice:
                if "voices" not in choice.message:
                    raise
                lick = read_abc(text, voice=choice.options[0], repeats=repeats)
            assert not problems(lick)


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=200))
def test_any_text(text: str) -> None:
    read_quietly(text)


@settings(max_examples=400, deadline=None)
@given(st.text(_SIGNS, max_size=120), st.sampled_from(["C", "Gmix", "none", "D exp _b"]))
def test_any_music_line(body: str, key: str) -> None:
    read_quietly(f"X:1\nM:6/8\nK:{key}\n{body}\n")


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_mutated_tunes(data: st.DataObject) -> None:
    text = data.draw(st.sampled_from(corpus_tunes()))
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, len(text)))
        cut = data.draw(st.integers(0, 8))
        text = text[:at] + data.draw(st.text(_SIGNS, max_size=6)) + text[at + cut :]
    read_quietly(text)


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes(data: bytes) -> None:
    try:
        text = decode(data)
    except LinewrightError:
        return
    read_quietly(text)


@pytest.mark.parametrize(
    "unit",
    [
        "A", "[", "]", "(", "{", '"', "!", "+", ":", "|", "::", "|:", ":|", "[1", "|1 A:|", "A-",
        "A>", "(3", "^", "'", "1", "/", "&", "\\", "%", "[K:", "[V:2]A", "A,", " ", "`", "\n",
        "\nK:C", "\nV:1\nA", "[M:3/4]A|", "Z9", "A/3", "(7A", '"C"A', "!x", "+A", ".", "U:", "\nP:A\nA",
        "|:A|1 B:|2 c|", "X", "\\u", "&amp;", "-", "A[", "[CE]-", "{A}", "A&B|",
    ],
)  # fmt: skip
def test_long_runs_take_linear_time(unit: str) -> None:
    def seconds(size: int) -> float:
        text = "X:1\nT:" + unit.replace("\n", "") * (size // 40) + "\nM:4/4\nK:C\nA"
        text += unit * (size // len(unit)) + "\n"
        start = time.process_time()
        read_quietly(text, "once")
        return time.process_time() - start

    assert seconds(40_000) < 4.0  # a quadratic step at this size takes far longer


def test_a_file_of_fifty_megabytes_is_refused_at_once() -> None:
    start = time.process_time()
    with pytest.raises(LinewrightError, match="8,000,000"):
        decode(b"X:1\nK:C\nABC|" * 4_200_000)
    assert time.process_time() - start < 1.0
