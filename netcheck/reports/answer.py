"""The answer first: one sentence that says the verdict, for which variant, what does it, by how much, what cures it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from msgspec import Struct

from netcheck.checks.cures import remedy_words
from netcheck.checks.results import LoadResult, VariantResult
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Fragment
from netcheck.parts.specs import LoadSpec
from netcheck.quantities import digits
from netcheck.reports import vocabulary
from netcheck.reports.causes import cause, first_sentence, grouped
from netcheck.reports.settings_text import worst_case
from netcheck.wording.lists import listed
from netcheck.wording.phrases import phrase


class Answer(Struct, frozen=True):
    """The answer on one variant. cause: what does it and by how much. cure: what to do; empty where nothing is.

    finding: the one that it is about, if any.
    """

    verdict: str
    variant: str
    cause: str
    cure: str = ""
    finding: Finding | None = None

    @property
    def head(self) -> str:
        """The verdict and the variant: 'DANGER, mod "plain-swap"'."""
        return f"{vocabulary.MARKS[self.verdict]}, {vocabulary.variant(self.variant)}"

    @property
    def rest(self) -> str:
        """What does it, and what cures it."""
        return " ".join(filter(None, [vocabulary.stopped(self.cause), self.cure]))

    @property
    def sentence(self) -> str:
        return f"{self.head}: {self.rest}"


def answer(result: VariantResult, fragment: Fragment) -> Answer:
    """The answer on a variant: its worst finding and what cures that, or what it is good for."""
    worst = next((told for told in grouped(result.findings) if str(told[0].severity) == result.verdict), None)
    if worst is None:
        good = achieved(result, fragment) or vocabulary.VERDICTS[result.verdict]
        return Answer(result.verdict, result.name, good)
    asked = _overridden(result, worst[0]) + (_misspelt(result) if worst[0].check != "tracing" else "")
    written = " What follows holds for the net as it is written." if worst[0].words.get("meant") else ""
    return Answer(result.verdict, result.name, asked + cause(worst, result, fragment), cure(worst[0], result) + written,
                  worst[0])


def _misspelt(result: VariantResult) -> str:
    """The question about a net that is perhaps misspelt, which comes before what follows from it; a danger does not
    wait for it."""
    asked = next((one for one in result.findings if one.check == "tracing" and one.words.get("meant")), None)
    if asked is None or result.verdict == "danger":
        return ""
    return f"{first_sentence(asked.message)} As it is written: "


def _overridden(result: VariantResult, worst: Finding) -> str:
    """What a person's own library puts in place of a kind or limit that decides, before what it leads to."""
    told = [one for one in result.findings if one.check == "library" and one.severity is Severity.CAUTION]
    if not told or worst.check == "library" or result.verdict == "danger":
        return ""
    one = told[0]
    return f"{one.subject} is taken from {one.words['file']}, not from the shipped library. With it: "


def cure(finding: Finding, result: VariantResult) -> str:
    """The first cure as a sentence; empty where none is known."""
    return next(cures(finding, result), "")


def cures(finding: Finding, result: VariantResult) -> Iterator[str]:
    """The ways to cure a finding, a sentence each, the best first."""
    cell = result.cells.get(finding.subject)
    remedies = cell.remedies if cell is not None and finding.severity is not Severity.NOTE else ()
    if remedies and finding.check == "charge-route":
        yield from (vocabulary.sentence(remedy_words(remedy)) for remedy in remedies[:_OFFERED]
                    if remedy.verdict == remedies[0].verdict)
    elif proved := finding.words.get("cures"):
        yield from map(vocabulary.sentence, (proved,) if isinstance(proved, str) else proved)
    elif finding.advice:
        yield vocabulary.sentence(first_sentence(finding.advice))


_OFFERED = 4


def achieved(result: VariantResult, fragment: Fragment) -> str:
    """What a variant is good for: no charge, the volts left, the life; empty where nothing of it is known."""
    said = [f"nothing charges {listed(safe)}"] if (safe := _safe(result)) else []
    said += filter(None, [_supplied(result)])
    if not result.loads or any(load.carried_by_cell for load in result.loads.values()):
        said += filter(None, (_lasting(name, result) for name in result.cells))
    said += filter(None, (_set(name, regulator) for name, regulator in result.regulators.items()))
    if result.solved and result.expectations and all(entry["holds"] for entry in result.expectations):
        held = len(result.expectations)
        said.append("what you expect holds" if held == 1 else f"all {held} expectations hold")
    return "; ".join(said)


