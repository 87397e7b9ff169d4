"""Running the app as a program."""

import signal
import socket
import subprocess
import sys
import urllib.request

import pytest

from linewright.errors import OptionError, StoreError
from linewright.web import app
from linewright.web.app import serve

PROGRAM = """
import sys
from linewright.web.app import serve
serve(sys.argv[1], port=0, demo=True, announce=lambda address: print(address, flush=True))
"""


def test_it_starts_answers_and_stops_when_interrupted(tmp_path):
    path = tmp_path / "library.db"
    process = subprocess.Popen(
        [sys.executable, "-c", PROGRAM, str(path)], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    try:
        address = process.stdout.readline().decode().strip()
        assert address.startswith("http://127.0.0.1:")
        with urllib.request.urlopen(address, timeout=20) as answer:
            page = answer.read().decode()
        assert "licks</p>" in page.replace("\n", "")
        process.send_signal(signal.SIGINT)
        _, errors = process.communicate(timeout=20)
        assert b"Traceback" not in errors
    finally:
        process.kill()
        process.communicate()
    assert [file.name for file in tmp_path.iterdir()] == ["library.db"]


def test_a_taken_port_is_said_clearly(tmp_path):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        with pytest.raises(OptionError, match=f"cannot listen on 127.0.0.1, port {port}"):
            serve(tmp_path / "library.db", port=port)
    assert not (tmp_path / "library.db").exists()


def test_without_a_port_asked_for_a_free_one_is_found(monkeypatch):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        monkeypatch.setattr(app, "DEFAULT_PORT", other.getsockname()[1])
        with app._listen("127.0.0.1", None) as found:
            assert found.getsockname()[1] not in (0, other.getsockname()[1])


def test_what_cannot_be_served_is_refused(tmp_path):
    with pytest.raises(OptionError, match="not a port"):
        serve(tmp_path / "library.db", port=70_000)
    with pytest.raises(OptionError, match="cannot listen"):
        serve(tmp_path / "library.db", host="203.0.113.9", port=0)
    with pytest.raises(StoreError, match="there is no folder"):
        serve(tmp_path / "no" / "library.db", port=0)
