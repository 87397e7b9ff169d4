"""Guitar tabs from a few rows, and what tests ask of the licks read from them."""


def tab(rows, head="", above="", below=""):
    """A guitar tab from the rows of some strings, by name; other strings are dashes."""
    width = max(len(row) for row in rows.values())
    lines = []
    for name in "eBGDAE":
        row = rows.get(name, "-" * width)
        filler = "".join("|" if any(r[i : i + 1] == "|" for r in rows.values()) else "-"
                         for i in range(width))  # fmt: skip
        lines.append(f"{name}|{row if name in rows else filler}|")
    return "\n".join([*([head] if head else []), *([above] if above else []), *lines, below])


def rhythm(lick):
    return [(n.onset, n.duration) for n in lick.notes]


def onsets(lick):
    return [n.onset for n in lick.notes]


def lengths(lick):
    return [n.duration for n in lick.notes]
