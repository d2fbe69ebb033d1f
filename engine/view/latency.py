"""The part of the settings that is about sound that comes late: the number, and a test that is tapped."""

from __future__ import annotations

from dataclasses import dataclass

from engine.practice.latency import CLICKS, COUNT_IN, MOST_LATE, STEP, Estimate
from engine.theory.wording import Profile, Text, say
from engine.view.hearing import CAUTION
from engine.view.line_fields import button
from engine.view.markup import escape, on_off, plain, words

CLICK = "clicks"  # what the button of the test has played
LONGEST_LATE = 8
_NOTHING = 2 * STEP  # milliseconds: less than that nobody sees


@dataclass(frozen=True, slots=True)
class Tapped:
    """What came of the test: a sentence, the milliseconds to take over, whether that can be taken back."""

    said: Text | str
    offer: int | None = None
    back: bool = False


def told(estimate: Estimate, late: int) -> Tapped:
    """What the taps tell somebody who has ``late`` milliseconds set."""
    if estimate.late < _NOTHING:
        return Tapped(say("Your taps fall on the clicks: nothing has to be set."), 0 if late else None)
    after, scatter = round(estimate.middle), max(1, round(estimate.scatter))
    said = say("Your taps came {after} ms after the clicks, two of three within {scatter} ms of that.",
               after=after, scatter=scatter)  # fmt: skip
    if estimate.late == late:
        return Tapped(say("{said} That is what is set.", said=said))
    return Tapped(said, estimate.late)


def late_html(late: int, profile: Profile, fault: str = "", tapped: Tapped | None = None) -> str:
    """The number and the test; where there is a ``fault``, what was typed stays."""
    value = "" if fault else f' value="{late}"'
    label = words("Sound comes late by so many milliseconds, 0 to {most}", profile, most=MOST_LATE)
    says = words(
        "Headphones without a wire are late by 100 to 300: the note that is lit then waits for what you hear.", profile
    )
    return (
        f'<div class="lateness"><p class="field"><label for="late">{label}</label><input id="late" name="late"'
        f' type="text" inputmode="numeric" maxlength="{LONGEST_LATE}"{value} aria-describedby="late-fault late-says"'
        ' autocomplete="off"></p>'
        f'<p class="fault" id="late-fault" role="status">{escape(fault)}</p><p class="says" id="late-says">{says}</p>'
        f"{_test(profile)}{tapped_html(tapped, profile)}</div>"
    )


def _test(profile: Profile) -> str:
    """The button that plays the clicks, and the large one to tap, which is there while they sound."""
    how = words(
        "Or find it out with the headphones on: {count_in} clicks count in, then tap along with {clicks} more.",
        profile, count_in=COUNT_IN, clicks=CLICKS,
    )  # fmt: skip
    return (
        f'<p class="says">{how}</p><p class="care">{words(CAUTION, profile)}</p>'
        f'<p class="play"><button type="button" data-hear="{CLICK}" aria-pressed="false">'
        f"{on_off(words('Play the clicks', profile), profile)}</button></p>"
        f'<p class="tap-along"><button type="button" data-taps="{CLICK}">{words("Tap here", profile)}'
        f"<small>{words('or the space bar', profile)}</small></button></p>"
    )


def tapped_html(tapped: Tapped | None, profile: Profile) -> str:
    """What came of the test; empty before."""
    if tapped is None:
        return '<div id="late-test" role="status"></div>'
    said = escape(tapped.said) if isinstance(tapped.said, str) else plain(tapped.said, profile)
    buttons = ""
    if tapped.offer is not None:
        buttons += button("take", words("Set it to {late} ms", profile, late=tapped.offer), str(tapped.offer))
    if tapped.back:
        buttons += button("back", words("Take that back", profile))
    ways = f'<p class="buttons">{buttons}</p>' if buttons else ""
    return f'<div id="late-test" role="status"><p>{said}</p>{ways}</div>'
