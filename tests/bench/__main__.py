"""`make bench`: every figure in one run."""

from __future__ import annotations

from tests.bench import (
    coaching_bench,
    consultations_bench,
    doubts_bench,
    fuzzing,
    hearing_bench,
    hearing_channels,
    hearing_cost,
    hearing_coverage,
    hearing_live,
    hearing_no_clock,
    hearing_situations,
    knowledge_bench,
    planner_bench,
    reasoning_bench,
    speed_bench,
    wheel_bench,
)

speed_bench.main()
print()
hearing_bench.main([])
print()
hearing_cost.main([])
print()
hearing_coverage.main([])
print()
hearing_channels.main([])
print()
hearing_live.main([])
print()
hearing_no_clock.main([])
print()
hearing_situations.main(["--count", "1"])
print()
wheel_bench.main()
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
print()
fuzzing.main()
print()
coaching_bench.main()
