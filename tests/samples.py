"""Text tabs and tunes composed for the tests."""

PORCH = """\
title: Porch step
key: Gm
meter: 4/4
tempo: 92
style: blues
tags: slow

   G7                C7
   1 & 2 & 3 & 4 &   1 & 2 & 3 & 4 &
e|-----------------|-----------------|
B|-------3-1-------|-1-2-1-----------|
G|---3h5-----3-----|-------3---------|
D|-5-----------5-3-|---------5-3---5-|
A|-----------------|-----------------|
E|-----------------|-----------------|
"""
BARE = """\
e|---------|
B|---------|
G|-----0-3-|
D|-3-5-----|
A|---------|
E|---------|
"""
BOOK = """\
X:1
T:First Gate
M:4/4
L:1/8
K:Em
E2GA B2AG|E2GA B4|

X:2
T:Broken Gate
M:4/4
L:1/8
K:nonsense key
E2GA

X:3
T:Last Gate
M:6/8
L:1/8
K:D
dfa afd|gfe d3|
"""
TWO_VOICES = """\
X:1
T:Two
M:4/4
L:1/4
K:C
V:1
cdef|
V:2
CDEF|
"""
