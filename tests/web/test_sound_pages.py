"""The addresses the player plays from."""

import pytest


def test_a_lick_has_a_map_and_bars_of_sound(client, porch):
    page = client.get(f"/licks/{porch.id}").text
    assert f'data-player-source="/licks/{porch.id}/sound"' in page
    told = client.get(f"/licks/{porch.id}/sound").json()
    assert [bar["number"] for bar in told["bars"]] == [1, 2]
    assert told["has_chords"]
    for stem, style in (("lead", ""), ("band", "usual"), ("click", "2and4"), ("count", "1")):
        answer = client.get(f"{told['sound']}/{stem}/1.wav?percent=80&style={style}")
        assert (answer.status_code, answer.headers["content-type"]) == (200, "audio/wav")
        assert answer.content[:4] == b"RIFF"
    for kind, head in (("mid", b"MThd"), ("flac", b"fLaC")):
        file = client.get(f"{told['sound']}.{kind}?band=usual")
        assert file.content[:4] == head
        assert (
            file.headers["content-disposition"] == f'attachment; filename="porch-step-band.{kind}"'
        )
    assert client.get(f"{told['sound']}.exe").status_code == 400
    whole = client.get(f"/licks/{porch.id}/sound.wav")
    assert whole.content[:4] == b"RIFF"


@pytest.mark.parametrize(
    ("address", "status"),
    [("lead/7.wav", 404), ("drums/0.wav", 404), ("lead/0.wav?percent=0", 400), ("lead/x.wav", 404),
     ("band/0.wav?style=polka", 400), ("count/0.wav?style=99", 400), ("click/0.wav?style=%00", 400)],
)  # fmt: skip
def test_what_there_is_not_is_said_in_words(client, porch, address, status):
    answer = client.get(
        f"/licks/{porch.id}/sound/{address}", headers={"accept": "application/json"}
    )
    assert answer.status_code == status
    assert "Traceback" not in answer.text


def test_a_line_and_a_line_without_end_sound(client, porch):
    page = client.get(f"/licks/{porch.id}/lines?bars=4&seed=2").text
    assert f'data-line-source="/licks/{porch.id}/lines/sound?' in page
    told = client.get(f"/licks/{porch.id}/lines/sound?bars=4&seed=2").json()
    assert len(told["bars"]) == 4
    bar = client.get(f"{told['sound']}/lead/3.wav?percent=100&{told['query']}")
    assert bar.content[:4] == b"RIFF"
    endless = client.get(f"/licks/{porch.id}/lines/endless?over=1+4+5&seed=2").json()
    row = client.get(f"{endless['sound']}/bar/6?{endless['query']}").json()
    assert row["number"] == 7
    assert "<svg" in row["svg"]
    for stem in ("lead", "band"):
        sound = client.get(
            f"{endless['sound']}/{stem}/6.wav?percent=150&style=swing&{endless['query']}"
        )
        assert sound.content[:4] == b"RIFF"
    long = client.get(f"/licks/{porch.id}/lines/sound?over={'C' * 50_000}")
    assert long.status_code == 400
