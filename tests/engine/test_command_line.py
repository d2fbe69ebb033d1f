"""The engine at a terminal: the keys, the places of errors and the exit status that the contract promises."""

import io
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from engine.__main__ import VERBS, main
from engine.drills.catalogue import CATALOGUE

ROOT = Path(__file__).resolve().parents[2]


class Call:
    """What one call printed, and how it ended."""

    def __init__(self, status: int, out: str, err: str) -> None:
        self.status = status
        self.lines = out.split("\n")[:-1]
        self.said = err.split("\n")[:-1]

    @property
    def answers(self) -> list[Any]:
        return [json.loads(line) for line in self.lines]


class _Typed(io.StringIO):
    """Standard input that is no terminal."""

    def isatty(self) -> bool:
        return False


def _call(*arguments: str, typed: str = "") -> Call:
    """One call of the command line inside this process."""
    kept = sys.stdin, sys.stdout, sys.stderr
    sys.stdin, sys.stdout, sys.stderr = _Typed(typed), io.StringIO(), io.StringIO()
    try:
        status = main(list(arguments))
        return Call(status, sys.stdout.getvalue(), sys.stderr.getvalue())
    finally:
        sys.stdin, sys.stdout, sys.stderr = kept


def _process(*flags_and_arguments: str, typed: str | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *flags_and_arguments], cwd=ROOT, input=typed, capture_output=True, text=True, encoding="utf-8"
    )


# --- chord --------------------------------------------------------------------


def test_chord() -> None:
    called = _call("chord", "Bb7", "F#m7b5/C", "--json")
    assert called.status == 0
    assert called.said == []
    assert called.answers == [
        {
            "symbol": "Bb7", "root": "Bb", "bass": None,
            "tones": [{"degree": "1", "note": "Bb"}, {"degree": "3", "note": "D"}, {"degree": "5", "note": "F"},
                      {"degree": "b7", "note": "Ab"}],
        },
        {
            "symbol": "F#m7b5/C", "root": "F#", "bass": "C",
            "tones": [{"degree": "1", "note": "F#"}, {"degree": "b3", "note": "A"}, {"degree": "b5", "note": "C"},
                      {"degree": "b7", "note": "E"}],
        },
    ]  # fmt: skip


def test_chord_keeps_the_symbol_as_it_was_typed_and_answers_in_ascii() -> None:
    (answer,) = _call("chord", "E♭△", "--json").answers
    assert answer["symbol"] == "E♭△"
    assert [tone["note"] for tone in answer["tones"]] == ["Eb", "G", "Bb", "D"]
    (answer,) = _call("chord", "Cbdim7", "--json").answers
    assert answer["tones"][3] == {"degree": "bb7", "note": "Ab"}


def test_an_option_that_is_none_is_a_fault_even_where_no_line_is_typed() -> None:
    called = _call("chord", "--no", "--json", typed="")
    assert (called.status, len(called.said)) == (2, 1)
    assert called.answers == [{"input": "--no", "error": called.said[0]}]


def test_a_bad_chord_stands_in_its_place_and_the_others_are_answered() -> None:
    called = _call("chord", "C7", "H7", "Dm7", "C7x", "--json")
    assert called.status == 2
    assert [answer["symbol"] for answer in called.answers] == ["C7", "H7", "Dm7", "C7x"]
    assert ["error" in answer for answer in called.answers] == [False, True, False, True]
    assert called.said == [answer["error"] for answer in called.answers if "error" in answer]
    assert called.said[0].startswith('column 1: "H7" ')
    assert called.said[1].startswith('column 3: "x" ')


# --- degrees ------------------------------------------------------------------


def test_degrees() -> None:
    called = _call("degrees", "A7", "C#5", "C", "Eb", "x", "B", "--json")
    (answer,) = called.answers
    assert called.status == 2
    assert answer["chord"] == "A7"
    assert answer["notes"][:3] == [
        {"note": "C#5", "degree": "3", "also": [], "role": "chord tone"},
        {"note": "C", "degree": "#9", "also": ["b3"], "role": "alteration"},
        {"note": "Eb", "degree": "b5", "also": ["#11"], "role": "alteration"},
    ]
    assert answer["notes"][3] == {"note": "x", "error": called.said[0]}
    assert answer["notes"][4] == {"note": "B", "degree": "9", "also": [], "role": "extension"}
    assert called.said[0].startswith('column 1: "x" is no note; ')


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["C7"], 'column 1: "C7" has no notes behind it; write for example C7 C# E.'),
        (["H7", "C"], 'column 1: "H7" does not start with a root; '),
        (["C7x", "C"], 'column 3: "x" is not part of a chord symbol; '),
        ([], "column 1: "),
    ],
)
def test_degrees_that_cannot_be_answered(arguments: list[str], said: str) -> None:
    called = _call("degrees", *arguments, "--json", typed="")
    if not arguments:
        assert (called.status, called.lines, called.said) == (0, [], []), "no line, no answer"
        return
    assert called.status == 2
    assert called.said[0].startswith(said)
    assert called.answers == [{"input": " ".join(arguments), "error": called.said[0]}]