def _safe(result: VariantResult) -> list[str]:
    """The primary cells into which nothing flows that would have to be told."""
    told = {one.subject for one in result.findings if one.check in ("charge-route", "leakage")
            and one.severity in (Severity.DANGER, Severity.UNKNOWN)}
    return [name for name, cell in result.cells.items() if cell.primary and result.solved and name not in told
            and not any(route.conducting for route in cell.routes)]


def _set(name: str, regulator: Mapping[str, Any]) -> str:
    """What a regulator makes, over its settings and with the worst case of each."""
    settings = [one for one in regulator.get("settings", ()) if one.get("output_V") is not None]
    if not settings:
        return ""
    volts = [one["output_V"] for one in settings]
    now = next((one for one in settings if one.get("as_set")), settings[0])
    low, high = worst_case(now)
    worst = f" ({digits.band(low, high, 'V', 3)})" if low is not None and high is not None else ""
    made = f"{regulator.get('output', name)} stands at {digits.volts(now['output_V'])}{worst}"
    if len(settings) == 1:
        return made
    return f"{made}, in its {len(settings)} settings at {digits.band(min(volts), max(volts), 'V', 3)}"


def _supplied(result: VariantResult) -> str:
    """The loads that a cell carries: volts at the worst against what they need, the tightest of them."""
    carried = {name: load for name, load in result.loads.items()
               if load.carried_by_cell and load.lowest_V is not None and load.needs_V is not None}
    if not carried:
        return ""
    load = min(carried.values(), key=lambda one: one.margin_V or 0.0)
    alike = [name for name, one in carried.items() if _same(one, load)]
    return phrase("supplied", loads=tuple(alike), lowest_V=load.lowest_V, needs_V=load.needs_V)


def _same(one: LoadResult, other: LoadResult) -> bool:
    return (digits.volts(one.lowest_V), one.needs_V) == (digits.volts(other.lowest_V), other.needs_V)


def _lasting(name: str, result: VariantResult) -> str:
    """How long a cell lasts, no longer than its shelf life."""
    life = result.cells[name].life
    if life is None or life.years is None:
        return ""
    if life.years == 0:
        shorted = any((one.check, one.subject) == ("short-circuit", name) for one in result.findings)
        why = "empty" if life.ends_for is None else "shorted" if shorted and life.taking == "back" else "never-kept"
        return phrase(why, cell=name, load=life.ends_for, least_V=life.least_V)
    if life.least_years == 0:
        return phrase("perhaps-never-kept", cell=name, lasts=digits.duration(life.lasts))
    shelf = " (its shelf life)" if life.lasts != life.years else ""
    return f"{name} lasts {digits.durations(life.lasts_least, life.lasts)}{shelf}"


def others(results: Sequence[VariantResult], variants: Sequence[Fragment]) -> list[Answer]:
    """The answers on all variants but the last: as found first."""
    return [answer(result, fragment) for result, fragment in zip(results[:-1], variants[:-1], strict=True)]


def questions(result: VariantResult, fragment: Fragment) -> Iterator[str]:
    """What the file leaves open and the verdict turns on, a line each that says what to state."""
    conditions = fragment.conditions
    if conditions.powered_hours_a_day is None:
        for finding in result.findings:
            hours = finding.figures.get("hours_within_worst_h", 0.0)
            if finding.check == "leakage" and finding.severity is Severity.CAUTION and hours >= _LEAST_HOURS:
                yield f"State `powered: … h/day` under `conditions:`; up to {hours:.2g} h a day this is ok."
                break
    unstated = [name for name, load in result.loads.items() if load.needs_V is None and not _by_itself(fragment, name)]
    if unstated:
        yield f"State what {listed(unstated)} need{'s' if len(unstated) == 1 else ''}: `works: 2.0 V to 5.5 V`."


_LEAST_HOURS = 0.5


def _by_itself(fragment: Fragment, name: str) -> bool:
    """Whether a load keeps its contents without a cell of the board, whatever volts it gets."""
    spec = fragment.parts[name].spec if name in fragment.parts else None
    return isinstance(spec, LoadSpec) and bool(spec.needs_no_cell)
