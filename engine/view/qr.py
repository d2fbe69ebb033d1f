"""A link as a QR code (ISO/IEC 18004), drawn by segno, which is loaded when it is first wanted."""

from __future__ import annotations

from typing import Any

from engine.theory.bad_input import BadInput
from engine.theory.wording import USUAL, Profile
from engine.view.markup import words

LONGEST = 2_000
QUIET_ZONE = 4  # modules of white around it, as the standard asks


def qr_html(text: str, profile: Profile = USUAL) -> str:
    """The SVG of a link; BadInput for one that is longer than phones read reliably."""
    if len(text.encode()) > LONGEST:
        raise BadInput(text, 1, "is too long for a QR code", "choose fewer keys or chords")
    # Not through the package's front door, which loads much that only writing files needs.
    from segno import encoder

    encode: Any = encoder.encode
    rows = [bytes(row) for row in encode(text, error="m", micro=False).matrix]
    size = len(rows) + 2 * QUIET_ZONE
    dark = "".join(
        f"M{x + QUIET_ZONE} {y + QUIET_ZONE}h1v1h-1z" for y, row in enumerate(rows) for x, on in enumerate(row) if on
    )
    name = words("The link as a QR code", profile)
    return (
        f'<svg class="qr" viewBox="0 0 {size} {size}" role="img" aria-label="{name}">'
        f'<path class="qr-light" d="M0 0h{size}v{size}h-{size}z"/><path class="qr-dark" d="{dark}"/></svg>'
    )