# --- arpeggio -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "start", "notes", "degrees", "name"),
    [
        (["A7"], 3, "C# E G B", "3 5 b7 9", "C#m7b5"),
        (["A7", "--from", "5"], 5, "E G B D", "5 b7 9 11", "Em7"),
        (["A7", "--in", "Dm"], 3, "C# E G Bb", "3 5 b7 b9", "C#dim7"),
        (["--in", "C", "Em7"], 3, "G B D F", "b3 5 b7 b9", "G7"),
        (["C7#9"], 3, "E G Bb D#", "3 5 b7 #9", None),
    ],
)
def test_arpeggio(arguments: list[str], start: int, notes: str, degrees: str, name: str | None) -> None:
    called = _call("arpeggio", *arguments, "--json")
    (answer,) = called.answers
    assert called.status == 0
    assert answer["chord"] in arguments
    assert (answer["from"], answer["name"]) == (start, name)
    assert (answer["notes"], answer["degrees"]) == (notes.split(), degrees.split())


def test_over_a_half_diminished_chord_the_text_says_that_9_is_usual_too() -> None:
    (answer,) = _call("arpeggio", "Bm7b5", "--json").answers
    assert answer["degrees"] == ["b3", "b5", "b7", "b9"]
    assert "natural 9 is also usual" in answer["text"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["C6"], 'column 1: "C6" has no seventh, so no 3–5–7–9; '),
        (["C", "--from", "1"], 'column 1: "C" has no seventh, so no 3–5–7–9; '),
        (["A7", "--from", "2"], 'column 1: "2" is no tone to start from; write --from 1, 3, 5 or 7.'),
        (["A7", "--from", "9"], 'column 1: "9" is no tone to start from; write --from 1, 3, 5 or 7.'),
        (["A7", "--in", "H"], 'column 1: "H" is no key; '),
        (["A7", "--in"], 'column 1: "--in" needs a value behind it; write for example --in KEY.'),
        (["A7", "D7"], 'column 1: "D7" is one too many after a chord; '),
        (["A7", "--up"], 'column 1: "--up" is no option here; write one of '),
        (["A7", "--json=1"], 'column 1: "--json" takes no value; write --json alone.'),
    ],
)
def test_arpeggios_that_cannot_be_answered(arguments: list[str], said: str) -> None:
    called = _call("arpeggio", *arguments, "--json")
    assert called.status == 2
    assert len(called.said) == 1
    assert called.said[0].startswith(said)
    assert called.answers == [{"input": " ".join(arguments), "error": called.said[0]}]


# --- resolve ------------------------------------------------------------------


def test_resolve() -> None:
    (answer,) = _call("resolve", "G7", "Cmaj7", "F4", "--json").answers
    assert answer["from"] == {"note": "F4", "degree": "b7"}
    assert answer["to"] == [
        {"note": "E4", "degree": "3", "semitones": -1},
        {"note": "G4", "degree": "5", "semitones": 2},
        {"note": "C4", "degree": "1", "semitones": -5},
        {"note": "B3", "degree": "7", "semitones": -6},
    ]
    (answer,) = _call("resolve", "G7", "Cmaj7", "B", "--json").answers
    assert answer["to"][0] == {"note": "B", "degree": "7", "semitones": 0}


@pytest.mark.parametrize("arguments", [["G7"], ["G7", "C"], ["G7", "C", "F", "G"], ["G7", "C", "h"], ["G7", "X", "F"]])
def test_resolutions_that_cannot_be_answered(arguments: list[str]) -> None:
    called = _call("resolve", *arguments, "--json")
    assert called.status == 2
    assert called.answers == [{"input": " ".join(arguments), "error": called.said[0]}]
    assert len(called.said) == 1


# --- many inputs ----------------------------------------------------------------


