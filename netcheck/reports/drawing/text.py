"""How wide a line of text is, so that labels can be placed without a browser at hand.

The widths are those of DejaVu Sans Condensed, in thousandths of the letter
height, read from the font's own tables. The drawing states each measured width
beside its text (SVG `textLength`), so that another font fills the same box.
"""

from __future__ import annotations

from msgspec import Struct

FAMILY = "Arial, 'Liberation Sans', 'DejaVu Sans Condensed', 'DejaVu Sans', sans-serif"
LINE = 1.12
"""Distance of baselines as a multiple of the letter height."""

_REGULAR = {
    247: "'", 250: "ijl", 265: "IJ", 286: " ,.·‘’", 303: "/:;\\|", 316: "f", 325: "-", 351: "()[]",
    353: "t", 360: "!²", 370: "r", 414: '"', 450: "*_`°–", 466: "“”", 469: "s", 472: "z", 478: "?",
    495: "c", 501: "L", 518: "F", 521: "k", 532: "vxy", 542: "P", 549: "TY", 550: "oö", 551: "aä",
    554: "eéè", 567: "ß", 568: "E", 570: "hnuü", 571: "Sbdgpq", 572: "$0123456789{}µμ", 590: "K",
    615: "AVÄ", 616: "XZ", 617: "B", 625: "R", 628: "C", 659: "UÜ", 673: "N", 677: "H", 688: "Ω",
    693: "D", 697: "G", 702: "&", 708: "OQÖ", 736: "w", 754: "#+<=>^~±−→×≤≥≈", 776: "M", 855: "%",
    876: "m", 890: "W", 900: "@—…",
}
_BOLD = {
    275: "'", 308: "ijl", 313: " ", 329: "/\\|", 334: "IJ", 342: ",.·‘’", 360: ":;", 374: "-", 391: "f",
    394: "²", 410: "!", 411: "()[]", 430: "t", 444: "r", 450: "_`°–", 469: '"', 470: "*", 522: "?",
    523: "z", 533: "c", 536: "s", 573: "L", 580: "x", 586: "vy", 591: "“”", 598: "k", 607: "aä",
    610: "eéè", 614: "T", 615: "EF", 618: "oö", 626: "$0123456789", 641: "hnu{}ü", 644: "bdgpq",
    647: "ß", 648: "S", 651: "Y", 652: "Z", 659: "P", 660: "C", 662: "µμ", 686: "B", 693: "R", 694: "X",
    696: "AVÄ", 697: "K", 730: "UÜ", 738: "G", 747: "D", 753: "HN", 754: "#+<=>^~±−→×≤≥≈", 765: "OQΩÖ",
    785: "&", 831: "w", 896: "M", 900: "@—…", 901: "%", 938: "m", 993: "W",
}
_WIDTH = {
    False: {char: width for width, chars in _REGULAR.items() for char in chars},
    True: {char: width for width, chars in _BOLD.items() for char in chars},
}
_OTHER = 1000


def width(text: str, size: float, bold: bool = False) -> float:
    """Width of `text` in pixels at a letter height of `size` pixels; an unlisted sign counts as a square.

    >>> width("VRAM", 10)
    26.31
    """
    table = _WIDTH[bold]
    return round(sum(table.get(char, _OTHER) for char in text) * size / 1000, 2)


def wrap(text: str, size: float, room: float, bold: bool = False) -> tuple[str, ...]:
    """The text in lines of at most `room` pixels; a single longer word keeps a line of its own.

    >>> wrap("down into the cell", 10, 50)
    ('down into', 'the cell')
    """
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width(longer, size, bold) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    return tuple(lines)


def broken(text: str, size: float, room: float, bold: bool = False) -> tuple[str, ...]:
    """The text in lines of at most `room` pixels, a longer word broken where the line ends.

    >>> broken("operational amplifier", 10, 50)
    ('operationa', 'l', 'amplifier')
    """
    lines: list[str] = []
    for line in wrap(text, size, room, bold):
        while width(line, size, bold) > room and len(line) > 1:
            fits = max((n for n in range(1, len(line)) if width(line[:n], size, bold) <= room), default=1)
            lines.append(line[:fits])
            line = line[fits:]
        lines.append(line)
    return tuple(lines)


class Box(Struct, frozen=True):
    """An upright rectangle in pixels; y grows downward."""

    x0: float
    y0: float
    x1: float
    y1: float

    def overlaps(self, other: Box) -> bool:
        """Whether the two share an area (a common edge is none)."""
        return self.x0 < other.x1 and other.x0 < self.x1 and self.y0 < other.y1 and other.y0 < self.y1


class Text(Struct, frozen=True):
    """One line of text: `x` is its left edge, `y` its baseline; role names its colour in the drawing."""

    content: str
    x: float
    y: float
    size: float
    role: str
    bold: bool = False

    @property
    def box(self) -> Box:
        across = width(self.content, self.size, self.bold)
        return Box(self.x, self.y - 0.8 * self.size, self.x + across, self.y + 0.22 * self.size)
