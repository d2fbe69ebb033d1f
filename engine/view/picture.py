"""A picture: SVG with its words, for the time before an answer or after it."""

from __future__ import annotations

from dataclasses import dataclass

from engine.view.markup import number
from engine.view.staff import WIDTH


@dataclass(frozen=True, slots=True)
class Picture:
    """``title``, ``telling`` and ``body`` are finished HTML or SVG text; ``top`` is the y of its upper edge.

    ``trims``: what is below its staff may be cut off where room is short.
    """

    height: float
    title: str
    telling: str
    body: str
    top: float = 0
    trims: bool = False


def svg(picture: Picture, name: str, when: str) -> str:
    """The picture as an ``<svg>``; ``name`` is unique in the page; ``when`` is a class: before, after or always."""
    kind = f"{when} trims" if picture.trims else when
    box = f"0 {number(picture.top)} {WIDTH} {number(picture.height - picture.top)}"
    return (
        f'<svg class="picture {kind}" viewBox="{box}" role="img"'
        f' aria-labelledby="{name}-title" aria-describedby="{name}-telling" preserveAspectRatio="xMidYMin slice"'
        f' focusable="false"><title id="{name}-title">{picture.title}</title>'
        f'<desc id="{name}-telling">{picture.telling}</desc>{picture.body}</svg>'
    )
