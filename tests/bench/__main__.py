"""`make bench`: every figure in one run."""

from __future__ import annotations

from tests.bench import (
    consultations_bench,
    doubts_bench,
    knowledge_bench,
    planner_bench,
    reasoning_bench,
    sound_bench,
    speed_bench,
)

speed_bench.main()
print()
sound_bench.main()
print()
reasoning_bench.main()
print()
planner_bench.main()
print()
consultations_bench.main()
print()
doubts_bench.main()
print()
knowledge_bench.main()
