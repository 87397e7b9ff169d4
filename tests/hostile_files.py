"""Files no program of good will writes: cut off, lying, swelling, absurd; by name, made when asked."""

import io
import json
import struct
import zipfile
from functools import cache

import numpy as np

from linewright.formats import read_bytes, write_bytes
from linewright.sound.write_audio import write_audio
from samples import BARE, PORCH

PNG = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + bytes(200)
_ROOT = (
    '<?xml version="1.0"?><container><rootfiles><rootfile full-path="{}"/></rootfiles></container>'
)
_SCORE = """<?xml version="1.0" encoding="UTF-8"?>
<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>x</part-name></score-part>
</part-list><part id="P1"><measure number="1"><attributes><divisions>{}</divisions><time><beats>{}</beats>
<beat-type>{}</beat-type></time></attributes><note><pitch><step>{}</step><octave>{}</octave></pitch>
<duration>{}</duration></note></measure></part></score-partwise>"""
_END = b"\0\xff\x2f\0"
_NOTE = b"\0\x90\x3c\x40\x60\x80\x3c\0"


def zipped(**files):
    """A zip of the files given by name (``__`` stands for a slash)."""
    return zip_of({name.replace("__", "/"): data for name, data in files.items()})


def zip_of(files):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return out.getvalue()


def score(divisions=1, beats=4, unit=4, step="C", octave=4, duration=4):
    return _SCORE.format(divisions, beats, unit, step, octave, duration).encode()


def midi(track, division=480, claim=None):
    """A one-track file (Standard MIDI Files 1.0: MThd, MTrk, lengths in four bytes)."""
    head = b"MThd" + struct.pack(">IHHH", 6, 0, 1, division)
    return head + b"MTrk" + struct.pack(">I", len(track) if claim is None else claim) + track


def delta(ticks):
    """A variable-length quantity of the same standard."""
    out = [ticks & 0x7F]
    while ticks := ticks >> 7:
        out.append(0x80 | (ticks & 0x7F))
    return bytes(reversed(out))


def wav(data=b"", rate=44100, channels=1, bits=16, kind=1, claim=None):
    """RIFF WAVE (IBM and Microsoft 1991), its head as asked for, true or not."""
    frame = bits * channels // 8
    head = struct.pack("<IHHIIHH", 16, kind, channels, rate, rate * frame & 0xFFFFFFFF, frame & 0xFFFF, bits)  # fmt: skip
    body = b"WAVEfmt " + head + b"data" + struct.pack("<I", len(data) if claim is None else claim)
    return b"RIFF" + struct.pack("<I", len(body) + len(data)) + body + data


@cache
def flac():
    return write_audio(np.full((4410, 2), 0.1, np.float32), 44100, "flac")


@cache
def lick_json():
    return json.loads(write_bytes(read_bytes(PORCH.encode()), "json"))


def changed(**fields):
    return json.dumps(lick_json() | fields).encode()


def manifest(**fields):
    whole = {"kind": "linewright library", "version": 1, "exported": "2026-03-02T12:00:00+00:00"}
    return json.dumps(whole | {"licks": []} | fields)


def record(**fields):
    """A manifest with one lick, its record as asked for."""
    whole = {
        "id": 1, "uuid": "x", "title": "x", "tags": [], "created": "2026-03-02T12:00:00+00:00",
        "updated": "2026-03-02T12:00:00+00:00", "files": {"json": {"path": "lick.json", "sha256": "0"}},
    }  # fmt: skip
    return manifest(licks=[whole | fields])


def _porch(old, new):
    return PORCH.replace(old, new).encode()


