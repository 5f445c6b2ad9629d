"""The table of boards with their right verdict: every wrong one is told, and counted as too mild or too strict."""

from __future__ import annotations

import re

from verdict_boards import ORDER, answers, judged, table

LEAST_BOARDS = 60


def told(board, variant, what):
    findings = "; ".join(f"{f.severity} {f.check} {f.subject}" for f in variant.findings if str(f.severity) != "note")
    return f"{board.theme}: {board.name} ({variant.name}): {what} [{board.why}] said: {findings}"


def named(variant, severity):
    """Every part and net that the findings of one severity name, in their message too."""
    return {name for f in variant.findings if str(f.severity) == severity
            for name in (f.subject, *f.parts, *f.nets, *re.findall(r"[A-Z]+[0-9]+", f.message))}


def test_the_table_is_large_enough_and_every_board_of_it_can_be_read():
    assert len(table()) >= LEAST_BOARDS
    assert len({board.name for board in table()}) == len(table())
    assert not [f"{board.name} {results}" for board in table() if isinstance(results := judged(board.name), str)]


def test_no_verdict_is_too_mild_and_none_too_strict():
    mild, strict = [], []
    for board, expected, variant in answers():
        ranks = [ORDER.index(word) for word in expected.verdicts]
        if variant.verdict not in expected.verdicts:
            kind = mild if ORDER.index(variant.verdict) < max(ranks) else strict
            kind.append(told(board, variant, f"{variant.verdict}, not {' or '.join(expected.verdicts)}"))
    print(f"{len(table())} boards: {len(mild)} too mild, {len(strict)} too strict")
    assert not mild, "\n".join([f"{len(mild)} too mild, {len(strict)} too strict", *mild, *strict])
    assert not strict, "\n".join([f"{len(strict)} too strict", *strict])


def test_the_finding_that_decides_names_the_part_that_does_it():
    wrong = []
    for board, expected, variant in answers():
        missing = set(expected.names) - named(variant, variant.verdict)
        if variant.verdict in expected.verdicts and missing:
            wrong.append(told(board, variant, f"{', '.join(sorted(missing))} not named"))
    assert not wrong, "\n".join(wrong)


def test_figures_that_were_worked_out_by_hand_hold():
    wrong = []
    for board in table():
        results = judged(board.name)
        for key, (low, high) in ({} if isinstance(results, str) else board.figures).items():
            variant = list(results.values())[-1]
            value = variant.to_dict()
            for step in key.split("."):
                value = value[step]
            if value is None or not low <= value <= high:
                wrong.append(told(board, variant, f"{key} is {value}, not {low:g} to {high:g}"))
    assert not wrong, "\n".join(wrong)


def removals(variant):
    return [set(remedy.remove) for cell in variant.cells.values() for remedy in cell.remedies if remedy.remove]


def test_the_cure_that_a_restorer_would_choose_is_offered_and_no_false_one():
    wrong = []
    for board, expected, variant in answers():
        offered = removals(variant)
        if expected.cure and not any(set(expected.cure) <= parts for parts in offered):
            wrong.append(told(board, variant, f"removal of {', '.join(expected.cure)} not offered, but {offered}"))
        wrong += [told(board, variant, f"removal of {', '.join(parts)} offered, which leaves a charge")
                  for parts in board.no_cure if set(parts) in offered]
    assert not wrong, "\n".join(wrong)


def test_the_whole_mod_that_is_proposed_ends_where_it_should_and_says_what_it_must():
    wrong = []
    for board, expected, variant in answers():
        proposals = [cell.proposal for cell in variant.cells.values() if cell.proposal]
        text = "\n".join(dict.fromkeys(proposal.mod for proposal in proposals))
        if expected.leads_to and not {proposal.verdict for proposal in proposals} & set(expected.leads_to):
            wrong.append(told(board, variant, f"{' or '.join(expected.leads_to)} expected of what is proposed: {text}"))
        wrong += [told(board, variant, f"{step} is not in what is proposed: {text}")
                  for step in expected.step if step not in text]
    assert not wrong, "\n".join(wrong)


def test_messages_and_advice_hold_the_words_that_matter():
    wrong = []
    for board, expected, variant in answers():
        text = " ".join(f"{finding.message} {finding.advice}" for finding in variant.findings)
        wrong += [told(board, variant, f"{words!r} is not in: {text}") for words in expected.says if words not in text]
    assert not wrong, "\n".join(wrong)
