"""Moving the picture a little now and then, so that no pixel is lit for ever. Pure."""

from __future__ import annotations

from PIL import Image, ImageChops

#: One round of the picture about its place; pictures keep a margin of one pixel for it.
ORBIT = ((0, 0), (1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1))


def shift(picture: Image.Image, step: int) -> Image.Image:
    """The picture moved to place ``step`` of the orbit, as a new picture; nothing is lost.

    The margin that leaves on one side comes in on the other.
    """
    across, down = ORBIT[step % len(ORBIT)]
    return ImageChops.offset(picture, across, down)