def test_a_call_a_line_is_answered_in_order_and_faults_count_their_column_on_the_line() -> None:
    typed = "A7 C# 7\n\n   \nDm7  G7  x\n  C7x C\nA7\nC7 --up\n\tF7 A\n"
    called = _call("degrees", "--json", typed=typed)
    assert called.status == 2
    assert [answer.get("chord", answer.get("input")) for answer in called.answers] == [
        "A7", "Dm7", "C7x C", "A7", "C7 --up", "F7",
    ]  # fmt: skip
    assert [said.split('" ')[0] for said in called.said] == [
        'line 1, column 7: "7', 'line 4, column 10: "x', 'line 5, column 5: "x', 'line 6, column 1: "A7',
        'line 7, column 4: "--up',
    ]  # fmt: skip
    assert called.answers[0]["notes"][1]["error"] == called.said[0]
    assert called.answers[2]["error"] == called.said[2]


@pytest.mark.parametrize(
    ("verb", "typed", "columns"),
    [
        ("chord", "C7\nC7 C7x H\n", ["line 2, column 6", "line 2, column 8"]),
        ("resolve", "Dm7 G7 7\nG7 C7 C7x\nG7 C F x\n", ["line 1, column 8", "line 2, column 9", "line 3, column 8"]),
        ("arpeggio", "C7 --from 2\nC7 --in H\nC6\nA7 A7\n",
         ["line 1, column 11", "line 2, column 9", "line 3, column 1", "line 4, column 4"]),
    ],
)  # fmt: skip
def test_a_column_is_that_of_the_bad_word_even_where_it_occurs_before(
    verb: str, typed: str, columns: list[str]
) -> None:
    called = _call(verb, "--json", typed=typed)
    assert [said.split(":")[0] for said in called.said] == columns


def test_options_on_the_command_line_hold_for_every_line() -> None:
    called = _call("arpeggio", "--from", "5", "--json", typed="A7\nDm7 --from 7\nCmaj7\n")
    assert [answer["name"] for answer in called.answers] == ["Em7", "Cmaj7", "Gmaj7"]


def test_help_inside_the_lines_does_not_end_the_call() -> None:
    called = _call("chord", "--json", typed="C7\n-h\nD7\n")
    assert ["error" in answer for answer in called.answers] == [False, True, False]


def test_answers_come_without_json_as_a_table() -> None:
    called = _call("chord", "Bb7")
    assert called.lines == ["symbol Bb7  root Bb", "   1   Bb", "   3   D", "   5   F", "   b7  Ab"]
    assert _call("chord", "C7", "H7").lines[0] == "symbol C7  root C"
    called = _call("degrees", "A7", "C#", "C")
    assert called.lines == ["chord A7", "   C#  3       chord tone", "   C   #9  b3  alteration"]
    called = _call("resolve", "G7", "Cmaj7", "F4")
    assert called.lines[:2] == ["chord G7  next Cmaj7  from note F4, degree b7", "   E4  3  -1"]


# --- drill ----------------------------------------------------------------------


def test_drills_are_listed() -> None:
    called = _call("drill", "--list", "--json")
    assert called.answers == [{"slug": e.slug, "title": e.title, "asks": e.asks} for e in CATALOGUE]
    slugs = [entry.slug for entry in CATALOGUE]
    assert slugs[:3] == ["name-the-degree", "arpeggio-from-the-third", "choose-the-resolution"]


@pytest.mark.parametrize("slug", [entry.slug for entry in CATALOGUE])
def test_a_question_has_its_keys(slug: str) -> None:
    called = _call("drill", slug, "--count", "4", "--seed", "3", "--level", "2", "--json")
    assert called.status == 0
    assert len(called.answers) == 4
    for question in called.answers:
        assert {"drill", "skill", "prompt", "given", "about", "asks", "choices"} <= question.keys()
        assert question["drill"] == slug
        # The chord is given, but for where it is what is asked: then its root is.
        assert "chord" in question["about"]
        assert ("note" if slug == "hear-the-chord-kind" else "chord") in question["given"]
        for choice in question["choices"]:
            assert {"label", "value", "right", "why", "mistake"} <= choice.keys()


@pytest.mark.parametrize("slug", [entry.slug for entry in CATALOGUE])
def test_the_first_questions_do_not_depend_on_how_many_are_asked(slug: str) -> None:
    short = _call("drill", slug, "--count", "3", "--seed", "8", "--json").lines
    long = _call("drill", slug, "--count", "30", "--seed", "8", "--json").lines
    assert long[:3] == short
    assert len(long) == 30


def test_keys_and_chords_choose_what_is_shown() -> None:
    called = _call("drill", "name-the-degree", "--keys", "Eb,F#", "--chords", "ø,7", "--count", "40", "--json")
    assert {question["given"]["chord"] for question in called.answers} == {"Ebm7b5", "F#m7b5", "Eb7", "F#7"}


