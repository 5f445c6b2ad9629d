"""The tracer's own photographs, scaled down and turned into text that a page can hold."""

from __future__ import annotations

import base64
import io
import warnings
from dataclasses import dataclass
from pathlib import Path

from netcheck.fragment.model import Fragment, Photo

LARGEST_SIDE = 1400
"""Pixels along the longer side of an embedded photograph: sharp across an A4 page."""

_QUALITY = 82
_MOST_BYTES = 64 * 2**20
_MOST_PIXELS = 80_000_000


@dataclass(frozen=True, slots=True)
class Embedded:
    """A photograph as a JPEG of `width` by `height` pixels in base64; `problem` says why there is none."""

    file: str
    caption: str
    data: str = ""
    width: int = 0
    height: int = 0
    problem: str = ""

    @property
    def alt(self) -> str:
        return self.caption or f"Photograph {self.file}"

    @property
    def source(self) -> str:
        return f"data:image/jpeg;base64,{self.data}"


def embedded(fragment: Fragment) -> tuple[Embedded, ...]:
    """Every photograph of the fragment, found beside its file; what cannot be shown says why."""
    folder = Path(fragment.file).parent
    return tuple(_embedded(photo, folder / photo.file) for photo in fragment.photos)


def _embedded(photo: Photo, path: Path) -> Embedded:
    try:
        if path.stat().st_size > _MOST_BYTES:
            return Embedded(photo.file, photo.caption, problem=f"larger than {_MOST_BYTES // 2**20} MB")
        data, width, height = _scaled(path)
    except OSError as error:
        return Embedded(photo.file, photo.caption, problem=error.strerror or "not a picture that can be read")
    except _TooLarge as error:
        return Embedded(photo.file, photo.caption, problem=str(error))
    return Embedded(photo.file, photo.caption, base64.b64encode(data).decode("ascii"), width, height)


class _TooLarge(Exception):
    pass


def _scaled(path: Path) -> tuple[bytes, int, int]:
    """The picture upright, on white, without its camera's notes (place and time among them)."""
    from PIL import Image, ImageOps

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # judged by its pixels just below
        try:
            opened = Image.open(path)
        except Image.DecompressionBombError as error:
            raise _TooLarge("more pixels than can be unpacked safely") from error
    with opened as image:
        if image.width * image.height > _MOST_PIXELS:
            raise _TooLarge(f"more than {_MOST_PIXELS // 10**6} million pixels")
        try:
            image.draft("RGB", (LARGEST_SIDE, LARGEST_SIDE))
            upright = ImageOps.exif_transpose(image)
            clear = upright.convert("RGBA")
        except (SyntaxError, ValueError, IndexError) as error:  # how damaged files show
            raise OSError(None, "damaged, or not a picture that can be read") from error
    clear.thumbnail((LARGEST_SIDE, LARGEST_SIDE))
    flat = Image.new("RGB", clear.size, "white")
    flat.paste(clear, mask=clear.getchannel("A"))
    out = io.BytesIO()
    flat.save(out, "JPEG", quality=_QUALITY, optimize=True)
    return out.getvalue(), flat.width, flat.height
