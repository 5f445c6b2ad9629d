"""The whole judgement of one variant: the backup section, and every further section of the house.

A section is a function of the solved states (`checks.variant.Section`); a room that judges something adds its own
here, and nothing else has to know of it.
"""

from __future__ import annotations

from netcheck.checks.results import VariantResult
from netcheck.checks.tracing import warnings
from netcheck.checks.variant import Judged, Section, check_variant, uncured
from netcheck.clock import used_up
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Fragment, Kind
from netcheck.simulation.memory import Memory
from netcheck.solving.asking import Asking, asked
from netcheck.solving.solved_states import Survey

_judged: Memory[tuple[object, ...], list[tuple[Fragment, VariantResult]]] = Memory(64)
"""Variants judged in this process; those of one file and name are told apart by all that they hold."""


def judge(fragment: Fragment, duties: bool = False, cured: bool = True) -> VariantResult:
    """Judge one variant in every state that it can stand in; one that has been judged before is not judged again.

    duties: say what each part does, too. cured: try what cures it, which takes most of the time.
    """
    key = (fragment.file, fragment.title, fragment.variant, duties, cured)
    before = _judged.get(key) or []
    known = next((result for one, result in before if one == fragment and one.found == fragment.found), None)
    if known is not None:
        return known
    result = check_variant(fragment, warnings, (*SECTIONS, _duties) if duties else SECTIONS, cured)
    if used_up() is None and all(one.severity is not Severity.UNKNOWN or one.check == "over-voltage"
                                 for one in result.findings):  # what could not be worked out may be the next time
        _judged.put(key, [*before[-1:], (fragment, result)], 1)
    return result


def forget_judged() -> None:
    """Forget which variants have been judged, so that they are judged again; what was solved stays known."""
    _judged.clear()


def verdict_alone(fragment: Fragment, failing: bool = True) -> VariantResult:
    """The same without cures, and without single failures where they are not asked for: for many boards at a time."""
    return uncured(fragment, warnings, SECTIONS, failing)


def _readings(found: Survey) -> Asking[Judged]:
    yield from asked({})
    if found.missing or not found.fragment.readings:
        return Judged()
    from netcheck.bench.readings import reading_findings  # the bench is large, and most files have no readings

    return Judged(findings=tuple(reading_findings(found.fragment, explained=False)))


def _overrides(found: Survey) -> Asking[Judged]:
    """Entries of a person's own library that stand in place of shipped ones: said, since they decide the verdict."""
    yield from asked({})
    used = {getattr(part.spec, "name", "") for part in found.fragment.fitted}
    return Judged(findings=tuple(
        Finding("library", Severity.CAUTION if set(one.differs) & _DECIDES.get(one.kind, set()) else Severity.NOTE,
                one.name, case="overridden" if one.differs else "same",
                words={"file": str(one.file), "fields": tuple(name.replace("_", " ") for name in one.differs)})
        for one in found.fragment.overrides if one.name in used))


_DECIDES = {
    "cell": {"primary", "chemistry", "abnormal_charge_A", "leak_share", "charge_window", "trickle"},
    "diode": {"leakage", "reverse_V", "current_A"},
}
"""What of a cell says whether and how it may be charged, and of a diode what it lets into one and stands."""



def _connectors(found: Survey) -> Asking[Judged]:
    yield from asked({})
    fragment = found.fragment
    if not (fragment.expectations or fragment.features or any(fragment.of_kind(Kind.CONNECTOR))):
        return Judged()
    from netcheck.checks.connectors import connector_findings
    from netcheck.checks.links import feature_findings, features, link_findings

    works = features(found)
    known = any(getattr(part.spec, "pinout", ()) for part in fragment.of_kind(Kind.CONNECTOR))
    return Judged(findings=(*connector_findings(found), *link_findings(found), *feature_findings(found, works)),
                  features=works, judges=frozenset({Kind.CONNECTOR} if known else ()))


def _duties(found: Survey) -> Asking[Judged]:
    from netcheck.explain.duties import duties

    return Judged(duties=(yield from duties(found)))


def _capacitors(found: Survey) -> Asking[Judged]:
    if not any(True for _ in found.fragment.of_kind(Kind.CAPACITOR)):
        yield from asked({})
        return Judged()
    from netcheck.capacitors.judgement import section  # its families and rules are read where there is a capacitor

    return (yield from section(found))


def _supplies(found: Survey) -> Asking[Judged]:
    if not any(found.fragment.of_kind(Kind.REGULATOR)):
        yield from asked({})
        return Judged()
    from netcheck.supply.section import section  # most boards have no regulator

    return (yield from section(found))


SECTIONS: tuple[Section, ...] = (_readings, _overrides, _supplies, _capacitors, _connectors)