def test_a_question_at_a_terminal_says_what_is_given() -> None:
    for entry in CATALOGUE:
        first = _call("drill", entry.slug, "--count", "1", "--seed", "2").lines[0]
        assert "prompt " in first
        assert ("given note " if entry.slug == "hear-the-chord-kind" else "given chord ") in first


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], 'column 1: "" is too little: give a drill; write one of name-the-degree'),
        (["scales"], 'column 1: "scales" is no drill; write one of name-the-degree'),
        (["name-the-degree", "x"], 'column 1: "x" is one too many after a drill; '),
        (["name-the-degree", "--chords", "7,foo"], 'column 3: "foo" is no kind of chord; '),
        (["name-the-degree", "--chords", "7,sus2"], 'column 1: "sus2" is not asked by name-the-degree; its kinds are '),
        (["choose-the-resolution", "--chords", "maj7"], 'column 1: "maj7" is not asked by choose-the-resolution; '),
        (["name-the-degree", "--keys", "C,H"], 'column 3: "H" is no root; '),
        (["name-the-degree", "--keys", "C,,F"], 'column 3: "" is no root; '),
        (["name-the-degree", "--level", "4"], 'column 1: "4" is no level; write a whole number from 1 to 3'),
        (["name-the-degree", "--count", "0"], 'column 1: "0" is no count; '),
        (["name-the-degree", "--count", "-3"], 'column 1: "'),
        (["name-the-degree", "--seed", "x"], 'column 1: "x" is no seed; '),
        (["name-the-degree", "--seed"], 'column 1: "--seed" needs a value behind it; write for example --seed 7.'),
        (
            ["name-the-degree", "--at", "5"],
            'column 1: "--at" does not go with name-the-degree; it goes with note-on-the-',
        ),
        (
            ["copy-the-figure", "--at", "5"],
            'column 1: "--at" does not go with copy-the-figure; it goes with note-on-the-neck, arpeggio-in-place, '
            "line-in-place, best-way; with copy-the-figure where it is --on neck.",
        ),
        (
            ["name-the-degree", "--on", "neck"],
            'column 1: "--on" does not go with name-the-degree; it goes with copy-the-figure.',
        ),
        (["copy-the-figure", "--on", "piano"], 'column 1: "piano" is nothing to answer on; write keyboard or neck.'),
        (["note-on-the-neck", "--tuning", "E2,A2"], 'column 1: "E2,A2" has 2 strings; give 4 to 8 strings'),
        (["note-on-the-neck", "--at", "20"], 'column 1: "at 20" leaves less than five of the neck\'s 22 frets; '),
        (["best-way", "--frets", "30"], 'column 1: "30" is no number of frets; write a whole number from 12 to 27'),
        (["name-the-degree", "--tempo", "120"], 'column 1: "--tempo" is no option here; write one of '),
    ],
)
def test_drills_that_cannot_be_asked(arguments: list[str], said: str) -> None:
    called = _call("drill", *arguments, "--json")
    assert called.status == 2
    assert len(called.said) == 1
    assert called.said[0].startswith(said), called.said
    assert called.answers == [{"input": " ".join(arguments), "error": called.said[0]}]


# --- no verb, help --------------------------------------------------------------


def test_a_word_that_is_no_verb_is_refused() -> None:
    called = _call("sing", "C7")
    assert (called.status, called.lines) == (2, [])
    assert called.said == [f'column 1: "sing" is no verb; write one of {", ".join(VERBS)}.']


def test_help() -> None:
    assert _call().status == 2
    called = _call("--help")
    assert called.status == 0
    assert all(any(verb in line for line in called.lines) for verb in VERBS)


# --- nothing makes it fall over ---------------------------------------------------

WORDS = st.one_of(
    st.text(max_size=12),
    st.sampled_from([
        "C7", "Dm7", "H", "Bb4", "x", "", " ", "-", "--", "---", "-7", "-h1", "--json", "--json=", "--from", "--from=3",
        "--in", "--in=Dm", "--from=", "3", "--list", "--seed", "--seed=1", "--count", "1", "2", "--keys", "C,F",
        "--chords", "7,m7", "--level", "name-the-degree", "choose-the-resolution", "arpeggio-from-the-third", "=",
        "--=", "--a b", "\n", "\u202e", "@file", "C7/E", "N.C.",
    ]),
)  # fmt: skip


