"""Makes ready, while somebody reads the first screen, what the first words and the first answer need."""

from __future__ import annotations

import threading

from diagnose.model.reading import Knowledge


def make_ready(knowledge: Knowledge) -> threading.Thread:
    """Read the sayings and compile the rules beside whatever goes on; return the thread that does it.

    Whoever is faster than it only waits as long as without it.
    """
    thread = threading.Thread(target=_make_ready, args=(knowledge,), daemon=True)
    thread.start()
    return thread


def _make_ready(knowledge: Knowledge) -> None:
    from diagnose.model.observations import Answer, ClockFacts
    from diagnose.reasoning.assessment import Stretch, assess
    from diagnose.reasoning.complaint import suggest

    suggest("it stops", knowledge)
    finding, entry = next((name, entry) for name, entry in knowledge.findings.items() if entry.normal is not None)
    assess([Stretch((Answer(finding, entry.normal),))], knowledge, ClockFacts())
