"""Wording: templates with typed slots, and the profiles that show them."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from engine.drills.catalogue import CATALOGUE, Stream
from engine.drills.landings import step_name
from engine.drills.mistakes import MISTAKES
from engine.drills.options import Options
from engine.theory.chord_symbol import parse_chord
from engine.theory.degree import DEGREES, Degree
from engine.theory.interval import Interval
from engine.theory.key import parse_key
from engine.theory.pitch import parse_pitch
from engine.theory.wording import JOINTS, Profile, Slot, Text, render, say, show

ENGINE = Path(__file__).resolve().parents[2] / "engine"

ASCII = Profile(signs=False)
GERMAN = Profile(names="german")
FIXED_DO = Profile(names="fixed-do")
B_FLAT = Profile(part="Bb")
E_FLAT = Profile(part="Eb")
IN_F = Profile(part="F")


def _notes(names: str) -> tuple[Slot, ...]:
    return tuple(parse_pitch(name) for name in names.split())


@pytest.mark.parametrize(
    ("profile", "expected"),
    [
        (Profile(), "C B B♭ F♯ E𝄫 F𝄪"),
        (ASCII, "C B Bb F# Ebb F##"),
        (GERMAN, "C H B F♯ E𝄫 F𝄪"),
        (FIXED_DO, "Do Si Si♭ Fa♯ Mi𝄫 Fa𝄪"),
        (B_FLAT, "D C♯ C G♯ F♭ G𝄪"),
        (E_FLAT, "A G♯ G D♯ C♭ D𝄪"),
        (IN_F, "G F♯ F C♯ B𝄫 C𝄪"),
        (Profile(names="german", part="Bb"), "D C♯ C G♯ F♭ G𝄪"),
    ],
)
def test_notes(profile: Profile, expected: str) -> None:
    assert show(_notes("C B Bb F# Ebb F##"), profile, "row") == expected


@pytest.mark.parametrize(
    ("symbol", "profile", "expected"),
    [
        ("Bbm7b5", Profile(), "B♭m7♭5"), ("Bbm7b5", ASCII, "Bbm7b5"), ("Bbm7b5", GERMAN, "Bm7♭5"),
        ("B7b9", GERMAN, "H7♭9"), ("Bb7#11", FIXED_DO, "Si♭7♯11"), ("Bbm7b5", B_FLAT, "Cm7♭5"),
        ("Cmaj7/E", B_FLAT, "Dmaj7/F♯"), ("Cmaj7/Bb", GERMAN, "Cmaj7/B"), ("F#7b9b13", ASCII, "F#7b9b13"),
        ("F#7b9b13", Profile(), "F♯7♭9♭13"), ("CmMaj7", Profile(), "Cm(maj7)"), ("CmMaj7", ASCII, "CmMaj7"),
        ("Ab7", E_FLAT, "F7"), ("C", IN_F, "G"), ("Ddim7", FIXED_DO, "Redim7"), ("C6/9", Profile(), "C6/9"),
    ],
)  # fmt: skip
def test_chords(symbol: str, profile: Profile, expected: str) -> None:
    assert show(parse_chord(symbol), profile) == expected


@pytest.mark.parametrize(
    ("value", "profile", "expected"),
    [
        (Degree("b9"), Profile(), "♭9"), (Degree("#11"), Profile(), "♯11"), (Degree("bb7"), Profile(), "𝄫7"),
        (Degree("b9"), ASCII, "b9"), (Degree("b9"), B_FLAT, "♭9"), (parse_key("Bb"), Profile(), "B♭"),
        (parse_key("Bb"), GERMAN, "B"), (parse_key("Bbm"), B_FLAT, "C minor"), (parse_pitch("Bb4"), Profile(), "B♭4"),
        (parse_pitch("Bb4"), B_FLAT, "C5"), (parse_pitch("C4"), E_FLAT, "A4"), (parse_pitch("Bb4"), GERMAN, "B4"),
        (Interval(2, 4), Profile(), "major third"), (Interval(6, 9), B_FLAT, "diminished seventh"),
        (7, Profile(), "7"), ("G", Profile(), "G"), (say("a {note}", note=parse_pitch("Bb")), GERMAN, "a B"),
    ],
)  # fmt: skip
def test_other_slots(value: Slot, profile: Profile, expected: str) -> None:
    assert show(value, profile) == expected


def test_every_degree_is_shown_with_real_signs() -> None:
    shown = [show(Degree(name)) for name in DEGREES]
    assert len(set(shown)) == len(DEGREES)
    assert not any("b" in name or "#" in name for name in shown)


@pytest.mark.parametrize(
    ("joint", "two", "three"),
    [
        (":and", "C and E", "C, E and G"), (":or", "C or E", "C, E or G"), (":run", "C–E", "C–E–G"),
        (":row", "C E", "C E G"), ("", "C, E", "C, E, G"),
    ],
)  # fmt: skip
def test_how_several_stand_beside_each_other(joint: str, two: str, three: str) -> None:
    slot = "{notes" + joint + "}"
    assert render(say(slot, notes=_notes("C"))) == "C"
    assert render(say(slot, notes=_notes("C E"))) == two
    assert render(say(f"These are {slot}.", notes=_notes("C E G"))) == f"These are {three}."


def test_a_sentence_in_another_language_fills_the_same_slots() -> None:
    text = say("Which degree of {chord} is {note}?", chord=parse_chord("Bb7"), note=parse_pitch("B"))
    german = {"Which degree of {chord} is {note}?": "{note}: welche Stufe von {chord}?"}
    assert render(text, Profile(names="german", sentences=german)) == "H: welche Stufe von B7?"


def test_a_missing_slot_is_an_error() -> None:
    with pytest.raises(KeyError, match="chord"):
        render(say("The {degree} of {chord}.", degree=Degree("3")))
    with pytest.raises(KeyError, match="note"):
        render(Text("{note}"))


def test_a_joint_that_is_none_is_an_error() -> None:
    with pytest.raises(KeyError, match="beside"):
        render(say("{notes:beside}", notes=_notes("C E")))


def test_the_same_sentence_is_equal_whatever_the_order_of_its_slots() -> None:
    assert say("{a}{b}", a=1, b=2) == say("{a}{b}", b=2, a=1)


# --- every template of the engine ---------------------------------------------

SLOT = re.compile(r"\{([a-z_]+)(?::([a-z]+))?\}")
# Calls whose template comes from a table: what they pass is tested below.
FROM_TABLES = {
    "MISTAKES[mistake].says",
    "MISTAKES[key].says",
    "QUALITIES[chord.on_rung(rung)[0].name]",
    "step_name(target.semitones)",
    "colour.text",  # of runs.py: each of its rows names notes, chord and degrees
    "way",  # of spot_the_device.py, without slots
    "template",  # of view/markup.py: what the page's sentences without slots are made of
    "name",  # of formats/text.py: the heads of its columns
}


def _slots(template: str) -> set[str]:
    return {name for name, _ in SLOT.findall(template)}


# What a call's template is looked for in: its function, then the module's own constants.
Scope = tuple[ast.FunctionDef, ast.Module]


def _calls() -> Iterator[tuple[str, ast.Call, Scope]]:
    """Every call of say(...) or words(...) in the engine that names its slots, with its place and its scope."""
    for path in sorted(ENGINE.rglob("*.py")):
        module = ast.parse(path.read_text(encoding="utf-8"))
        for function in ast.walk(module):
            if isinstance(function, ast.FunctionDef):
                for call in ast.walk(function):
                    names_slots = isinstance(call, ast.Call) and all(keyword.arg for keyword in call.keywords)
                    if names_slots and isinstance(call.func, ast.Name) and call.func.id in ("say", "words"):
                        yield f"{path.relative_to(ENGINE)}:{call.lineno}", call, (function, module)


def _templates(node: ast.expr | None, scope: Scope) -> list[str]:
    """The templates that an expression may be: a text, one of two or of a table, or a variable that holds such."""
    match node:
        case ast.Constant(value=str() as text):
            return [text]
        case ast.IfExp():
            return _templates(node.body, scope) + _templates(node.orelse, scope)
        case ast.Dict():
            return [text for value in node.values for text in _templates(value, scope)]
        case ast.Tuple():
            return [text for value in node.elts for text in _templates(value, scope)]
        case ast.Subscript():
            return _templates(node.value, scope)
        case ast.Call(func=ast.Attribute(attr="get", value=table), args=[_, otherwise]):
            return _templates(table, scope) + _templates(otherwise, scope)
        case ast.Name():
            function, module = scope
            for statements in (list(ast.walk(function)), module.body):
                found = []
                for statement in statements:
                    if isinstance(statement, ast.Assign) and ast.unparse(statement.targets[0]) == node.id:
                        found += _templates(statement.value, scope)
                if found:
                    return found
    return []


CALLS = list(_calls())


def test_there_are_templates_in_the_engine() -> None:
    assert len(CALLS) > 20


@pytest.mark.parametrize(("call", "scope"), [(c, s) for _, c, s in CALLS], ids=[place for place, _, _ in CALLS])
def test_a_template_has_exactly_the_slots_that_it_is_given(call: ast.Call, scope: Scope) -> None:
    given = {keyword.arg for keyword in call.keywords}
    templates = _templates(call.args[0], scope)
    if not templates:
        plain_words = isinstance(call.func, ast.Name) and call.func.id == "words" and not given
        assert plain_words or ast.unparse(call.args[0]) in FROM_TABLES, (
            f"where does {ast.unparse(call.args[0])} come from?"
        )
        return
    used = set()
    for template in templates:
        assert _slots(template) <= given, template
        assert {joint for _, joint in SLOT.findall(template)} <= set(JOINTS)
        assert not set("{}") & set(SLOT.sub("", template)), template
        used |= _slots(template)
    assert used == given, f"{given - used} is given in vain"


def test_every_row_of_the_mistakes_is_made_by_a_drill_and_its_sentence_can_be_said() -> None:
    said = {}
    for entry in CATALOGUE:
        for level in entry.drill.LEVELS:
            stream = Stream(entry.slug, Options(level=level))
            # On the neck a question has a choice for every place.
            for index in range(40 if entry.neck else 300):
                for choice in stream[index].choices:
                    if choice.mistake:
                        said[choice.mistake] = render(choice.why)
    assert set(said) == set(MISTAKES)
    assert not [why for why in said.values() if set("{}") & set(why)]


@pytest.mark.parametrize("key", MISTAKES)
def test_what_a_mistake_says_is_part_of_a_sentence(key: str) -> None:
    says = MISTAKES[key].says
    assert not says.endswith((".", " "))
    assert says.isprintable()


@pytest.mark.parametrize(
    ("semitones", "words"),
    [(1, "rises a half step"), (2, "rises a whole step"), (-1, "falls a half step"), (-2, "falls a whole step")],
)
def test_a_step_in_words(semitones: int, words: str) -> None:
    assert step_name(semitones) == words
