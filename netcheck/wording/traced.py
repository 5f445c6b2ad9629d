"""What is said of the tracing itself: what was perhaps seen or written wrongly."""

from __future__ import annotations

from netcheck.wording.sentence import Sentence, Sentences

_MORE = {"more": {"": "", "yes": " …"}}
_READ = '"{text}" was read as {value}, improbable for '
_UNIT = "write the unit, or correct the prefix"
_AGAIN = "read the marking again, or correct the value"

SENTENCES: Sentences = {
    ("tracing", "floats"): Sentence(
        "{subject} floats: none of its nets ({nets:plain}) reaches another part, a rail or the ground",
        "trace on from it, or correct the name of a net"),
    ("tracing", "loose-pins"): Sentence(
        "nothing else is on the net{shown:plural} {shown:plain}{more} of {subject}[; {slips:semi}]",
        "trace on where it matters", choices=_MORE, each={"slips": "is {@} {@_other}?"}),
    ("tracing", "single-pin"): Sentence(
        "the net {nets} has a single pin, {pin}[; did you mean {meant}?]",
        "trace on from it, or correct the name of the net"),
    ("tracing", "no-pin"): Sentence("the net {subject} has no pin of a fitted part", "trace it, or leave it out"),
    ("tracing", "no-ground"): Sentence("no part is on the ground net {subject}", "name the ground with ground: NET"),
    ("tracing", "capitals"): Sentence(
        "the nets {nets} differ only in capitals, and are two nets", "write one of them if they are the same"),
    ("tracing", "joins-unconnected"): Sentence(
        "the net {nets} joins {pins:plain}",
        "give each pin that is not connected a net of its own, such as {own}"),
    ("tracing", "backwards"): Sentence(
        "{subject} looks backwards: its plus is on the ground {ground}, its minus on {other}",
        "check which pole is which"),
    ("tracing", "both-pins"): Sentence("both pins of {subject} are on the net {nets}", "correct one of them"),
    ("tracing", "designator"): Sentence(
        "{subject} is an unusual designator for {kind:an} (usual: {usual:plain})", "check the kind, or the letter"),
    ("tracing", "improbable"): Sentence("{subject}: " + _READ + "{kind:an}", _UNIT),
    ("tracing", "milli"): Sentence("{subject}: " + _READ + "{kind:an}; M is mega, m is milli", _UNIT),
    ("tracing", "rail-improbable"): Sentence("{subject}: " + _READ + "a rail", "correct the voltage"),
    ("tracing", "rail-milli"): Sentence(
        "{subject}: " + _READ + "a rail; M is mega, m is milli", "correct the voltage"),
    ("tracing", "marking-unreadable"): Sentence(
        '{subject}: its marking "{marked}" is no code that is known for {kind:an}', _AGAIN),
    ("tracing", "marking-no-preferred-number"): Sentence(
        '{subject}: its marking "{marked}" reads as {read}, which is no preferred number: look again', _AGAIN,
        each={"read": "{@_as}"}),
    ("tracing", "marking-contradicts"): Sentence(
        '{subject}: it is marked "{marked}", which reads as {read:or}, but the file says {value}', _AGAIN,
        each={"read": "{@_as} ({@})"}),
    ("tracing", "no-source"): Sentence(
        "{subject} has no source: no rail and no cell reaches the net{shown:plural} {shown:plain}{more}",
        "trace what feeds it", choices=_MORE),
}
