"""What is typed in a consultation is taken apart without surprises."""

from __future__ import annotations

import pytest

from diagnose.terminal.typed import TypedAnswer, TypedWord, take_apart


@pytest.mark.parametrize(
    ("line", "findings", "meant"),
    [
        ("", 2, None),
        ("   ", 2, None),
        ("a2", 2, (TypedAnswer(0, "value", 1),)),
        ("a2 b1", 2, (TypedAnswer(0, "value", 1), TypedAnswer(1, "value", 0))),
        ("A2, B1?", 2, (TypedAnswer(0, "value", 1), TypedAnswer(1, "think-so", 0))),
        ("b-", 2, (TypedAnswer(1, "cannot-tell"),)),
        ("b+", 2, (TypedAnswer(1, "later"),)),
        ("2", 1, (TypedAnswer(0, "value", 1),)),
        ("2?", 1, (TypedAnswer(0, "think-so", 1),)),
        ("-", 1, (TypedAnswer(0, "cannot-tell"),)),
        ("+", 1, (TypedAnswer(0, "later"),)),
        ("a", 2, (TypedAnswer(0, "accept"),)),
        ("a?", 2, (TypedAnswer(0, "think-so"),)),
        ("-a", 2, (TypedAnswer(0, "dismiss"),)),
        ("?", 1, TypedWord("?")),
        ("why", 1, TypedWord("why")),
        ("say it stops at night", 2, TypedWord("say", "it stops at night")),
        ("record /tmp/a b.flac left", 2, TypedWord("record", "/tmp/a b.flac left")),
        ("2", 2, TypedWord("2")),
        ("a0", 1, TypedWord("a0")),
        ("a2-", 1, TypedWord("a2-")),
    ],
)
def test_a_line_means(line: str, findings: int, meant: object) -> None:
    assert take_apart(line, findings) == meant
