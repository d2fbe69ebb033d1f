"""Lines that a teacher has marked by hand: which devices are in them, where, and what only looks like one.

``LINES`` holds short lines with every device that a strict teacher names;
``NEAR_MISSES`` holds lines in which a device must not be named, with the reason.
All of them were composed for this module. Both are written as tables, because a
table can be read against an instrument; a row that is not well formed is a
ValueError when the module is read.

How the conditions of the devices were read, where a word left room:

- A note belongs to the scale of its chord where it is a chord tone, an extension
  or a passing tone there; the natural 11 of a major chord is in the scale.
- Runs go one way. A run covers the approaches and the colours inside it; the
  b9 and #9 of an arpeggio are covered by the arpeggio; an approach to the root
  covers the b9. What is about the change (half step, landing) covers nothing.
- Two devices that share only an end note are both named.
- An alteration or a chord tone of the old chord that steps into the new one is a
  half step across the change, not an approach; two notes from one side are a
  double approach there, two from both sides an enclosure.
- Two notes that both belong to one arpeggio do not enclose the note that follows.
- A chromatic note that steps from one tone of a chord to another, both on beats,
  is a passing note, not the end of a double approach.
- A late landing goes from the first note over the last chord to its chord tone;
  after a rest that is one note. An anticipation goes to the note that repeats it.
- The semitones of a landing are those from the note before, 0 for a common tone
  that is held.
"""

from __future__ import annotations

import re
from typing import NamedTuple


class Annotated(NamedTuple):
    """A marked line.

    ``abc``: the line as ABC 2.1. ``devices``: (name, first, last), the indexes
    of sounding notes from 0, inclusive; tied notes are one. ``landing``: (index,
    degree over the last chord, signed semitones) or None. ``doubt``: what
    another teacher might mark otherwise, and how it was settled; "" for nothing.
    """

    abc: str
    devices: tuple[tuple[str, int, int], ...]
    landing: tuple[int, str, int] | None
    doubt: str = ""


class NearMiss(NamedTuple):
    """A line, as ABC 2.1, in which ``device`` must not be named, and ``why``."""

    device: str
    abc: str
    why: str


TONES = ("root", "third", "fifth", "seventh")
DEVICES = (
    *(f"arpeggio from the {tone}{how}" for how in ("", ", inverted", ", one note an octave away") for tone in TONES),
    *("enclosure", "double approach", "approach from below", "approach from above", "scale run"),
    *("passing note off the beat", "half-whole run", "altered run", "harmonic minor run"),
    *("flat-nine colour", "sharp-nine colour", "half step across the change"),
    *(f"landing on the {degree}" for degree in (*TONES, "ninth")),
    *("anticipation", "late landing", "early ending"),
)

