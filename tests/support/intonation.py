"""A tune of our own whose first phrase is sung alone: the left hand has nothing to play there."""

INTONATION = """X:1
T:Intonation
M:4/4
L:1/4
K:C
V:1
CDEF|!fermata!G4|GFED|!fermata!C4|]
V:2 clef=bass
z4|z4|C,2G,,2|C,4|]
"""
