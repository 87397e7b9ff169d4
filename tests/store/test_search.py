"""Searching and the counts beside the filters."""

import pytest
from store_samples import BLUES, DORIAN, MANDOLIN, NOON, NOTHING, make_lick, minutes

from linewright.errors import OptionError
from linewright.score import ChordSpan, Meter
from linewright.store import FACETS, Query
from linewright.theory import ChordSymbol


@pytest.fixture
def stocked(library):
    rows = [
        (make_lick("Porch step", style="blues", tags=("slow", "bend")), BLUES),
        (make_lick("Rail yard", style="blues", tags=("slow",)), NOTHING),
        (
            make_lick(
                "Élan reel", "A3 C4 E4", style="reel", instrument=MANDOLIN, meter=Meter(3, 4)
            ),
            DORIAN,
        ),
        (
            make_lick("100% turnaround", style="country", source="class of March").with_(
                chords=(ChordSpan(0, 4, ChordSymbol.parse("Em7b5")),)
            ),
            BLUES,
        ),
    ]
    for n, (lick, facts) in enumerate(rows):
        library.add(lick, facts, now=minutes(n))
    return library


def titles(library, **query):
    return [e.title for e in library.search(Query(**query)).entries]


def test_every_word_has_to_occur_somewhere(stocked):
    assert titles(stocked, text="blues slow") == ["Rail yard", "Porch step"]
    assert titles(stocked, text="slow PORCH") == ["Porch step"]
    assert titles(stocked, text="elan") == ["Élan reel"]
    assert titles(stocked, text="Em7b5") == ["100% turnaround"]
    assert titles(stocked, text="march") == ["100% turnaround"]
    assert titles(stocked, text="G♭5") == []
    assert titles(stocked, text="♭5 blue note bend") == ["Porch step"]


def test_signs_of_the_database_mean_themselves(stocked):
    assert titles(stocked, text="100%") == ["100% turnaround"]
    assert titles(stocked, text="%") == ["100% turnaround"]
    assert titles(stocked, text="_") == []
    assert titles(stocked, text="' OR 1=1 --") == []


@pytest.mark.parametrize(
    ("query", "expected"),
    [
        ({"style": "blues"}, {"Porch step", "Rail yard"}),
        ({"tag": "bend"}, {"Porch step"}),
        ({"frame": "minor pentatonic"}, {"Porch step", "100% turnaround"}),
        ({"frame": "none fits"}, {"Rail yard"}),
        ({"tonic": "A"}, {"Élan reel"}),
        ({"outside": "b5"}, {"Porch step", "100% turnaround"}),
        ({"instrument": "mandolin"}, {"Élan reel"}),
        ({"meter": "3/4"}, {"Élan reel"}),
        ({"style": "blues", "outside": "#4"}, {"Rail yard"}),
        ({"style": "blues", "meter": "3/4"}, set()),
    ],
)
def test_filters_narrow_together(stocked, query, expected):
    assert set(titles(stocked, **query)) == expected


def test_counts_agree_with_what_each_filter_finds(stocked):
    for base in ({}, {"style": "blues"}, {"text": "slow"}, {"tag": "slow", "outside": "b5"}):
        result = stocked.search(Query(**base))
        for facet in FACETS:
            for value, count in result.facets[facet]:
                found = stocked.search(Query(**{**base, facet: value}))
                assert found.total == count, (base, facet, value)


def test_pages_and_order(stocked):
    assert titles(stocked, sort="title") == [
        "100% turnaround", "Porch step", "Rail yard", "Élan reel",
    ]  # fmt: skip
    assert titles(stocked, sort="oldest", limit=2, offset=1) == ["Rail yard", "Élan reel"]
    assert titles(stocked, sort="oldest", offset=3) == ["100% turnaround"]
    assert stocked.search(Query(limit=1)).total == 4
    kept = stocked.search(Query(sort="oldest")).entries[0]
    stocked.rename(kept.id, "Porch two", now=minutes(99))
    assert titles(stocked, sort="changed")[0] == "Porch two"


def test_what_cannot_be_asked():
    with pytest.raises(OptionError, match="not a way to sort"):
        Query(sort="random")
    with pytest.raises(OptionError, match="too long"):
        Query(text="x" * 501)
    with pytest.raises(OptionError, match="page of the list"):
        Query(offset=-1)


def test_list_entries_carry_what_a_row_shows(stocked):
    entry = stocked.search(Query(tag="bend")).entries[0]
    assert (entry.tags, entry.facts, entry.created) == (("slow", "bend"), BLUES, NOON)
