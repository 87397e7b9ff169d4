"""Reading a text tab into a lick."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from fractions import Fraction

from linewright.errors import LinewrightError, MusicError, ReadError, TooLarge
from linewright.formats.tab.barring import Cuts, find_cuts, find_unbarred
from linewright.formats.tab.build import build_chords, build_notes
from linewright.formats.tab.counting import Count, count_unit, read_counts, timed
from linewright.formats.tab.header import (
    Settings,
    read_header,
    read_pickup,
    read_swing,
    read_tempo,
)
from linewright.formats.tab.infer import find_habit
from linewright.formats.tab.layout import Header, Row, Run, Sheet, lay_out
from linewright.formats.tab.rhythm import Attack, BarDraft, Timing, by_column, by_count
from linewright.formats.tab.signs import BarSpan, Sign, StringReader
from linewright.formats.tab.techniques import apply_techniques
from linewright.formats.tab.tuned import find_instrument, wrong_count
from linewright.score import Bar, Instrument, Lick
from linewright.theory import Key

__all__ = ["read_tab"]

_MOST_BARS, _MOST_NOTES = 1000, 10_000


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
    techniques: list[Row]


class _Reader:
    def __init__(self, sheet: Sheet, usual: Instrument | None) -> None:
        self.sheet = sheet
        self.usual = usual
        self.remarks = list(sheet.remarks)
        self.bars: list[BarDraft] = []
        self.keys: list[Key | None] = []

    def read(self) -> Lick:
        head = self.sheet.headers
        self.settings = Settings()
        for name in ("meter", "key", "count", "bar length"):
            if name in head:
                self.settings.move(head[name])
        self.instrument, self.flipped, said = find_instrument(self.sheet, self.usual)
        self.remarks += said
        self.readers = [
            StringReader(string, self.instrument)
            for string in range(1, len(self.instrument.strings) + 1)
        ]
        self.systems = [system for run in self.sheet.runs for system in self._split(run)]
        rows = [system.rows[::-1] if self.flipped else system.rows for system in self.systems]
        self.unbarred = find_unbarred(rows, self.instrument)
        for index, system in enumerate(self.systems):
            self._read_system(index, system)
            notes = sum(len(reader.signs) for reader in self.readers)
            if len(self.bars) > _MOST_BARS or notes > _MOST_NOTES:
                raise TooLarge(
                    f"more than {_MOST_BARS} bars or {_MOST_NOTES} notes",
                    line=system.rows[0].line,
                    column=1,
                    accepted="A lick is a short phrase; give one at a time",
                )  # fmt: skip
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

    # -- systems -------------------------------------------------------------------------
    def _split(self, run: Run) -> list[_System]:
        count = len(self.instrument.strings)
        if len(run.strings) % count:
            raise wrong_count(run.strings, self.instrument)
        parts = [run.strings[i : i + count] for i in range(0, len(run.strings), count)]
        systems = [_System(part, [], None, None, []) for part in parts]
        systems[0].headers, systems[0].chords = run.headers, run.chords
        systems[0].techniques = run.techniques
        systems[-1].count = run.count
        return systems

    def _read_system(self, index: int, system: _System) -> None:
        for header in system.headers:
            self.settings.move(header)
        first = len(self.bars)
        rows = system.rows[::-1] if self.flipped else system.rows
        now = self.settings
        cuts = self._cuts(index, system)
        marks = [len(reader.signs) for reader in self.readers]
        spans: list[list[BarSpan]] = [
            reader.read(row, first, cuts.columns if cuts else ())
            for reader, row in zip(self.readers, rows, strict=True)
        ]
        if cuts:
            spans = [list(cuts.spans)] * len(rows)
        count = Counter(len(line) for line in spans).most_common(1)[0][0]
        for line, row in zip(spans, rows, strict=True):
            if len(line) != count:
                raise ReadError(
                    f"this string has {len(line)} bars, the others of the system {count}",
                    line=row.line,
                    column=1,
                    accepted="Each bar line stands on all strings",
                )
        for bar in range(count):
            start = Counter(line[bar].start for line in spans).most_common(1)[0][0]
            end = start + max(line[bar].end - line[bar].start for line in spans)
            draft = BarDraft(index, start, end, now.meter, now.bar_length or now.meter.length)
            draft.counted, draft.word = system.count is not None, now.word
            self.bars.append(draft)
            self.keys.append(now.key)
        signs = [
            (sign, sign.column - line[sign.bar - first].start)
            for reader, line, mark in zip(self.readers, spans, marks, strict=True)
            for sign in reader.signs[mark:]
        ]
        self._group(signs)
        for above in system.techniques:
            remark = apply_techniques(above, self.bars[first:])
            if remark:
                self.remarks.append(remark)

    def _cuts(self, index: int, system: _System) -> Cuts | None:
        """Where the bars of a system without bar lines begin."""
        if self.unbarred is None:
            return None
        now = self.settings
        length = now.bar_length or now.meter.length
        first, header = length, self.sheet.headers.get("pickup")
        if header is not None and not index:
            first = read_pickup(header, now.meter) or length
        cuts = find_cuts(
            self.unbarred[index], system.count, now.word, system.rows[0].start, now.meter,
            length, first,
        )  # fmt: skip
        if cuts and cuts.remark not in self.remarks:
            self.remarks.append(cuts.remark)
        return cuts

    def _group(self, signs: list[tuple[Sign, int]]) -> None:
        """Put signs that stand in one column together."""
        for sign, column in sorted(signs, key=lambda s: (s[0].bar, s[1], s[0].string)):
            if sign.grace:
                self.bars[sign.bar].graces.append((column, sign))
                continue
            attacks = self.bars[sign.bar].attacks
            last = attacks[-1] if attacks else None
            together = (
                last is not None
                and column < last.end
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
        by_system: dict[int, list[BarDraft]] = {}
        for bar in self.bars:
            by_system.setdefault(bar.system, []).append(bar)
        for index, system in enumerate(self.systems):
            bars = by_system.get(index, [])
            if system.count is None or not bars:
                continue
            meter = bars[0].meter
            top = max(int(max(meter.length, bars[0].length) * 4), meter.numerator)
            counts = read_counts(system.count.text, top)
            rows.append((system, bars, counts))
            seen = max((count.number for count in counts), default=0)
            highest[str(meter)] = max(highest.get(str(meter), 0), seen)
        triplets = False
        for system, bars, counts in rows:
            line = system.count.line if system.count else 0
            for bar, inside in zip(bars, _share_out(bars, counts), strict=True):
                unit = count_unit(bar.meter, highest[str(bar.meter)], bar.word)
                bar.counts, read = timed(
                    inside, bar.meter, unit, bar.word, line=line, end=bar.end,
                    length=bar.shift + bar.length, is_first=bar is self.bars[0],
                )  # fmt: skip
                triplets |= read and bar.word != "triplets"
                self._fit_pickup(bar, line)
        if triplets:
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
            length = read_pickup(header, first.meter)
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
                spelled=False,
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
