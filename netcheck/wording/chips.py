"""What is said of chips that join a supply with a cell, and of loads that need no cell."""

from __future__ import annotations

from netcheck.wording.sentence import Sentence, Sentences

SENTENCES: Sentences = {
    ("charger", "primary"): Sentence(
        "{cell}, a primary cell, is charged with up to {charge_A} (state {state}) if a program switches on the charger "
        "of {subject}. It is off as {subject} powers up.",
        "Make sure that no program of this board switches it on, or block it with a diode in the lead of {cell}."),
    ("charger", "rechargeable"): Sentence(
        "{subject} charges {cell}, with up to {charge_A} (state {state}), only once a program switches its charger on.",
        "Look whether the program of this board does."),
    ("charger", "unsolved"): Sentence(
        "What the charger of {subject} does to {cell} once a program switches it on could not be worked out: {why}.",
        "Make sure that no program of this board switches it on."),
    ("charger", "no-ohms"): Sentence(
        "How hard {subject} charges {end} from {start} is not known: no resistance of its charger is published or "
        "stated. So what happens then[ (state {states:plain})][, the life or the charging of {cells}, and single "
        "failures around {cells:it}] could not be worked out.",
        "State its ohms under {subject}, from the data sheet: paths, from {from} to {to}, by: charger, ohms: 2k."),
    ("cell-pin", "diode"): Sentence(
        "{diode} stands between {cell} and the pin of {subject} for a cell: by its maker's word a diode there may keep "
        "it from working.[ It blocks charging by itself ({recognised}).]",
        "Try it, or connect {cell} to {subject} directly."),
    ("cell-pin", "leaks"): Sentence(
        "Under power at most {leak_A} flows between {subject} and {cell}, either way: {leaked_share:capacity} over the "
        "{service_years}."),
    ("not-judged", "known-chip-at-cell"): Sentence(
        "Whether {subject} lets current from {others:or} into {touched}, where a cell hangs, cannot be said: its pins "
        "{missing} are not traced.",
        "Trace {missing} of {type}; the library then knows the ways through it."),
    ("own-cell", "fed"): Sentence(
        "{subject} {why} and needs none on the board, and {cells} feed{cells:s} it: what its supply pin draws at the "
        "volts of a cell is not published.",
        "Fit no cell for it: take {cells} out, or cut the way to {subject}."),
    ("own-cell", "none"): Sentence("{subject} {why}: it needs no cell on the board.", "Fit none for it."),
}
