"""What a command writes is there whole or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from linewright.cli import main
from linewright.cli.options import save
from linewright.errors import WriteError


def test_a_file_is_replaced_whole_and_leaves_nothing_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "line.wav"
    save(path, b"first")
    save(path, b"second")
    assert path.read_bytes() == b"second"
    assert list(tmp_path.iterdir()) == [path]


def test_a_write_that_fails_keeps_the_file_there_was(tmp_path, monkeypatch) -> None:
    path = tmp_path / "line.wav"
    save(path, b"first")

    def full(_descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(WriteError, match="No space left"):
        save(path, b"second")
    assert path.read_bytes() == b"first"
    assert list(tmp_path.iterdir()) == [path]


def test_a_link_stays_a_link_and_a_missing_folder_is_said(tmp_path: Path) -> None:
    real, link = tmp_path / "real.tab", tmp_path / "link.tab"
    real.write_bytes(b"old")
    link.symlink_to(real)
    save(link, b"new")
    assert link.is_symlink()
    assert real.read_bytes() == b"new"
    with pytest.raises(WriteError, match="cannot be written"):
        save(tmp_path / "missing" / "line.wav", b"x")


def test_hear_names_the_file_it_cannot_read(tmp_path: Path, capsys) -> None:
    path = tmp_path / "words.wav"
    path.write_text("only words\n" * 50)
    assert main(["hear", str(path)]) == 2
    assert "words.wav" in capsys.readouterr().err
