"""Closed loops in which a person acts and the program listens: set the beat."""

from diagnose.coaching.sentences import words_of
from diagnose.coaching.set_the_beat import next_act, table_percent_per_mm
from diagnose.coaching.task import Act, Advice, BeatTask, HeardBeat, beat_task

__all__ = ["Act", "Advice", "BeatTask", "HeardBeat", "beat_task", "next_act", "table_percent_per_mm", "words_of"]
