"""Sound: a plucked-string render, click and backing; hearing, from audio to notes."""
