"""Every tab in docs/tab.md reads, and the signs it lists are the ones the reader knows."""

import re
from pathlib import Path

import pytest

from linewright.formats.tab import read_tab

PAGE = (Path(__file__).parents[2] / "docs" / "tab.md").read_text(encoding="utf-8")
TABS = re.findall(r"```tab\n(.*?)```", PAGE, re.DOTALL)


@pytest.mark.parametrize("text", TABS)
def test_the_examples_read(text):
    lick = read_tab(text)
    assert lick.notes
    counted = "1 &" in text
    assert any("inferred" in remark for remark in lick.remarks) != counted


def test_the_counted_example_means_what_the_page_says():
    lick = read_tab(TABS[1])
    assert lick.title == "Walk-up to C"
    assert [span.symbol.text for span in lick.chords if span.symbol] == ["G", "C"]
    assert [str(note.duration) for note in lick.notes][:8] == ["1/2"] * 6 + ["1", "1/2"]


def _signs():
    table = PAGE.split("| sign | meaning |")[1].split("\n\n")[0]
    for row in table.splitlines()[2:]:
        yield from re.findall(r"`([^`]+)`", row.split("|")[1].replace("\\|", ""))


@pytest.mark.parametrize("sign", list(_signs()))
def test_every_sign_of_the_table_reads(sign):
    dashes = "-" * (len(sign) + 6)
    rows = [f"{name}|{dashes}|" for name in "eBGD"] + [f"A|-3-{sign}-7|", f"E|{dashes}-|"]
    rows[:4] = [row[:-1] + "-|" for row in rows[:4]]
    lick = read_tab("\n".join(row.replace("-7|", "-7-|") for row in rows))
    assert lick.notes
