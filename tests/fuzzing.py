"""Links as no one would write them, the same each time."""

import random
from urllib.parse import quote

from engine.drills.options import OPTIONS
from engine.lines.stock import stock
from engine.practice.line_in_link import to_link

KEYWORDS = [
    *(option.name for option in OPTIONS), "line", "line", "words", "v", "tempo", "KEYS", "__proto__", "constructor", "",
]  # fmt: skip
VALUES = [
    "C", "F#", "F%23", "Bb", "B♭", "Ebb", "H", "Cb,Fb,B#", "7", "m7b5", "maj", "7%239", "△", "ø", "13sus2",
    "sus4,7,foo", "0", "1", "2", "3", "4", "-1", "1e9", "9" * 30, "0x10", "１", "٣", "NaN", "null", "true", "", " ",
    "%", "%%%", "%zz", "%00", "%ff%fe", "%C3%28", "%F0%9F%8E%B7", "\u202e", "\ud7ff", "\x00", "\n", "\t", "🎷",
    "%ED%A0%80", "a" * 500, "," * 200,
    "<script>alert(1)</script>", "%3Cscript%3Ealert(1)%3C/script%3E", "<img src=x onerror=alert(1)>",
    "%22%20onload%3D%22alert(1)", "' onclick='alert(1)", "javascript:alert(1)", "</svg><script>", "{{7*7}}", "{note}",
    "%2526lt%253B", "&lt;script&gt;", "&#60;script&#62;", "../../etc", "${x}", "__import__('os')", "{0.__class__}",
]  # fmt: skip
TITLES = ["", "Porch light", "<script>alert(1)</script>", "' onclick='alert(1)", "{note}", "7", "ø 🎷", "W" * 300]
LINES = [to_link(line) for line in stock()]
# Nearly lines: cut off, two tunes, a key alone, endless rests, a chord that is none, none at all, many notes, a mark.
NO_LINES = [
    LINES[0][:-4], f"{LINES[0]}%0AX:2%0A{LINES[1]}", "K:C", 'K:C%0A"C7"cZ9999|]', 'K:C%0A"<b>"c4|]', "K:C%0Ac4|]",
    'K:C%0A"C7"' + "c" * 1500 + "|]", 'T:a%00b%0AK:C%0A"C7"c4|]', "K:C%0A" + '"Dm7b5"(3cde' * 40 + "|]", "|]", "X:1",
]  # fmt: skip
MARKS = ["#", "&", "=", ",", "%", "+", ";", "?", "##", "&&", "=="]
ALPHABET = "abcdefgABCDEFG#b♭♯0123456789<>\"'&=%,;/\\{}[]()\u0000\u202e\ufeff 𝄫"


def link(chance: random.Random) -> str:
    """A link of one of four sorts: nearly right, hostile, cut, noise."""
    sort = chance.randrange(4)
    if sort == 3:
        return "#" + "".join(chance.choice(ALPHABET) for _ in range(chance.randrange(80)))
    parts = []
    for _ in range(chance.randrange(1, 7)):
        values = [chance.choice(VALUES) for _ in range(chance.choice((1, 1, 1, 2, 5)))]
        keyword = chance.choice(KEYWORDS)
        if keyword == "line" and chance.randrange(4):
            title = quote(f"T:{chance.choice(TITLES)}\n")
            values = [title + chance.choice(LINES if chance.randrange(3) else NO_LINES)]
        parts.append(f"{keyword}{chance.choice(('=', '=', '=', '', '=='))}{','.join(values)}")
    whole = "#" + (chance.choice(MARKS) if sort == 1 else "&").join(parts)
    return whole[: chance.randrange(len(whole) + 1)] if sort == 2 else whole
