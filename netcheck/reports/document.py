"""Everything that a write-up says, in the order in which it says it, before it is a page or Markdown."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from netcheck.bench import meter
from netcheck.bench.sheet import ProbeSheet
from netcheck.capacitors.table import table
from netcheck.checks.changes import Figure, figures, in_order, part_changes
from netcheck.checks.results import Report, VariantResult
from netcheck.findings import Finding
from netcheck.fragment.kinds import MOVABLE
from netcheck.fragment.model import Fragment, Kind
from netcheck.fragment.states import ABSENT
from netcheck.parts.specs import Figure as Published
from netcheck.reports import vocabulary
from netcheck.reports.answer import Answer, answer
from netcheck.reports.bench_order import mods_before
from netcheck.reports.blocks import Block, Filled, Pasted, filled
from netcheck.reports.caps_words import cautions_of
from netcheck.reports.causes import merged
from netcheck.reports.changes_text import Row, figure_words, part_change_words, shown_figure
from netcheck.reports.drawing import Picture, description, draw, frame_of, picture_of, size
from netcheck.reports.photos import Embedded
from netcheck.reports.sections import SECTIONS
from netcheck.reports.sheet import SheetSection, sheet_sections
from netcheck.reports.shopping import Purchase, shopping
from netcheck.reports.steps_text import StepText, steps_text
from netcheck.reports.text import assumptions, proposal
from netcheck.reports.words import position_words
from netcheck.solving.scene import Reference, Scene
from netcheck.wording.lists import listed

_SHOWN_STATES = 6
_UPRIGHT_PAGE = 920.0  # at 0.7545 of its size this fills the 184 mm that the margins of A4 leave


class Drawing(Struct, frozen=True):
    """A drawing with its caption, as SVG for paper, for a screen as wide as a hand, and in words. width: of the
    first [pixels]."""

    caption: str
    svg: str
    narrow: str
    words: str
    width: float

    @property
    def lying(self) -> bool:
        """Whether it needs a page of A4 on its side for letters of 6.5 points."""
        return self.width > _UPRIGHT_PAGE


class Judged(Struct, frozen=True):
    """One variant: its verdict, what it changes, and its findings, the gravest first."""

    name: str
    about: str
    answer: Answer
    parts: tuple[str, ...]
    findings: tuple[Finding, ...]

    @property
    def verdict(self) -> str:
        return self.answer.verdict

    @property
    def heading(self) -> str:
        return vocabulary.variant_title(self.name)

    @property
    def within(self) -> str:
        """The variant inside a sentence: 'as found', 'mod "coin-cell"'."""
        return vocabulary.variant(self.name)


class Setting(Struct, frozen=True):
    """A jumper or switch as the last variant wants it set, and its other positions."""

    name: str
    at: str
    position: str
    hand: str
    joins: str
    others: tuple[str, ...]


class Plot(Struct, frozen=True):
    """A plot as SVG, with its title."""

    title: str
    svg: str


class Table(Struct, frozen=True):
    """A table of figures: a heading for each column after the first, and rows."""

    heads: tuple[str, ...]
    rows: tuple[Row, ...]


class Material(Struct, frozen=True):
    """What was worked out for a write-up. variants: the fragments in the report's order; reference: where every
    drawing has its places from."""

    report: Report
    variants: tuple[Fragment, ...]
    scenes: tuple[Scene, ...]
    photos: tuple[Embedded, ...]
    sheet: ProbeSheet | None = None
    diodes: str = ""
    plots: tuple[Plot, ...] = ()
    mod_source: str = ""
    reference: Reference | None = None


class Document(Struct, frozen=True):
    """A write-up, section by section; an empty section is left out."""

    title: str
    file: str
    board: str
    about: tuple[str, ...]
    judged: tuple[Judged, ...]
    pasted: tuple[Pasted, ...]
    drawings: tuple[Drawing, ...]
    celled: bool
    photos: tuple[Embedded, ...]
    before: tuple[str, ...]
    steps: tuple[StepText, ...]
    purchases: tuple[Purchase, ...]
    settings: tuple[Setting, ...]
    sheet: tuple[SheetSection, ...]
    figures: Table
    sections: tuple[Filled, ...]
    assumed: tuple[str, ...]
    diodes: str
    plots: tuple[Plot, ...]
    cautions: tuple[str, ...]
    words: tuple[tuple[str, str], ...]
    sources: tuple[tuple[str, str], ...]

    @property
    def last(self) -> Judged:
        """The variant that the steps lead to."""
        return self.judged[-1]

    @property
    def others(self) -> tuple[Judged, ...]:
        """What else was judged: as found, and the other mods of the file."""
        return self.judged[:-1]


def document(material: Material) -> Document:
    """The write-up of a report and what goes with it."""
    found, last = material.variants[0], material.variants[-1]
    modified = last.variant != found.variant
    result = material.report.variants[-1]
    ref = material.reference
    frame = None if ref is None else frame_of(found, ref.state, ref.point, ref.stood)
    verdicts = {one.name: vocabulary.MARKS[one.verdict] for one in material.report.variants}
    return Document(
        title=found.title,
        file=Path(found.file).name,
        board=found.board or "",
        about=tuple(filter(None, (text.strip() for text in (found.about or "").split("\n\n")))),
        judged=tuple(_judged(one, variant, found)
                     for one, variant in zip(material.report.variants, material.variants, strict=True)),
        pasted=tuple(_pasted(material)),
        drawings=tuple(_drawing(scene, found, frame, verdicts) for scene in material.scenes),
        celled=any(found.of_kind(Kind.CELL)) or any(last.of_kind(Kind.CELL)),
        photos=material.photos,
        before=tuple(_before(found)) if modified else (),
        steps=tuple(steps_text(found, last.variant)) if modified else (),
        purchases=() if result.verdict == "danger" else tuple(shopping(found, last, result.net_volts)),
        settings=tuple(_settings(last)),
        sheet=() if material.sheet is None else sheet_sections(material.sheet),
        figures=_figures(material.report.variants[:1] + material.report.variants[1:][-1:]),
        sections=filled(SECTIONS, result, last, page=True),
        assumed=tuple(assumptions(material.report)),
        diodes=material.diodes,
        plots=material.plots,
        cautions=(*vocabulary.CAUTIONS, *_of_capacitors(material)),
        words=tuple(vocabulary.explained(" ".join(one.message for one in result.findings) + " charge route")),
        sources=tuple(sources(material.variants, () if material.sheet is None else meter.FIGURES)),
    )


def _pasted(material: Material) -> Iterator[Pasted]:
    """What can be copied: a proved cure of the last variant's danger, else the mod as it stands in the file."""
    result, last = material.report.variants[-1], material.variants[-1]
    cure = proposal(result, last)
    if cure is not None:
        yield cure
    elif material.mod_source:
        yield Pasted(f"{vocabulary.variant_title(last.variant)} as it stands under `mods:`", material.mod_source)