# title | key | music
#   device first-last; ...
#   landing index degree semitones
#   doubt: a sentence
_LINES = """
Two beats each | C | "Dm7"DF Ac "G7"BG FD | "Cmaj7"E4 z4 |]
  arpeggio from the root 0-3; half step across the change 3-4; arpeggio from the root, inverted 4-7;
  landing on the third 7-8
  landing: 8 3 +2
  doubt: A and C lie on both sides of B, and F and D of E, but each pair is the end of an arpeggio: no enclosure is
  named.

Up from the third | F | "Gm7"B,D FA F2 DG | "C7"E2 BG EC G2 | "Fmaj7"z3A3 z2 |]
  arpeggio from the third 0-3; arpeggio from the root 8-11; landing on the third 12-13; late landing 13-13
  landing: 13 3 +2

Flat nine stack | Bb | "Cm7"zE CG, B,2 G,C | "F7"A,C E_G EC A,C | "Bbmaj7"z2 D3z3 |]
  arpeggio from the third 6-9; arpeggio from the third 9-12; landing on the third 13-14; late landing 14-14
  landing: 14 3 +2

Thirteen at the top | Eb | "Bb7"z2 A,C EG c2 | d2 B,D FA F2 |]
  arpeggio from the seventh 0-3; arpeggio from the root 6-9

From the fifth | Db | "Ebm7"B,D FA F2 B,E | "Ab7"C2 GE CE G2 | "Dbmaj7"F4 z4 |]
  arpeggio from the fifth 0-3; enclosure 11-13; half step across the change 12-13; landing on the third 12-13
  landing: 13 3 -1

Close shape | G | "Am7"EG Bc G2 EA | "D7"F2 cA FD A2 | "Gmaj7"c2 B4 z2 |]
  arpeggio from the third, inverted 0-3; arpeggio from the root 8-11; enclosure 12-14; late landing 13-14
  landing: 13 11 +3
  doubt: The landing is the first note over the last chord, a fourth, so no landing device is named; the late landing
  ends on the third.

Low start leaps | D | "Em7"GB, DF D2 B,E | "A7"CE GB G2 C2 |]
  arpeggio from the third, one note an octave away 0-3; landing on the third 6-7; arpeggio from the third 7-10
  landing: 7 3 -3

Top note falls | A | "E7"EG BD B,2 G,B, | E2 FG AB e2 |]
  arpeggio from the root, one note an octave away 0-3; scale run 7-11

Neighbours and a lean | C | "Cmaj7"GE A^F G2 EC | ^DE Gc B2 z2 |]
  enclosure 2-4; approach from below 7-8

Minor descent | Cm | "Dm7b5"cA FD F2 AF | "G7"G2 D=B, DF AD | "Cm6"E4 z4 |]
  arpeggio from the root 0-3; enclosure 5-7; arpeggio from the third 9-12; half step across the change 13-14;
  landing on the third 13-14
  landing: 14 b3 +1

Harmonic minor down | Dm | "Em7b5"z2 BG E2 B,2 | "A7"FE D^C B,A, C2 | "Dm7"F4 z4 |]
  harmonic minor run 4-9; landing on the third 10-11
  landing: 11 b3 +4

Harmonic minor up | Am | "Bm7b5"F2 DB, D2 F2 | "E7"CD EF ^GE DB, | "Am6"C3z5 |]
  harmonic minor run 5-9; arpeggio from the root, inverted 9-12; half step across the change 12-13;
  landing on the third 12-13
  landing: 13 b3 +1
  doubt: D and B lie on both sides of C, but they are the end of an arpeggio: no enclosure is named.

Harmonic minor to G | Gm | "D7"BA G^F EA2c | "Gm7"B4 z4 |]
  harmonic minor run 0-4; enclosure 5-7; landing on the third 6-7
  landing: 7 b3 -2

Half and whole down | F | "C7"zG ^FE _E_D C2 | E2 BG E2 z2 | "Fmaj7"z8 |]
  half-whole run 0-5; early ending 9-9

Half and whole up | Bb | "F7"z2 F_G _A=A =Bc | "Bbmaj7"A4 z4 |]
  half-whole run 0-5; landing on the seventh 5-6
  landing: 6 7 -3

Altered down | Eb | "Bb7"_G_F D_D _CB, =DA | "Ebmaj7"G4 z4 |]
  altered run 0-5; half step across the change 7-8; landing on the third 7-8
  landing: 8 3 -1

Altered up | G | "D7"z2 _B,C D_E =FA, | "Gmaj7"B,4 z4 |]
  altered run 0-4; landing on the third 5-6
  landing: 6 3 +2

Passing sevenths | C | "G7"B,D FD G^F =FD | B,2 G^F =FE D2 | "Cmaj7"z8 |]
  passing note off the beat 4-6; arpeggio from the root, one note an octave away 6-9;
  passing note off the beat 9-11; scale run 9-13; early ending 13-13

Raised fifth in passing | C | "C6"EG cB A^G =GE | C4 z4 |]
  scale run 2-6; passing note off the beat 4-6

Minor to diminished | F | "Gm7"B,D G^F =FD B,D | "C7"C_D _E=E ^FG E2 |]
  passing note off the beat 2-4; enclosure 6-8; landing on the root 7-8; half-whole run 8-13
  landing: 8 1 -2

Long way down | Ab | "Eb7"GB e=d _dc B2 | "Abmaj7"E4 z4 |]
  passing note off the beat 2-4; scale run 2-6; landing on the fifth 6-7
  landing: 7 5 -7

Two below, one above | A | "Amaj7"zE GA ED B,^B, | C4 z4 |]
  enclosure 4-7

Two from above | E | "Emaj7"z2 F=F E2 B,E | B,D F^A F2 z2 |]
  double approach 0-2; arpeggio from the fifth 5-8

Two from below | G | "Gmaj7"DG BD A^A B2 | G4 z4 |]
  double approach 4-6

Falling into the third | Db | "Ab7"EC EA c2 =G_G | "Dbmaj7"F4 z4 |]
  double approach 5-7; half step across the change 6-7; landing on the third 6-7
  landing: 7 3 -1

Down to the fifth, up to the sky | F | "Fmaj7"A2 cA D_D C2 | A2 EG =Bd B2 |]
  passing note off the beat 3-5; arpeggio from the seventh 7-10

Pushed from below | Gb | =A, | "Gbmaj7"B,D FA F2 D2 |]
  approach from below 0-1; arpeggio from the third 1-4

Raised fourth | B | "Bmaj7"zF D2 z^E F2 | D2 B,2 z4 |]
  approach from below 2-3

Fourth that falls | Eb | "Ebmaj7"B,E G2 zA G2 | E2 B,D F=A F2 |]
  approach from above 3-4; arpeggio from the fifth 6-9

Flat nine, root | G | "D7"c2 A_E D2 FA | "Gmaj7"G4 z4 |]
  approach from above 2-3; enclosure 4-6; landing on the root 5-6
  landing: 6 1 -2
  doubt: The flat nine falls to its own root on the beat: the approach covers it, so no flat-nine colour is named.

Blue bars | Bb | "Bb7"zF D_A D2 z_G | F2 D2 _A,C EG |]
  approach from above 4-5; arpeggio from the seventh 7-10

Minor floor | Cm | "Cm7"GB GE C2 zA | G2 C2 G,B, DF |]
  arpeggio from the root 1-4; approach from above 5-6; arpeggio from the fifth 8-11

Triplet start | Dm | ^C | "Dm7"(3DFA c2 A2 F2 |]
  approach from below 0-1; arpeggio from the root 1-4

Dorian steps | Ab | "Bbm7"B,C DE FA D2 | "Eb7"B,4 z4 |]
  scale run 0-4; landing on the fifth 6-7
  landing: 7 5 -3

Steps, then a lean | B | "F#7"G,A, CE C2 F2 | cB AG FA E2 | "Bmaj7"D4 z4 |]
  arpeggio from the third, inverted 0-3; scale run 6-10; half step across the change 12-13;
  landing on the third 12-13
  landing: 13 3 -1

One dark note | F | "C7"EG _d2 GB E2 | "Fmaj7"A4 z4 |]
  flat-nine colour 2-2; landing on the third 5-6
  landing: 6 3 +5

Dark note, bright chord | D | "A7"CE _B2 E2 GE | "Dmaj7"F4 z4 |]
  flat-nine colour 2-2; enclosure 4-6; landing on the third 5-6
  landing: 6 3 +2

Dark note falls | C | "G7"d^c B^A _AG D2 | B,2 D2 G2 D_A | "Cmaj7"G4 z4 |]
  half-whole run 0-5; flat-nine colour 11-11; half step across the change 11-12; landing on the fifth 11-12
  landing: 12 5 -1
  doubt: The flat nine of G7 falls to the 5 of Cmaj7: it is a colour of its own chord, so no approach from above is
  named beside it.

Turnaround | Bb | "Bbmaj7"FD B,D "G7"F_A D=B, | "Cm7"CE GE "F7"A,C _GE | "Bbmaj7"D4 z4 |]
  flat-nine colour 5-5; enclosure 6-8; half step across the change 7-8; flat-nine colour 14-14;
  half step across the change 15-16; landing on the third 15-16
  landing: 16 3 -1

Sharp nine blues | E | "E7"EB, =d=G2E2^G, | =DF Ac A2 z2 | "A7"z8 |]
  sharp-nine colour 3-3; arpeggio from the seventh 6-9; early ending 10-10

Sharp nine, home | C | "G7"FD _B2 GD =B,D | "Cmaj7"C4 z4 |]
  sharp-nine colour 2-2; enclosure 5-7; landing on the root 6-7
  landing: 7 1 -2

Altered, then open | F | "C7"_A_G E_E _DC B,2 | EB _e2 GB =E2 | "Fmaj7"C4 z4 |]
  altered run 0-6; sharp-nine colour 9-9; landing on the fifth 12-13
  landing: 13 5 -4

Minor over major | Bb | "Bb7"F_d2B F2 =DF | _AF DB F2 z2 | "Eb7"z8 |]
  sharp-nine colour 1-1; arpeggio from the root, one note an octave away 6-9; early ending 10-10

Turning to the seventh | Bb | "Cm7"GB GE C2 DF | "F7"E4 z4 |]
  arpeggio from the root 1-4; enclosure 5-7; landing on the seventh 6-7
  landing: 7 b7 -2

Seventh on top | C | "Dm7"AC EG E2 A2 | "G7"DF DB,2D FA | "Cmaj7"B4 z4 |]
  arpeggio from the fifth, one note an octave away 0-3; arpeggio from the third 9-12; landing on the seventh 12-13
  landing: 13 7 +2

Harmonic minor, minor seventh | Dm | "A7"FG AB ^cA ^C2 | E^C AE2G EB | "Dm7"c4 z4 |]
  harmonic minor run 0-4; flat-nine colour 13-13; landing on the seventh 13-14
  landing: 14 b7 +2

Round the root | Gb | "Db7"FA cA F2 AF | "Gbmaj7"G4 z4 |]
  enclosure 5-7; half step across the change 6-7; landing on the root 6-7
  landing: 7 1 +1

Home late | E | "B7"AF D2 FA F2 | "Emaj7"z3E5 |]
  landing on the root 5-6; late landing 6-6
  landing: 6 1 -2

Ninth below | Ab | "Eb7"DG B2 GE D2 | "Abmaj7"B,4 z4 |]
  arpeggio from the root, inverted 2-5; landing on the ninth 5-6
  landing: 6 9 -3
  doubt: The ninth stays to the end and no chord tone follows: it is a landing on the ninth, not a late landing.

Ninth from above | G | "D7"Fc AF2D Fc | "Gmaj7"A4 z4 |]
  arpeggio from the root 1-4; landing on the ninth 6-7
  landing: 7 9 -3

Ninth from the third | F | "C7"DF AB G2 c2 | EB E2 G2 BE | "Fmaj7"G4 z4 |]
  arpeggio from the seventh, inverted 0-3; landing on the ninth 11-12
  landing: 12 9 +3

Altered to a minor ninth | Em | "B7"G,A, B,C D^D F2 | ^DA F2 B,2 DA | "Em7"F4 z4 |]
  altered run 0-5; landing on the ninth 12-13
  landing: 13 9 -3

Early third | C | "Dm7"EC A,F A2 D2 | "G7"B,D F2 DB, DE- | "Cmaj7"E4 z4 |]
  arpeggio from the third, one note an octave away 0-3; landing on the third 11-12; anticipation 12-12
  landing: 12 3 +2

Early third from above | Bb | "F7"A,C EC A,2 FD- | "Bbmaj7"D3z5 |]
  arpeggio from the root, one note an octave away 2-5; landing on the third 5-6; anticipation 6-6
  landing: 6 3 -3

Said twice | Eb | "Fm7"EG Bc A2 F2 | "Bb7"DF AF D2 B,G | "Ebmaj7"G4 z4 |]
  arpeggio from the fifth, inverted 0-3; arpeggio from the root 8-11; anticipation 12-13;
  landing on the third 12-13
  landing: 13 3 0

Early third, sharp key | A | "E7"dF Ac e2 G2 | DB, G2 D2 EC- | "Amaj7"C4 z4 |]
  arpeggio from the seventh, one note an octave away 0-3; landing on the third 10-11; anticipation 11-11
  landing: 11 3 -3

Held over | C | "Dm7"A,C F2 A2 CF- | "G7"F4 z4 |]
  landing on the seventh 4-5
  landing: 5 b7 0
  doubt: A held common tone: its landing has 0 semitones, although a fourth led to it before the change.

Ninth turns back | Ab | "Fm7"A,C EG F2 C2 | A,4 z4 |]
  arpeggio from the third 0-3
  doubt: The b7 and 9 lie on both sides of the root that follows, but they are the top of the arpeggio: no enclosure
  is named.

Five in thirds | D | "Dmaj7"DF Ac eA F2 | D4 z4 |]
  arpeggio from the root 0-3; arpeggio from the third 1-4
  doubt: Five notes in thirds hold two arpeggios; both are named, since each keeps its own four notes.

Through the bar line | C | "Dm7"F2 AF cB AG | "G7"F2 D2 B,2 z2 |]
  scale run 3-7; landing on the seventh 6-7
  landing: 7 b7 -2
  doubt: The run keeps to the usual scale of each chord and goes through the change; it is named whole.
"""

