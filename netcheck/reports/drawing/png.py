"""The drawing as a bitmap."""

from __future__ import annotations

import struct
import zlib


def png(svg: str, scale: float = 2.0) -> bytes:
    """The SVG text as PNG bytes, `scale` pixels to one of the drawing's, on light paper.

    Raises RuntimeError with the line that installs the renderer where it is missing.
    """
    try:
        import resvg_py
    except ImportError as missing:
        raise RuntimeError("PNG output needs the package resvg-py, installed beside netcheck: "
                           "python -m pip install resvg-py") from missing
    # 96 dots an inch makes the drawing's pixel one pixel
    return _signed(bytes(resvg_py.svg_to_bytes(svg_string=svg, zoom=scale, dpi=96)))


def _signed(bitmap: bytes) -> bytes:
    """The picture with the keyword Software (PNG specification, W3C, third edition, 11.3.3.2) behind its header."""
    header = 8 + 25  # the signature, and the chunk IHDR
    text = b"tEXt" + b"Software\0netcheck"
    chunk = struct.pack(">I", len(text) - 4) + text + struct.pack(">I", zlib.crc32(text))
    return bitmap[:header] + chunk + bitmap[header:]
