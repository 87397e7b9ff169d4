"""What is wrong with an uploaded file is said of it by its name, in the API and on the pages."""

from html import unescape

import pytest

from libraries import planned_library

NAME = "Tuesday's try.wav"


@pytest.fixture
def library(tmp_path):
    with planned_library(tmp_path / "library.db") as opened:
        yield opened


@pytest.mark.parametrize(
    ("address", "data"),
    [
        ("/api/plans/1/steps/1/takes", b"RIFF\x00\x00\x00\x00WAVEnothing"),
        ("/api/plans/1/steps/1/takes", b"MThd"),
        ("/api/calibration", b"no recording"),
        ("/api/files", b"\x00\x01\x02"),
        ("/api/library/import", b"no zip"),
    ],
)
def test_the_api_names_the_file(client, address, data):
    answer = client.post(address, files={"file": (NAME, data)})
    assert answer.status_code == 400
    assert answer.json()["error"]["file"] == NAME


@pytest.mark.parametrize(
    ("address", "data", "fields"),
    [
        ("/plans/1/steps/1/takes", b"no recording", {"bpm": "80", "start": ""}),
        ("/new/file", b"\x00\x01\x02", {}),
        ("/library/import", b"no zip", {}),
    ],
)
def test_a_page_names_the_file(client, address, data, fields):
    answer = client.post(address, files={"file": (NAME, data)}, data=fields)
    assert answer.status_code == 400
    assert f"<strong>{NAME}: " in unescape(answer.text)


def test_what_is_not_the_files_fault_names_none(client):
    answer = client.post(
        "/api/plans/1/steps/1/takes", files={"file": (NAME, b"x")}, data={"bpm": 5}
    )
    assert answer.json()["error"]["file"] is None
    error = client.post("/api/plans/1/steps/1/takes", data={"bpm": "80"}).json()["error"]
    assert (error["file"], error["message"]) == (None, "no file was chosen")


def test_a_name_is_said_without_what_cannot_be_printed(client):
    answer = client.post("/api/calibration", files={"file": ("a\x07" + "b" * 200, b"x")})
    said = answer.json()["error"]["file"]
    assert said.isprintable()
    assert len(said) <= 80
