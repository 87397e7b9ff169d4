"""Reading a text tab into a lick."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from fractions import Fraction

from linewright.errors import LinewrightError, MusicError, ReadError
from linewright.formats.tab.build import build_chords, build_notes
from linewright.formats.tab.counting import COUNT_WORDS, Count, count_unit, read_counts, timed
from linewright.formats.tab.header import (
    read_capo,
    read_header,
    read_key,
    read_length,
    read_swing,
    read_tempo,
)
from linewright.formats.tab.infer import find_habit
from linewright.formats.tab.layout import Header, Row, Run, Sheet, lay_out
from linewright.formats.tab.rhythm import Attack, BarDraft, Timing, by_column, by_count
from linewright.formats.tab.signs import BarSpan, Sign, StringReader
from linewright.fretboard import from_labels, parse_instrument
from linewright.score import Bar, Instrument, Lick, Meter
from linewright.theory import Key

__all__ = ["read_tab"]


def read_tab(text: str, *, instrument: Instrument | None = None) -> Lick:
    r"""Read a text tab.

    Parameters
    ----------
    text : str
        Header lines, then systems of string lines with an optional chord row above and
        counting row below; docs/tab.md shows the form by example. At most 1 MB.
    instrument : Instrument, optional
        What a tab that names neither instrument nor tuning is for.

    Returns
    -------
    Lick
        Every note has a string and a fret. ``remarks`` says, bar by bar, what had to be
        decided: rhythm inferred where nothing was counted, repeats taken once, lines left out.

    Raises
    ------
    ReadError
        With line and column of what is wrong.

    >>> lick = read_tab("e|-----------------|\nB|-----------------|\nG|---------0-------|\n"
    ...                 "D|-----0-2---2-0---|\nA|-0-2-------------|\nE|-----------------|")
    >>> [note.pitch.name for note in lick.notes]
    ['A2', 'B2', 'D3', 'E3', 'G3', 'E3', 'D3']
    """
    sheet = lay_out(text)
    try:
        return _Reader(sheet, instrument).read()
    except ReadError:
        raise
    except MusicError as error:
        raise ReadError(
            error.message, accepted=error.accepted, place=error.where or None
        ) from error


@dataclass(slots=True)
class _System:
    rows: list[Row]
    headers: list[Header]
    chords: Row | None
    count: Row | None


class _Reader:
    def __init__(self, sheet: Sheet, usual: Instrument | None) -> None:
        self.sheet = sheet
        self.usual = usual
        self.remarks = list(sheet.remarks)
        self.bars: list[BarDraft] = []
        self.keys: list[Key | None] = []

    def read(self) -> Lick:
        head = self.sheet.headers
        self.meter = read_header(head["meter"], Meter.parse) if "meter" in head else Meter(4, 4)
        self.key = read_header(head["key"], read_key) if "key" in head else None
        self.word = self._count_word(head.get("count"))
        self.bar_length: Fraction | None = None
        if "bar length" in head:
            self.bar_length = self._length(head["bar length"])
        self.flipped = False
        self.instrument = self._instrument()
        self.readers = [
            StringReader(string, self.instrument)
            for string in range(1, len(self.instrument.strings) + 1)
        ]
        self.systems = [system for run in self.sheet.runs for system in self._split(run)]
        for index, system in enumerate(self.systems):
            self._read_system(index, system)
        for reader in self.readers:
            reader.finish()
            self.remarks += reader.remarks
        if not self.bars:
            raise ReadError("the string lines hold no bar", line=self.sheet.runs[0].strings[0].line)
        self._note_repeats()
        self._set_pickup()
        self._set_counts()
        return self._lick(self._timings())

    # -- header --------------------------------------------------------------------------
    def _value(self, name: str) -> str | None:
        header = self.sheet.headers.get(name)
        return " ".join(header.value.split()) or None if header else None

    def _length(self, header: Header) -> Fraction:
        length = read_header(header, lambda text: read_length(text, self.meter))
        if length > 16:
            raise ReadError(f"a bar of {length} quarters", line=header.line, column=header.column)
        return length

    def _count_word(self, header: Header | None) -> str:
        if header is None:
            return ""
        word = header.value.strip().lower()
        if word not in COUNT_WORDS:
            raise ReadError(
                f"{word[:30]!r} is no way of counting",
                accepted=f"Use one of {', '.join(COUNT_WORDS)}",
                line=header.line,
                column=header.column,
            )
        return word

    def _instrument(self) -> Instrument:
        head = self.sheet.headers
        capo = read_header(head["capo"], read_capo) if "capo" in head else 0
        name, tuning = self._value("instrument"), self._value("tuning")
        rows = self.sheet.runs[0].strings
        if self.usual is not None and name is None and tuning is None:
            return self.usual if "capo" not in head else replace(self.usual, capo=capo)
        culprit = head.get("tuning") or head.get("instrument") or head.get("capo")
        try:
            if tuning is not None:
                found = parse_instrument(name, tuning, capo)
                self._check_labels(found)
            else:
                found = self._by_lines(name, capo, rows)
        except ReadError:
            raise
        except MusicError as error:
            where = (culprit.line, culprit.column) if culprit else (rows[0].line, 1)
            raise ReadError(
                error.message, accepted=error.accepted, line=where[0], column=where[1]
            ) from error
        if "frets" in head:
            text = head["frets"].value
            if not (text.isascii() and text.isdigit() and 1 <= int(text[:4]) <= 36):
                raise ReadError(
                    f"{text[:20]!r} is not a number of frets", line=head["frets"].line,
                    column=head["frets"].column, accepted="Use 1 to 36",
                )  # fmt: skip
            found = replace(found, frets=int(text))
        return found

    def _by_lines(self, name: str | None, capo: int, rows: list[Row]) -> Instrument:
        """The instrument that the header's name and the names of the string lines tell."""
        labels = [row.label for row in rows]
        if name is not None and (labels[0] is None or labels[0].isdigit()):
            return parse_instrument(name, None, capo)
        if labels[0] is None or labels[0].isdigit():
            if len(rows) % 6 and len(rows) in (3, 4, 5, 7, 8):
                raise ReadError(
                    f"{len(rows)} string lines without names could be several instruments",
                    line=rows[0].line,
                    column=1,
                    accepted="Add a line such as Instrument: mandolin, or name the strings",
                )
            return parse_instrument("guitar", None, capo)
        count = len(parse_instrument(name, None, capo).strings) if name else len(rows)
        if name is None and count not in (4, 5, 6):
            count = next((n for n in (6, 4, 5) if count % n == 0), 0)
            if not count:
                raise ReadError(
                    f"this system has {len(rows)} string lines", line=rows[0].line, column=1,
                    accepted="Write one line for each string, empty ones too: six for a guitar",
                )  # fmt: skip
        names = [label or "" for label in labels[:count]]
        if not all(names):
            missing = names.index("")
            raise ReadError(
                "this string line has no name", line=rows[missing].line, column=1,
                accepted="Name all the strings or none",
            )  # fmt: skip
        found, self.flipped = from_labels(names, name, capo)
        if self.flipped:
            self.remarks.append("The string lines run from low to high; they were turned over.")
        return found

    def _check_labels(self, found: Instrument) -> None:
        labels = [row.label for row in self.sheet.runs[0].strings[: len(found.strings)]]
        letters = [(label or "")[:1].upper() for label in labels]
        wanted = [pitch.step for pitch in found.strings]
        if all(letter.isalpha() for letter in letters) and letters != wanted:
            if letters == wanted[::-1]:
                self.flipped = True
                self.remarks.append("The string lines run from low to high; they were turned over.")
            else:
                self.remarks.append(
                    "The names before the string lines differ from the Tuning line, which was used."
                )

    # -- systems -------------------------------------------------------------------------
    def _split(self, run: Run) -> list[_System]:
        count = len(self.instrument.strings)
        if len(run.strings) % count:
            kind = self.instrument.name
            raise ReadError(
                f"this system has {len(run.strings)} string lines; a {kind} has {count} strings",
                line=run.strings[0].line,
                column=1,
                accepted="Write one line for each string, empty ones too, or name the instrument"
                " in a line such as Instrument: mandolin",
            )
        parts = [run.strings[i : i + count] for i in range(0, len(run.strings), count)]
        systems = [_System(part, [], None, None) for part in parts]
        systems[0].headers, systems[0].chords = run.headers, run.chords
        systems[-1].count = run.count
        return systems

    def _read_system(self, index: int, system: _System) -> None:
        for header in system.headers:
            self._move(header)
        first = len(self.bars)
        rows = system.rows[::-1] if self.flipped else system.rows
        spans: list[list[BarSpan]] = []
        marks = [len(reader.signs) for reader in self.readers]
        for reader, row in zip(self.readers, rows, strict=True):
            spans.append(reader.read(row, first))
        count = Counter(len(line) for line in spans).most_common(1)[0][0]
        for line, row in zip(spans, rows, strict=True):
            if len(line) != count:
                raise ReadError(
                    f"this string has {len(line)} bars, the others of the system {count}",
                    line=row.line,
                    column=1,
                    accepted="Each bar line stands on all strings",
                )
        length = self.bar_length
        for bar in range(count):
            start = Counter(line[bar].start for line in spans).most_common(1)[0][0]
            end = start + max(line[bar].end - line[bar].start for line in spans)
            draft = BarDraft(index, start, end, self.meter, length or self.meter.length)
            draft.counted = system.count is not None
            self.bars.append(draft)
            self.keys.append(self.key)
        signs = [
            (sign, sign.column - line[sign.bar - first].start)
            for reader, line, mark in zip(self.readers, spans, marks, strict=True)
            for sign in reader.signs[mark:]
        ]
        self._group(signs)

    def _move(self, header: Header) -> None:
        """A header between systems: it holds from here on."""
        if header.name == "meter":
            self.meter = read_header(header, Meter.parse)
            self.bar_length = None
        elif header.name == "key":
            self.key = read_header(header, read_key)
        elif header.name == "count":
            self.word = self._count_word(header)
        elif header.value.strip().lower() == "full":
            self.bar_length = None
        else:
            self.bar_length = self._length(header)

    def _group(self, signs: list[tuple[Sign, int]]) -> None:
        """Put signs that stand in one column together."""
        for sign, column in sorted(signs, key=lambda s: (s[0].bar, s[1], s[0].string)):
            attacks = self.bars[sign.bar].attacks
            last = attacks[-1] if attacks else None
            together = (
                last is not None
                and column < last.end
                and not sign.grace
                and not last.signs[0].grace
                and all(sign.string != other.string for other in last.signs)
            )
            if last is not None and together:
                last.signs.append(sign)
                last.end = max(last.end, column + sign.width)
            else:
                attacks.append(Attack(column, column + sign.width, [sign]))

    def _note_repeats(self) -> None:
        rows = [row for system in self.systems for row in system.rows]
        if any("|:" in row.text or ":|" in row.text for row in rows):
            self.remarks.append("Repeat signs were read as bar lines: the repeat was taken once.")

    # -- time ----------------------------------------------------------------------------
    def _set_counts(self) -> None:
        """Read the counting rows and give each bar its counts."""
        rows: list[tuple[_System, list[BarDraft], list[Count]]] = []
        highest: dict[str, int] = {}
        for index, system in enumerate(self.systems):
            if system.count is None:
                continue
            bars = [bar for bar in self.bars if bar.system == index]
            meter = bars[0].meter if bars else self.meter
            top = max(int(meter.length * 4), meter.numerator)
            counts = read_counts(system.count.text, system.count.line, top)
            rows.append((system, bars, counts))
            seen = max((count.number for count in counts), default=0)
            highest[str(meter)] = max(highest.get(str(meter), 0), seen)
        triplets = False
        for system, bars, counts in rows:
            if system.count is None or not bars:
                continue
            line = system.count.line
            for bar, inside in zip(bars, _share_out(bars, counts), strict=True):
                unit = count_unit(bar.meter, highest[str(bars[0].meter)], self.word)
                bar.counts, read = timed(inside, bar.meter, unit, self.word, line, bar.end)
                triplets |= read
                self._fit_pickup(bar, line)
        if triplets and self.word != "triplets":
            self.remarks.append(
                "Beats counted '1 & a' in even columns were read as triplets; for an eighth and"
                " two sixteenths write 1 e & a, or the line Count: straight."
            )

    def _fit_pickup(self, bar: BarDraft, line: int) -> None:
        if bar is not self.bars[0] or not bar.counts:
            return
        start = bar.counts[0].offset
        if not bar.pickup and start > 0 and len(self.bars) > 1:
            bar.pickup, bar.length = True, bar.meter.length - start
        elif bar.pickup and start < bar.shift:
            if bar.counts[-1].offset >= bar.length:
                raise ReadError(
                    "the pickup is counted longer than the Pickup line says",
                    line=line,
                    column=bar.counts[0].column + 1,
                    accepted="Count a pickup of one beat in 4/4 as 4 or 4 &",
                )
            bar.counts = [
                Count(c.column, c.width, c.number, c.part, c.rest, c.offset + bar.shift)
                for c in bar.counts
            ]

    def _set_pickup(self) -> None:
        """The pickup as the header gives it, else as a first bar far narrower than the next."""
        header = self.sheet.headers.get("pickup")
        first = self.bars[0]
        if header is not None:
            text = header.value.strip().lower()
            length = Fraction(0)
            if text not in ("0", "none", "no"):
                length = read_header(header, lambda value: read_length(value, first.meter))
            if length >= first.meter.length:
                raise ReadError(
                    "a pickup is shorter than a bar", line=header.line, column=header.column
                )
            if length:
                first.pickup, first.length = True, length
            return
        if first.counted or len(self.bars) < 2 or not first.attacks:
            return
        second = self.bars[1]
        width, full = first.end - first.start, second.end - second.start
        if width <= 0.6 * full and len(first.attacks) < max(len(second.attacks), 2):
            share = Fraction(max(width - 1, 1), max(full - 1, 1)) * first.meter.length
            step = Fraction(1, 2)
            length = max(step, round(share / step) * step)
            if length < first.meter.length * Fraction(3, 4):
                first.pickup, first.length = True, length
                self.remarks.append(
                    f"The first bar is narrow and was read as a pickup of {_beats(length)};"
                    " a Pickup line says otherwise."
                )

    def _timings(self) -> list[Timing]:
        number = 0 if self.bars[0].pickup else 1
        for index, bar in enumerate(self.bars):
            bar.number = number + index
        untimed = [bar for bar in self.bars if not bar.counts]
        habit = find_habit([bar.untimed() for bar in untimed])
        timings, said = [], []
        for bar in self.bars:
            row = self.systems[bar.system].count
            timing = by_count(bar, row.line) if bar.counts and row else by_column(bar, habit)
            timings.append(timing)
            if timing.how and bar.attacks:
                said.append((bar.number, timing.how))
        if any(bar.attacks for bar in untimed):
            some = "" if len(untimed) == len(self.bars) else " in some bars"
            self.remarks.append(
                f"Nothing was counted{some}, so the rhythm was inferred from the columns."
            )
        self.remarks += _by_bars(said)
        return timings

    # -- the lick ------------------------------------------------------------------------
    def _lick(self, timings: list[Timing]) -> Lick:
        bars: list[Bar] = []
        at = Fraction(0)
        for draft, key in zip(self.bars, self.keys, strict=True):
            bars.append(Bar(draft.number, at, draft.length, draft.meter, key))
            at += draft.length
        notes = build_notes(self.bars, bars, timings, self.instrument, self.remarks)
        rows = [system.chords for system in self.systems]
        chords = build_chords(self.bars, bars, timings, rows)
        head = self.sheet.headers
        meter = self.bars[0].meter
        tempo = None
        if "tempo" in head:
            tempo = read_header(head["tempo"], lambda text: read_tempo(text, meter))
        tags = (self._value("tags") or "").split(",")
        try:
            return Lick(
                notes=notes,
                bars=tuple(bars),
                chords=chords,
                title=self._value("title") or self.sheet.title or "Untitled",
                tempo=tempo,
                instrument=self.instrument,
                swing=read_header(head["swing"], read_swing) if "swing" in head else None,
                style=self._value("style"),
                source=self._value("source"),
                tags=tuple(tag.strip() for tag in tags if tag.strip()),
                remarks=tuple(self.remarks),
            )
        except LinewrightError as error:
            if isinstance(error, ReadError):
                raise
            raise ReadError(error.message, place=error.where or None) from error


def _share_out(bars: list[BarDraft], counts: list[Count]) -> list[list[Count]]:
    """The counts that stand under each bar; one under a bar line belongs to the bar after it."""
    shares: list[list[Count]] = [[] for _ in bars]
    at = 0
    for count in counts:
        while at + 1 < len(bars) and count.column >= bars[at].end:
            at += 1
        shares[at].append(count)
    return shares


def _by_bars(said: list[tuple[int, str]]) -> list[str]:
    """One sentence for each run of bars read in the same way."""
    lines: list[str] = []
    at = 0
    while at < len(said):
        last = at
        while last + 1 < len(said) and said[last + 1][1] == said[at][1]:
            last += 1
        first_bar, last_bar = said[at][0], said[last][0]
        if first_bar == last_bar:
            where = f"Bar {first_bar}" if first_bar else "The pickup"
        else:
            where = (
                f"Bars {first_bar} to {last_bar}" if first_bar else f"The pickup to bar {last_bar}"
            )
        lines.append(f"{where}: {said[at][1]}.")
        at = last + 1
    return lines


def _beats(length: Fraction) -> str:
    return "one quarter" if length == 1 else f"{length} quarters" if length > 1 else "an eighth"