def _of_capacitors(material: Material) -> list[str]:
    """What whoever works on capacitors has to know, where the job is about them."""
    found, last, result = material.variants[0], material.variants[-1], material.report.variants[-1]
    lines = table(found, last, result.capacitors, result.capacitors, result.verdict).lines
    about = found.scope == "list" or any(line.changed for line in lines)
    return list(cautions_of(lines)) if about else []


def _before(found: Fragment) -> Iterator[str]:
    """What to do before the first step. Common practice, no source."""
    celled = any(found.of_kind(Kind.CELL))
    if celled and any(found.of_kind(Kind.LOAD)):
        yield "Save what the memory holds, where the instrument can: it is lost once the old cell is out."
    yield "Switch off, pull the plug, and wait until the supply's capacitors are empty: measure before you touch."
    yield "Photograph the section before the first part comes out."
    if celled:
        yield "The cell comes out first and goes in last."


def _judged(result: VariantResult, variant: Fragment, found: Fragment) -> Judged:
    about = ""
    if variant.variant in found.mods:
        said = "; then ".join(filter(None, (mod.about for mod in mods_before(found, variant.variant))))
        about = f"{said[:1].upper()}{said[1:]}"
    changed = tuple(part_change_words(change) for change in part_changes(found, variant))
    return Judged(result.name, about, answer(result, variant), changed, tuple(merged(result.findings)))