_FILES = {
    # -- text tab
    "empty.tab": lambda: b"",
    "zeros.tab": lambda: bytes(4000),
    "picture.tab": lambda: PNG,
    "half.tab": lambda: PORCH.encode("utf-16")[:-1],
    "cut.tab": lambda: PORCH.encode()[:260],
    "head.tab": lambda: b"title: x\nkey: G\n",
    "fret.tab": lambda: _porch("3h5", "999"),
    "tempo.tab": lambda: _porch("92", "nan"),
    "meter.tab": lambda: _porch("4/4", "99999999999/4"),
    "key.tab": lambda: _porch("Gm", "H#m"),
    "large.tab": lambda: b"e|-\n" * (2 << 20) + b"\n",
    "good.tab": lambda: PORCH.encode(),
    "bare.tab": lambda: BARE.encode(),
    # -- ABC
    "bare.abc": lambda: b"X:1\nT:x\nK:C\n",
    "meter.abc": lambda: b"X:1\nM:4/0\nK:C\nCDEF|",
    "unit.abc": lambda: b"X:1\nL:1/0\nK:C\nCDEF|",
    "note.abc": lambda: b"X:1\nK:C\nC99999999999999999999|",
    "zero.abc": lambda: b"X:1\nK:C\nC/0 D|",
    "deep.abc": lambda: b"X:1\nK:C\n" + b"(" * 9000,
    "binary.abc": lambda: b"X:1\nK:C\n\xff\xfe\0CDEF",
    # -- MusicXML
    "outside.musicxml": lambda: (
        b'<?xml version="1.0"?><!DOCTYPE s [<!ENTITY x SYSTEM "file:///etc/hostname">]>'
        b"<score-partwise>&x;</score-partwise>"
    ),
    "cut.musicxml": lambda: score()[:300],
    "latin.musicxml": lambda: score().replace(b">x<", b">\xe9<"),
    "page.musicxml": lambda: b"<html><body>score</body></html>",
    "zero.musicxml": lambda: score(divisions=0),
    "nan.musicxml": lambda: score(divisions="NaN"),
    "fine.musicxml": lambda: score(divisions="0.000001", duration="9999999"),
    "long.musicxml": lambda: score(duration=10**15),
    "octave.musicxml": lambda: score(octave=10**6),
    "step.musicxml": lambda: score(step="H"),
    "meter.musicxml": lambda: score(beats=10**9, unit=0),
    "cut.mxl": lambda: zipped(a=score())[:60],
    "bomb.mxl": lambda: zip_of(
        {"META-INF/container.xml": _ROOT.format("s.xml"), "s.xml": bytes(17 << 20)}
    ),
    "path.mxl": lambda: zip_of({"META-INF/container.xml": _ROOT.format("../../etc/passwd")}),
    "empty.mxl": lambda: zip_of({}),
    # -- MIDI
    "cut.mid": lambda: midi(b"\0\x90\x3c\x40"),
    "claim.mid": lambda: midi(_END, claim=0xFFFFFFF0),
    "zero.mid": lambda: midi(_NOTE + _END, division=0),
    "day.mid": lambda: midi(
        b"\0\x90\x3c\x40" + delta(24 * 3600 * 960) + b"\x80\x3c\0" + _END
    ),  # 24 hours at 120
    "wave.mid": lambda: wav(bytes(2000)),
    # -- JSON
    "empty.json": lambda: b"{}",
    "list.json": lambda: b"[1, 2]",
    "deep.json": lambda: b'{"a":' * 100_000,
    "cut.json": lambda: json.dumps(lick_json()).encode()[:200],
    "nan.json": lambda: changed(tempo={"bpm": float("nan"), "beat": "1"}),
    "digits.json": lambda: changed(tempo={"bpm": 0}).replace(b'"bpm": 0', b'"bpm": ' + b"9" * 5000),
    "long.json": lambda: changed(
        bars=[{"number": 1, "duration": str(10**9), "meter": "4/4"}], chords=[]
    ),
    # -- recordings
    "empty.wav": lambda: b"",
    "head.wav": wav,
    "cut.wav": lambda: wav()[:20],
    "rate.wav": lambda: wav(bytes(2000), rate=4_000_000_000),
    "channels.wav": lambda: wav(bytes(2000), channels=65535),
    "day.wav": lambda: wav(bytes(2000), rate=100, claim=2 * 100 * 86_400),
    "long.wav": lambda: wav(bytes(8000 * 605), rate=8000, bits=8),
    "nan.wav": lambda: wav(np.full(9000, np.nan, "<f4").tobytes(), bits=32, kind=3),
    "words.mp3": lambda: b"only words\n" * 90,
    "cut.flac": lambda: flac()[:60],
    "picture.m4a": lambda: PNG,
    "page.ogg": lambda: b"OggS" + bytes(60),
    # -- exported libraries
    "words.zip": lambda: b"zip",
    "empty.zip": lambda: b"",
    "cut.zip": lambda: zipped(manifest_json=manifest())[:40],
    "bare.zip": lambda: zipped(a=b"b"),
    "bomb.zip": lambda: zip_of(
        {"manifest.json": manifest(), "licks/1/lick.json": bytes(21 * 10**6)}
    ),
    "path.zip": lambda: zip_of({"manifest.json": manifest(), "../../evil": b"x"}),
    "root.zip": lambda: zip_of({"manifest.json": manifest(), "/etc/evil": b"x"}),
    "back.zip": lambda: zip_of({"manifest.json": manifest(), "a\\..\\b": b"x"}),
    "list.zip": lambda: zip_of({"manifest.json": "[]"}),
    "later.zip": lambda: zip_of({"manifest.json": manifest(version=10**30)}),
    "count.zip": lambda: zip_of({"manifest.json": manifest(licks=7)}),
    "nan.zip": lambda: zip_of({"manifest.json": manifest(licks=[float("nan")])}),
    "number.zip": lambda: zip_of({"manifest.json": record(id=float("inf"))}),
    "day.zip": lambda: zip_of({"manifest.json": record(created="yesterday")}),
    "missing.zip": lambda: zip_of({"manifest.json": record()}),
    "changed.zip": lambda: zip_of({"manifest.json": record(), "lick.json": changed()}),
    "deep.zip": lambda: zip_of({"manifest.json": "[" * 100_000}),
    "latin.zip": lambda: zip_of({"manifest.json": b'{"kind": "\xe9"}'}),
    # -- plans
    "bare-plan.json": lambda: b'{"steps": []}',
    "number-plan.json": lambda: b'{"sheet": 7}',
}


@cache
def hostile(name):
    """The bytes of a file of the table."""
    return _FILES[name]()
