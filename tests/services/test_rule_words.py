"""Rules in words: one note is no "notes", nothing is "-0 ms"."""

import pytest

from linewright.services.rule_words import allowed, measured


@pytest.mark.parametrize(
    ("key", "limit", "unit", "words"),
    [
        ("notes", 1.0, "notes", "at most 1 note"),
        ("leap", 2.0, "leaps", "at most 2 leaps"),
        ("flow", 4.0, "bars", "at least 4 bars"),
        ("often b5", 1.0, "times", "at least 1 time"),
        ("tempo", 73.0, "beats a minute", "73 beats a minute"),
        ("variety", 0.5, "share of bars", "at most 50 % of bars"),
        ("mean", None, "ms", "–"),
    ],
)
def test_what_is_allowed(key, limit, unit, words):
    assert allowed(key, limit, unit) == words


@pytest.mark.parametrize(
    ("key", "value", "unit", "words"),
    [
        ("drift", -0.1, "ms", "0 ms"),
        ("drift", -12.3, "ms", "12 ms faster"),
        ("drift", 12.3, "ms", "12 ms slower"),
        ("mean", 0.2, "ms", "on time"),
        ("mean", -8.0, "ms", "8 ms early"),
        ("spread", 0.3, "ms", "0 ms"),
        ("notes", 1.0, "notes", "1 note"),
        ("notes", None, "notes", "–"),
    ],
)
def test_what_was_measured(key, value, unit, words):
    assert measured(key, value, 1.0, unit, passed=True) == words


def test_the_last_beat_of_a_stream_is_not_missed():
    assert measured("flow", 3.8, 4.0, "bars", passed=True) == "4 bars"
    assert measured("flow", 3.8, 4.0, "bars", passed=False) == "3.8 bars"
