"""The capacitors of a variant, judged: one section of the whole judgement."""

from __future__ import annotations

from collections.abc import Mapping

from netcheck.capacitors import verdicts
from netcheck.capacitors.effect import Change, effect
from netcheck.capacitors.life import lasting
from netcheck.capacitors.replacement import may_be
from netcheck.capacitors.results import CapacitorResult
from netcheck.capacitors.roles import Place, Surroundings, place
from netcheck.capacitors.stress import after_faults, fault_circuits, seen, series_ohm, surge
from netcheck.capacitors.testers import told
from netcheck.capacitors.untraced import Untraced
from netcheck.checks.variant import Judged
from netcheck.fragment.model import AS_FOUND, Fragment, Kind, Part
from netcheck.parts import capacitor_laws as laws
from netcheck.parts.capacitor import family
from netcheck.parts.specs import CapacitorSpec, RegulatorSpec
from netcheck.simulation.elements import OperatingPoint
from netcheck.solving.asking import Asking, asked
from netcheck.solving.solved_states import Survey


def section(found: Survey) -> Asking[Judged]:
    """Every capacitor: its place, stress, life and verdict; what cannot be judged is told by the verdicts."""
    results = yield from judge(found)
    findings = [finding for result in results.values() for finding in result.findings]
    findings += verdicts.of_rails(found.fragment, results.values())
    return Judged(findings=tuple(findings), capacitors={name: result.to_dict() for name, result in results.items()},
                  judges=frozenset({Kind.CAPACITOR}))


def judge(found: Survey) -> Asking[dict[str, CapacitorResult]]:
    """The results of all fitted capacitors, by name, in file order."""
    fragment = found.fragment
    capacitors = list(fragment.of_kind(Kind.CAPACITOR))
    circuits = {} if found.missing else fault_circuits(found, [one for one in capacitors if _rated(one) is not None])
    points = yield from asked(circuits)
    around, untraced = Surroundings(fragment), Untraced(fragment, found.states.states)
    return {part.name: _one(found, around, untraced, part, points) for part in capacitors}


def _rated(part: Part) -> float | None:
    assert isinstance(part.spec, CapacitorSpec)
    return part.spec.rated_V


def _one(
    found: Survey, around: Surroundings, untraced: Untraced, part: Part,
    points: Mapping[tuple[str, str], OperatingPoint],
) -> CapacitorResult:
    fragment, spec = found.fragment, part.spec
    assert isinstance(spec, CapacitorSpec)
    conditions = fragment.conditions.temperature
    where, stress, ohm = place(around, part), seen(found, part, untraced), series_ohm(around, part)
    old = _before(fragment, part)
    # What may stand there follows from what stood there, not from what the mod put in.
    reference = old.spec if old is not None and isinstance(old.spec, CapacitorSpec) else spec
    known = family(spec.type)
    regulator = _regulator(fragment, where)
    measured = next((reading for reading in fragment.tester_readings if reading.of == part.name), None)
    result = CapacitorResult(
        name=part.name, spec=spec, place=where, stress=stress,
        backwards_limit_V=verdicts.backwards_limit_V(part, conditions.high),
        derated_V=None if known is None or spec.rated_V is None
        else laws.derated_V(known, spec.rated_V, ohm, stress.nominal_V or 0.0),
        may_be=may_be(reference, where, stress, regulator, ohm),
        lasting=lasting(spec, conditions.high),
        leakage=None if stress.nominal_V is None else laws.leakage(spec, stress.nominal_V, conditions.high),
        surge=surge(spec, stress.nominal_V, ohm)
        if known is not None and known.burns and stress.nominal_V and where.rail is not None else None,
        fault=after_faults(part, points) if spec.rated_V is not None else None,
        findings=(),
        effect=None if old is None or old is part or not _changed(old, part)
        else effect(Change(_found(fragment), fragment, old, part, where, stress, conditions.low, conditions.high)),
        tester=told(spec, measured)
        if measured is not None and _still_there(fragment, part, old, measured.mod) else None,
        changed=_found(fragment) is not fragment and (old is None or _changed(old, part)),
        was=reference if old is not None else None,
    )
    return verdicts.judged(fragment, part, result, regulator)


def _found(fragment: Fragment) -> Fragment:
    """The circuit as found that a variant was made of; itself where it is that."""
    return fragment.found or fragment


def _before(fragment: Fragment, part: Part) -> Part | None:
    """What stood under this name as found; None where nothing did."""
    old = _found(fragment).parts.get(part.name)
    return old if old is not None and old.fitted and old.kind is Kind.CAPACITOR else None


def _still_there(fragment: Fragment, part: Part, old: Part | None, measured_in: str) -> bool:
    """Whether what was measured stands in this variant: as found, and left in its place by the mod, too."""
    return measured_in == fragment.variant or (measured_in == AS_FOUND and old is not None and not _changed(old, part))


def _changed(old: Part, new: Part) -> bool:
    return old.spec != new.spec or dict(old.pins) != dict(new.pins)


def _regulator(fragment: Fragment, where: Place) -> RegulatorSpec | None:
    part = fragment.parts.get(where.of or "") if where.role == "regulator-output" else None
    return part.spec if part is not None and isinstance(part.spec, RegulatorSpec) else None