# device | key | music
#   why
_NEAR_MISSES = """
arpeggio from the root | C | "C7"CE Gc z4 |]
  A triad with its root doubled: the seventh is missing.

arpeggio from the root | F | "Gm7"G,B, D2 z4 |]
  Three notes of a triad are no arpeggio of four notes.

arpeggio from the root | Bb | "Cm7"CE G "F7"E CA,3 |]
  The chord changes before the fourth note.

arpeggio from the third | C | "G7"B,D FG z4 |]
  3-5-b7-1 has the root on top, not the ninth: it is the arpeggio from the root, inverted.

arpeggio from the third | F | "C7"EG BF z4 |]
  The fourth note is the 11, a fourth below the b7: the ninth never comes.

arpeggio from the third | Ab | "Bbm7"DF cA z4 |]
  The ninth comes before the b7, out of the order of the stack.

arpeggio from the fifth | C | "Dm7"A,C FE z4 |]
  The b3 comes where the ninth would be, and the 11 is missing.

arpeggio from the fifth | G | "Am7"EG Bc z4 |]
  5-b7-9-b3 closes on the third: it is the arpeggio from the third, inverted.

arpeggio from the fifth | Eb | "Fm7"CE G2 z4 |]
  Three notes only: 5, b7 and 9 with no 11.

arpeggio from the seventh | C | "G7"FA cd z4 |]
  The fourth note is the 5, a step above the 11, not the 13.

arpeggio from the seventh | D | "Em7"DF AF z4 |]
  The third leap turns back, so no fourth tone is stacked.

arpeggio from the seventh | F | "Gm7"FA cd e2 z2 |]
  A step fills the last third, so the four notes do not follow each other.

arpeggio from the root, inverted | C | "C7"G_B cG z4 |]
  It turns back to the 5 and has no third: three different tones.

arpeggio from the root, inverted | F | "Fmaj7"FA ce z4 |]
  It begins on the root and stacks in thirds: this is the arpeggio itself, not inverted.

arpeggio from the root, inverted | Bb | "Cm7"GE B,c z4 |]
  The tones of the chord in no cyclic order are no inversion.

arpeggio from the third, inverted | C | "Dm7"FA ce z4 |]
  In thirds from the third up it is the arpeggio itself.

arpeggio from the third, inverted | G | "Am7"EG cB z4 |]
  The line turns back at the end, so it does not rise all the way.

arpeggio from the third, inverted | Bb | "Cm7"G,B, DG z4 |]
  The fourth note repeats the 5: the third is missing.

arpeggio from the fifth, inverted | C | "Dm7"A,C EG z4 |]
  In thirds from the fifth up it is the arpeggio itself.

arpeggio from the fifth, inverted | F | "Gm7"FA dc z4 |]
  The last two tones are turned round, so the order does not rise.

arpeggio from the fifth, inverted | G | "Am7"GB e2 z4 |]
  Three tones only: the 11 is missing.

arpeggio from the seventh, inverted | C | "G7"FA ce z4 |]
  In thirds from the seventh up it is the arpeggio itself.

arpeggio from the seventh, inverted | F | "C7"DF AG z4 |]
  The 5 stands where the b7 would close the order.

arpeggio from the seventh, inverted | D | "Em7"FA dc z4 |]
  The b7 comes before the 13 and the line turns back.

arpeggio from the root, one note an octave away | C | "Dm7"DF Ac z4 |]
  No note is displaced: every step is a third.

arpeggio from the root, one note an octave away | G | "D7"FA cd z4 |]
  Close position begun from the third is inverted; nothing lies an octave away.

arpeggio from the root, one note an octave away | Bb | "Bb7"BD BF z4 |]
  The leap of a sixth is there, but the root comes twice and the seventh never.

arpeggio from the third, one note an octave away | F | "Gm7"B,D FA z4 |]
  No note is displaced: every step is a third.

arpeggio from the third, one note an octave away | C | "Dm7"FA, CD z4 |]
  After the leap of a sixth the root comes, not the ninth.

arpeggio from the third, one note an octave away | G | "Am7"cG EB, z4 |]
  The tones do not follow the order of the stack.

arpeggio from the fifth, one note an octave away | C | "Dm7"A,C EG z4 |]
  No note is displaced: every step is a third.

arpeggio from the fifth, one note an octave away | F | "Gm7"dF Ad z4 |]
  The 5 returns where the 11 would be.

arpeggio from the fifth, one note an octave away | G | "Am7"eB GD z4 |]
  5-9-b7-11 does not follow the order of the stack.

arpeggio from the seventh, one note an octave away | C | "G7"FA ce z4 |]
  No note is displaced: every step is a third.

arpeggio from the seventh, one note an octave away | F | "C7"BD FG z4 |]
  The fourth tone is the 5, not the 13.

arpeggio from the seventh, one note an octave away | D | "A7"GD B,F, z4 |]
  b7-11-9-13 does not follow the order of the stack.

enclosure | C | "Cmaj7"C2 D^D E2 z2 |]
  Both notes before the 3 lie below it: a double approach.

enclosure | F | "Fmaj7"C2 DB, A,2 z2 |]
  Both notes lie above the 3, a half step and a fourth: one side only.

enclosure | G | "Gmaj7"D2 B,F A2 z2 |]
  The notes lie on either side, but the target is the ninth, no chord tone.

enclosure | Bb | "Bb7"F2 GB, D2 z2 |]
  The upper and the lower note lie further than a whole step from the 3.

double approach | C | "Cmaj7"E2 AF E2 z2 |]
  Only one note, F, leads to the 3 by step: A is a fourth away.

double approach | F | "Fmaj7"c2 BG A2 z2 |]
  One note comes from above and one from below: an enclosure.

double approach | Eb | "Ebmaj7"E2 GF E2 z2 |]
  Two scale steps without a chromatic note are part of the scale.

approach from below | C | "Cmaj7"G2 F^D E2 z2 |]
  The half step below belongs to an enclosure, the larger device.

approach from below | F | "Fmaj7"A,2 CE F2 z2 |]
  E is the chord's own 7: a chord tone approaches nothing.

approach from below | D | "A7"G2 EB, c2 z2 |]
  The note below lies a whole step away.

approach from above | C | "Cmaj7"G2 cG, F^D E2 |]
  The half step above belongs to an enclosure, the larger device.

approach from above | Bb | "Bbmaj7"F2 DF =E_E D2 |]
  E and Eb together are a double approach, which takes in the half step above.

approach from above | G | "G7"D2 B,A G2 z2 |]
  The note above lies a whole step away.

scale run | C | "Cmaj7"CD E2 G2 z2 |]
  Three notes by step are too few.

scale run | F | "Gm7"GA BA GA B2 |]
  The steps turn back after three notes.

scale run | Bb | "Cm7"CD EG2F D2 |]
  A leap of a third breaks the steps.

scale run | G | "D7"A_A GF =F2 z2 |]
  Half steps in a row are no scale of D7.

passing note off the beat | C | "G7"DG ^F=F D2 z2 |]
  The natural 7 falls on the beat, where a chord tone belongs.

passing note off the beat | F | "C7"E2 c=B c2 z2 |]
  The natural 7 goes back to the root: an approach from below.

passing note off the beat | Eb | "Bb7"F2 BA GF2z |]
  The b7 follows the root without a chromatic note between them.

passing note off the beat | C | "C6"E2 AG FE2z |]
  Every note between the chord tones belongs to the scale.

half-whole run | C | "G7"G_A _B=B2z3 |]
  Without a 5 or a 13 these four notes could belong to the altered scale as well.

half-whole run | F | "C7"^FG AB2z3 |]
  No b9 and no #9: these tones belong to a dominant with a #11.

half-whole run | Bb | "F7"F_G cA2z3 |]
  The tones of the scale come in leaps, not by step.

altered run | C | "G7"d^c B_B _AG z2 |]
  The natural 5 belongs to half and whole steps, not to the altered scale.

altered run | Eb | "Bb7"B_c _d=d2z3 |]
  Without a b13 these four notes could belong to the half-whole scale as well.

altered run | G | "D7"_B,A, C_E2z3 |]
  The tones come in leaps, and the natural 5 is among them.

altered run | Dm | "A7"BA GF "Dm7"A4 |]
  b9-1-b7-b13 before a minor chord is in its harmonic minor scale as well; only the #9 or #11 would tell.

harmonic minor run | Dm | "A7"^CD EF2z3 |]
  There is no b9: these tones also belong to the melodic minor.

harmonic minor run | Am | "E7"^GF DB,2z3 |]
  An arpeggio with the b9 is no run by step.

harmonic minor run | Cm | "G7"AB =Bc2z3 |]
  There is no b13: the b9 and #9 belong to other scales.

harmonic minor run | F | "C7"CD EF GA2z |]
  The natural 9 and 13 make it a plain scale run.

flat-nine colour | C | "G7"B,D F_A D2 z2 |]
  The b9 is the top of an arpeggio from the third, which covers it.

flat-nine colour | F | "Fmaj7"cA _G2 A2 z2 |]
  A b9 over a major seventh chord is outside; only a dominant has the colour.

flat-nine colour | Bb | "F7"A2 E_G F2 z2 |]
  The b9 falls to the root: with Eb it is an enclosure, which covers it.

sharp-nine colour | C | "C7"c2 G^D E2 z2 |]
  The raised ninth rises at once to the 3: an approach from below.

sharp-nine colour | Bb | "Cm7"cG E2 G2 z2 |]
  Over a minor seventh chord this is the b3, a chord tone.

sharp-nine colour | G | "D7"D_E =F^F ^GA z2 |]
  The #9 is part of a half-whole run.

half step across the change | C | "Dm7"DA, F,2 A,2 c2 | "G7"D4 z4 |]
  The line leaps across the change.

half step across the change | F | "C7"EG B2 E2 G2 | "Fmaj7"A4 z4 |]
  The step across the change is a whole step.

half step across the change | Bb | "F7"Ac e2 C2 F2 | "Bbmaj7"=E4 z4 |]
  The half step leads to the #11, no chord tone of the new chord.

half step across the change | G | "D7"FA c2 Ac B2- | "Gmaj7"B4 z4 |]
  The half step happens before the change: the note is only held across.

landing on the third | C | "G7"B,D F2 D2 B,2 | "Cmaj7"C4 z4 |]
  The line lands on the root.

landing on the third | F | "C7"EG B2 G2 E2 | "Fmaj7"z8 |]
  No note sounds over the last chord.

landing on the third | G | "Gmaj7"DG B2 z4 |]
  One chord alone has no landing.

landing on the seventh | C | "G7"FD B,2 D2 F2 | "Cmaj7"EG B2 z4 |]
  The 7 comes later; the first note over the last chord is the 3.

landing on the seventh | F | "Gm7"DF B2 G2 F2 | "C7"E4 z4 |]
  The b7 of Gm7 leads to the 3 of C7: the degree counts over the last chord.

landing on the seventh | D | "Em7"GB d2 B2 d2 | "A7"z8 |]
  The b7 belongs to the first chord, and nothing sounds over the last.

landing on the root | C | "G7"GB d2 B2 G2 | "Cmaj7"G4 z4 |]
  The root of G7 is the 5 of the last chord.

landing on the root | Bb | "F7"Ac e2 c2 A2 | "Bbmaj7"D2 B,2 z4 |]
  The root comes second; the first note over the last chord is the 3.

landing on the root | Eb | "Ebmaj7"BG E2 z4 |]
  One chord alone has no landing.

landing on the fifth | C | "G7"DF B,2 D2 F2 | "Cmaj7"EC G2 z4 |]
  The 5 comes third; the landing is the 3.

landing on the fifth | F | "C7"BE G2 E2 G2 | "Fmaj7"z8 |]
  The line ends on the 5 of C7, before the last chord.

landing on the fifth | A | "E7"DG B2 G2 B2 | "Amaj7"B4 z4 |]
  The 5 of E7 is the ninth of the last chord.

landing on the ninth | C | "G7"B,F D2 F2 G2 | "Cmaj7"E2 D2 z4 |]
  The ninth comes second; the landing is the 3.

landing on the ninth | G | "D7"cF A2 F2 E2 | "Gmaj7"D4 z4 |]
  The ninth of D7 leads to the 5 of the last chord.

landing on the ninth | Ab | "Abmaj7"EC B,2 z4 |]
  One chord alone has no landing.

anticipation | C | "Dm7"A,C A,2 C2 F2- | "G7"F4 z4 |]
  F is a chord tone of both chords: a held common tone.

anticipation | F | "C7"EG B2 G2 B2 | "Fmaj7"A4 z4 |]
  The new tone comes on the change, not before it.

anticipation | Bb | "F7"Ac e2 d4- | "Bbmaj7"d4 z4 |]
  The note starts two beats before the change, too soon.

anticipation | G | "D7"FA c2 A2 Bz | "Gmaj7"d4 z4 |]
  The new chord's tone is neither held nor played again on the change.

late landing | C | "G7"B,D F2 D2 F2 | "Cmaj7"E4 z4 |]
  The chord tone comes on the change.

late landing | F | "C7"EB G2 E2 G2 | "Fmaj7"zA3 z4 |]
  Half a beat after the change is not yet late.

late landing | Bb | "F7"Ac e2 c2 e2 | "Bbmaj7"z8 |]
  No note comes at all: an early ending.

early ending | C | "G7"B,D F2 D2 F2 | "Cmaj7"z6 E2 |]
  The line ends late, but over the last chord.

early ending | F | "C7"EG B2 G4- | "Fmaj7"G2 z6 |]
  The last note is held into the last chord.

early ending | G | "D7"FA c2 z4 |]
  One chord alone has no change to end before.
"""

