"""Turns what was uploaded into a picture of ours: known by its content, drawn anew, smaller.

Only pixels are kept: where a photo was taken, by which camera, and whatever else a file may hold
beside its picture (or after it) is gone. What would take too much room when opened is refused
before it is opened.
"""

import warnings
from dataclasses import dataclass
from io import BytesIO

from PIL import Image, ImageOps, UnidentifiedImageError

from maker.calc.refusal import Refusal

MOST_BYTES = 12 * 1024 * 1024
MOST_PIXELS = 40_000_000
# the longest side that is kept: enough for half a page in print
LONGEST_SIDE = 1600
QUALITY = 85
# what phones, cameras and scanners give; each read by Pillow itself, without other programs
FORMATS = ("JPEG", "PNG", "WEBP")
# what Pillow raises on bytes that only begin like a picture
BROKEN = (
    UnidentifiedImageError,
    Image.DecompressionBombError,
    Image.DecompressionBombWarning,
    OSError,
    SyntaxError,
    ValueError,
    EOFError,
    IndexError,
    KeyError,
    OverflowError,
    MemoryError,
)


class NotAPicture(Refusal):
    """What was uploaded is not a picture this program takes."""


@dataclass(frozen=True, slots=True)
class CleanPicture:
    """A JPEG drawn anew: its bytes and its size in pixels."""

    data: bytes
    width: int
    height: int


def clean_picture(data: bytes) -> CleanPicture:
    """Return the picture in some bytes. Refused: NotAPicture, with what to do."""
    if len(data) > MOST_BYTES:
        raise NotAPicture("The picture is larger than 12 MB. Save it smaller.", where="file")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(BytesIO(data), formats=FORMATS) as image:
                width, height = image.size
                if width * height > MOST_PIXELS:
                    raise NotAPicture(
                        "The picture has more than 40 million pixels. Save it smaller.",
                        where="file",
                    )
                return _drawn_anew(image)
    except BROKEN as error:
        raise NotAPicture(
            "This is not a picture, or a broken one. Choose a JPEG, PNG or WebP file.",
            where="file",
        ) from error


def _drawn_anew(image: Image.Image) -> CleanPicture:
    # a photo is read at a fraction of its size, which saves memory
    image.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
    image.load()
    upright = ImageOps.exif_transpose(image)
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    seen = upright.convert("RGBA")
    # what is see-through lies on white, as on paper
    paper = Image.new("RGB", seen.size, "white")
    paper.paste(seen, mask=seen.getchannel("A"))
    written = BytesIO()
    paper.save(written, "JPEG", quality=QUALITY, optimize=True)
    return CleanPicture(written.getvalue(), *paper.size)