def _holds_to_the_contract(called: Call, as_json: bool) -> None:
    assert called.status in (0, 2)
    assert (called.status == 2) == bool(called.said)
    for said in called.said:
        assert said.isprintable()
        assert "column " in said
        assert said.endswith(".")
    if as_json:
        errors = 0
        for answer in called.answers:
            errors += "error" in answer
            errors += sum("error" in note for note in answer.get("notes", []) if isinstance(note, dict))
        assert errors == len(called.said)


@settings(max_examples=300)
@given(st.sampled_from(list(VERBS)), st.lists(WORDS, max_size=6), st.booleans())
@example("drill", ["name-the-degree", "--keys", "Fb", "--count=3"], True)
@example("drill", ["choose-the-resolution", "--keys", "Gb", "--count=3"], True)
@example("degrees", ["C7\n", "C"], True)
@example("degrees", ["C\x1f"], True)
@example("arpeggio", ["--from=2", "C7"], True)
def test_no_arguments_make_it_fall_over(verb: str, words: list[str], as_json: bool) -> None:
    arguments = [*(["--json"] if as_json else []), *words]
    if verb == "drill" and not any(word.startswith("--count") for word in words):
        arguments += ["--count=2"]
    called = _call(verb, *arguments, typed="C7 C\n")
    _holds_to_the_contract(called, "--json" in arguments)


@settings(max_examples=200)
@given(st.sampled_from([verb for verb in VERBS if VERBS[verb].reads_lines]), st.text(max_size=60))
def test_no_typed_lines_make_it_fall_over(verb: str, typed: str) -> None:
    called = _call(verb, "--json", typed=typed)
    _holds_to_the_contract(called, True)
    assert all(said.startswith("line ") for said in called.said)


# --- real processes -----------------------------------------------------------------


def test_the_engine_starts_without_any_other_package() -> None:
    """-I and -S: no site-packages, no environment; the answer is the same."""
    script = (
        f"import sys; sys.path.insert(0, {str(ROOT)!r}); from engine.__main__ import main; sys.exit(main(sys.argv[1:]))"
    )
    bare = _process("-I", "-S", "-c", script, "drill", "choose-the-resolution", "--count", "3", "--json")
    usual = _process("-m", "engine", "drill", "choose-the-resolution", "--count", "3", "--json")
    assert (bare.returncode, bare.stderr) == (0, "")
    assert bare.stdout == usual.stdout


@pytest.mark.parametrize("flags", [[], ["-OO"]])
def test_a_call_from_a_shell(flags: list[str]) -> None:
    called = _process(*flags, "-m", "engine", "degrees", "--json", typed="C7 Eb\nH C\nB♭7 D♭\n")
    assert called.returncode == 2
    assert called.stderr.splitlines() == [
        'line 2, column 1: "H" does not start with a root; write a chord such as Bb7, F#m7b5 or Cmaj7/E.'
    ]
    answers = [json.loads(line) for line in called.stdout.splitlines()]
    assert [answer.get("chord") for answer in answers] == ["C7", None, "B♭7"]
    assert answers[2]["notes"] == [{"note": "Db", "degree": "#9", "also": ["b3"], "role": "alteration"}]


FAULTS = """
import io, sys
from engine.__main__ import main
for arguments in (["chord", "H"], ["sing"], ["degrees", "C7", "x"], ["arpeggio", "C"], ["resolve", "C"], ["drill", "x"],
                  ["drill", "name-the-degree", "--keys", "H"], ["arpeggio", "C7", "--from"], ["chord", "--no"]):
    if main(arguments) != 2:
        sys.exit(f"{arguments} did not fail")
"""


def test_faults_are_told_without_assert_and_docstrings_too() -> None:
    called = _process("-OO", "-c", FAULTS)
    assert called.returncode == 0, called.stderr
    assert called.stdout == "chord C7\n", "the rest of a call is still answered"
    assert len(called.stderr.splitlines()) == 9
    assert "Traceback" not in called.stderr


def test_a_terminal_without_unicode_gets_an_answer_all_the_same() -> None:
    environment = {**os.environ, "PYTHONIOENCODING": "ascii", "LC_ALL": "C"}
    command = [sys.executable, "-m", "engine", "chord", "C△", "H♭", "--json"]
    called = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True)
    assert called.returncode == 2
    assert b"Traceback" not in called.stderr
    assert json.loads(called.stdout.splitlines()[0])["root"] == "C"


def test_a_reader_that_has_enough_is_no_fault() -> None:
    reader = f"{sys.executable} -m engine drill name-the-degree --count 3000 --json | head -n 1"
    called = subprocess.run(["sh", "-c", reader], cwd=ROOT, capture_output=True, text=True)
    assert called.stderr == ""
    assert json.loads(called.stdout)["drill"] == "name-the-degree"
