"""The tracer's own photographs, scaled down and turned into text that a page can hold."""

from __future__ import annotations

import base64
import io
import os
import stat
import warnings
from pathlib import Path

from msgspec import Struct

from netcheck.fragment.model import Fragment, Photo

LARGEST_SIDE = 1400
"""Pixels along the longer side of an embedded photograph: sharp across an A4 page."""

_QUALITY = 82
_MOST_BYTES = 64 * 2**20
_MOST_PIXELS = 40_000_000
_FORMATS = ("JPEG", "PNG", "WEBP", "GIF")
"""What a photograph may be, told by its content; no other decoder is ever started."""


class Embedded(Struct, frozen=True):
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
    return tuple(_embedded(photo, folder) for photo in fragment.photos)


def _embedded(photo: Photo, folder: Path) -> Embedded:
    try:
        data, width, height = _scaled(_content(photo.file, folder))
    except OSError as error:
        return Embedded(photo.file, photo.caption, problem=error.strerror or "not a picture that can be read")
    except Unshown as error:
        return Embedded(photo.file, photo.caption, problem=str(error))
    return Embedded(photo.file, photo.caption, base64.b64encode(data).decode("ascii"), width, height)


class Unshown(Exception):
    """A photograph that is not shown, and why."""


def _content(name: str, folder: Path) -> bytes:
    """The bytes of a photograph: an ordinary file in the fragment's folder or below it, whatever a link says."""
    given = Path(name)
    if given.is_absolute() or ".." in given.parts or given.drive:
        raise Unshown("expected a file in the fragment's folder or below it")
    path = folder / given
    if not path.resolve().is_relative_to(folder.resolve()):
        raise Unshown("a link that leads out of the fragment's folder")
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    with open(handle, "rb") as file:
        if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            raise Unshown("not an ordinary file")
        data = file.read(_MOST_BYTES + 1)
    if len(data) > _MOST_BYTES:
        raise Unshown(f"larger than {_MOST_BYTES // 2**20} MB")
    return data


def _scaled(data: bytes) -> tuple[bytes, int, int]:
    """The picture upright, on white, without its camera's notes (place and time among them)."""
    from PIL import Image, ImageOps, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of pixels, judged just below, and of notes, which are left out
            with Image.open(io.BytesIO(data), formats=_FORMATS) as image:
                if image.width * image.height > _MOST_PIXELS:
                    raise Unshown(f"more than {_MOST_PIXELS // 10**6} million pixels")
                image.draft("RGB", (LARGEST_SIDE, LARGEST_SIDE))
                if image.mode not in ("RGB", "RGBA", "L"):
                    turned = ImageOps.exif_transpose(image).convert("RGBA")
                    turned.thumbnail((LARGEST_SIDE, LARGEST_SIDE))
                else:
                    image.thumbnail((LARGEST_SIDE, LARGEST_SIDE))
                    turned = ImageOps.exif_transpose(image)
                clear = turned.convert("RGBA")
    except Unshown:
        raise
    except UnidentifiedImageError as error:
        raise Unshown("not a JPEG, PNG, WebP or GIF picture") from error
    except Image.DecompressionBombError as error:
        raise Unshown("more pixels than can be unpacked safely") from error
    except Exception as error:  # a damaged file shows as nearly any exception of the decoder
        raise Unshown("damaged, or not a picture that can be read") from error
    flat = Image.new("RGB", clear.size, "white")
    flat.paste(clear, mask=clear.getchannel("A"))
    out = io.BytesIO()
    flat.save(out, "JPEG", quality=_QUALITY, optimize=True)
    return out.getvalue(), flat.width, flat.height