_MARK = re.compile(r"(.+) (\d+)-(\d+)")


def _abc(number: int, title: str, key: str, music: str) -> str:
    return f"X:{number}\nT:{title}\nM:4/4\nL:1/8\nK:{key}\n{music}\n"


def _known(device: str) -> str:
    if device not in DEVICES:
        raise ValueError(f"{device} is no device")
    return device


def _mark(text: str) -> tuple[str, int, int]:
    found = _MARK.fullmatch(text.strip())
    if not found:
        raise ValueError(f"{text} is no device with its first and last note")
    return _known(found[1]), int(found[2]), int(found[3])


def _landing(text: str) -> tuple[int, str, int]:
    index, degree, semitones = text.split()
    return int(index), degree, int(semitones)


def _annotated(number: int, block: str) -> Annotated:
    first, *rest = (row.strip() for row in block.strip().splitlines())
    title, key, music = first.split(" | ", 2)
    marks: list[str] = []
    landing = None
    doubt = ""
    for row in rest:
        if row.startswith("landing: "):
            landing = _landing(row.removeprefix("landing: "))
        elif doubt or row.startswith("doubt: "):
            doubt = f"{doubt} {row.removeprefix('doubt: ')}".strip()
        else:
            marks += [mark for mark in row.split(";") if mark]
    return Annotated(_abc(number, title, key, music), tuple(_mark(mark) for mark in marks), landing, doubt)


def _near_miss(number: int, block: str) -> NearMiss:
    first, why = (row.strip() for row in block.strip().splitlines())
    device, key, music = first.split(" | ", 2)
    return NearMiss(_known(device), _abc(number, f"No {device}", key, music), why)


LINES = tuple(_annotated(number, block) for number, block in enumerate(_LINES.strip().split("\n\n"), 1))
NEAR_MISSES = tuple(_near_miss(number, block) for number, block in enumerate(_NEAR_MISSES.strip().split("\n\n"), 1))
