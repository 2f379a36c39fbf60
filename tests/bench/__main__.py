"""`make bench`: every figure in one run."""

from __future__ import annotations

from tests.bench import reasoning_bench, sound_bench, speed_bench

speed_bench.main()
print()
sound_bench.main()
print()
reasoning_bench.main()