def _drawing(scene: Scene, found: Fragment, frame: Picture | None, verdicts: Mapping[str, str]) -> Drawing:
    picture = picture_of(scene.fragment, scene.state, scene.point, routes=scene.routes,
                         against=found if scene.marked else None, frame=frame,
                         verdict=verdicts.get(scene.fragment.variant, ""), corner=scene.corner)
    marks = ", with what comes out and what goes in" if scene.marked else ""
    caption = f"{vocabulary.variant_title(scene.fragment.variant)}, state {scene.state.name}{marks}."
    svg = draw(picture)
    return Drawing(caption, svg, draw(picture, narrow=True), description(picture), size(svg)[0])


def _settings(fragment: Fragment) -> Iterator[Setting]:
    for part in fragment.of_kind(*MOVABLE):
        position = part.position or ABSENT
        pairs = part.positions.get(position, ())
        joins = listed([f"{part.pins[a]} to {part.pins[b]}" for a, b in pairs])
        others = tuple(f"{name}: {position_words(part, name)}" for name in part.positions if name != position)
        yield Setting(part.name, part.at or "", position, position_words(part, position), joins or "nothing", others)


def _figures(variants: Sequence[VariantResult]) -> Table:
    """The loads' and cells' figures, a column for each variant; of many states the first."""
    columns = [{key: value for key, value in figures(one).items() if key.kind != "net"} for one in variants]
    every = in_order(key for column in columns for key in column)
    states = list(dict.fromkeys(key.state for key in every if key.state is not None))[:_SHOWN_STATES]
    alike: dict[tuple[Figure, tuple[str, ...]], list[str]] = {}
    for key in every:
        if key.state is None or key.state in states:
            cells = tuple(shown_figure(key, column.get(key), key in column) for column in columns)
            alike.setdefault((replace(key, subject=key.kind), cells), []).append(key.subject)
    rows = tuple(Row(figure_words(replace(key, subject=listed(subjects))), cells)
                 for (key, cells), subjects in alike.items())
    return Table(tuple(vocabulary.variant(one.name) for one in variants), rows)


def form(block: Block) -> str:
    """Which form of block it is, for the templates."""
    return type(block).__name__


def flat(row: Row) -> tuple[str, ...]:
    """A row with its label as its first cell."""
    return row.label, *row.cells


def sources(variants: Sequence[Fragment], of_meter: Sequence[Published] = ()) -> Iterator[tuple[str, str]]:
    """Each source that the parts' and the meter's figures come from, and whose they are, in that order."""
    of: dict[str, dict[str, None]] = {}
    for fragment in variants:
        for part in fragment.fitted:
            name = getattr(part.spec, "name", "") or part.name
            for figure in _figures_in(part.spec):
                if figure.sure != "given":
                    of.setdefault(_source(figure), {})[name] = None
    for figure in of_meter:
        of.setdefault(_source(figure), {})["the meter"] = None
    told: dict[str, dict[str, None]] = {}
    for source, names in of.items():
        told.setdefault(_without_note(source, of), {}).update(names)
    for source, names in told.items():
        yield source, listed(list(names))


def _source(figure: Published) -> str:
    return figure.source + (_MEMORY if figure.sure == "memory" else "")


_MEMORY = " (from memory)"


def _without_note(source: str, every: Mapping[str, object]) -> str:
    """A source without the note on one figure, where others name the same source."""
    bare = source.removesuffix(_MEMORY)
    for end in (i for i in range(len(bare)) if bare.startswith(": ", i)):
        if sum(other.startswith((f"{bare[:end]}: ", f"{bare[:end]}{_MEMORY}")) or other == bare[:end]
               for other in every) > 1:
            return bare[:end] + source[len(bare):]
    return source


def _figures_in(spec: object) -> Iterator[Published]:
    """Every published figure that a spec holds, however deep."""
    if isinstance(spec, Published):
        yield spec
    elif isinstance(spec, tuple):
        for item in spec:
            yield from _figures_in(item)
    elif isinstance(spec, Struct):
        for field in spec.__struct_fields__:
            yield from _figures_in(getattr(spec, field))
