"""How well the reasoning knows what it does not know: `python -m tests.bench.doubts_bench`.

Calibration of the first place with right and with wrong numbers, faults that are not on the list, answers that are
wrong, and whether the first place holds when every link is a word off. All cases are drawn from the base.
"""

import argparse
import os
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import cache

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from diagnose.model.entries import CauseEntry
from diagnose.model.observations import Person
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.reasoning.findings import said_likelihood
from diagnose.reasoning.gates import Situation
from diagnose.reasoning.ranking import Piece, Ranking, rank
from diagnose.reasoning.stability import stability
from diagnose.reasoning.tables import Base, compile_base
from diagnose.reasoning.values import Finding
from diagnose.settings import DEFAULT
from tests.bench.drawn_cases import PERFECT, WRONG, DrawnCase, draw_case
from tests.bench.greedy_policy import BATCH, GreedyPolicy, Said, calibration_error, expected_noise
from tests.bench.reasoning_bench import CLOCK, WORKERS

SEED = 4711
ANSWERS = 12
ABLE = Person(reaches="yes", lifts="yes", helper="yes", tools="yes", children="no")
WORDS = ("improbable", "uncertain", "fifty-fifty", "expected", "probable", "certain")
# Numbers that are wrong: the rate of wrong answers by a quarter; links a word off, and missing.
RATE_OFF, LINKS_OFF, LINKS_MISSING = 0.25, 0.3, 0.1
# One in so many causes is taken out of the base, so that its clocks have a fault that is not on the list.
HELD_OUT_EVERY = 10
# An answer decides where, turned round, it takes this share from the first place.
DECIDES = 0.3


@dataclass(frozen=True)
class Tally:
    """Rows of one measured thing, one for each case or answer, to be joined over batches."""

    rows: np.ndarray


@cache
def loaded() -> tuple[Knowledge, Base]:
    """Return the knowledge and the base of a weight-driven floor clock."""
    knowledge = read_knowledge(check=False)
    return knowledge, compile_base(knowledge, CLOCK)


@cache
def policy(where: str, believes: str) -> GreedyPolicy:
    """Return a policy whose numbers are right, or wrong in a named way."""
    knowledge, _ = loaded()
    situation = Situation(where=where, person=ABLE, clock=CLOCK)  # type: ignore[arg-type]
    if believes in {"rate too low", "rate too high"}:
        factor = 1 - RATE_OFF if believes == "rate too low" else 1 + RATE_OFF
        wrong = {name: rate * factor for name, rate in WRONG.items()}
        return GreedyPolicy(loaded()[1], knowledge, situation, wrong)
    if believes == "links off":
        return GreedyPolicy(compile_base(spoiled(knowledge), CLOCK), knowledge, situation)
    if believes == "held out":
        return GreedyPolicy(compile_base(without(held_out(), knowledge), CLOCK), knowledge, situation)
    return GreedyPolicy(loaded()[1], knowledge, situation)


def spoiled(knowledge: Knowledge) -> Knowledge:
    """Return the knowledge with three links in ten a word off and one in ten missing."""
    random = np.random.default_rng(SEED)

    def spoil(cause: CauseEntry) -> CauseEntry:
        shows = []
        for link in cause.shows:
            if random.random() < LINKS_MISSING:
                continue
            if random.random() < LINKS_OFF:
                place = WORDS.index(link.often) + int(random.choice([-1, 1]))
                link = link.model_copy(update={"often": WORDS[min(max(place, 0), len(WORDS) - 1)]})
            shows.append(link)
        total: dict[str, float] = {}
        for link in shows:
            total[link.finding] = total.get(link.finding, 0.0) + knowledge.probabilities[link.often].probability
        kept = tuple(link for link in shows if total[link.finding] <= 1.0)
        return cause.model_copy(update={"shows": kept})

    return replace(knowledge, causes={name: spoil(cause) for name, cause in knowledge.causes.items()})


@cache
def held_out() -> frozenset[str]:
    """Return the causes that are taken out of the base."""
    names = np.random.default_rng(SEED).permutation(sorted(loaded()[1].causes))
    return frozenset(str(name) for name in names[::HELD_OUT_EVERY])


def without(names: frozenset[str], knowledge: Knowledge) -> Knowledge:
    """Return the knowledge without some causes, and without the rules about them."""
    causes = {name: cause for name, cause in knowledge.causes.items() if name not in names}
    rules = {name: rule for name, rule in knowledge.rules.items() if rule.cause not in names}
    return replace(knowledge, causes=causes, rules=rules)


def cases_of(seed: int, count: int) -> tuple[list[DrawnCase], np.random.Generator]:
    """Return drawn cases and the generator for what is said of them."""
    random = np.random.default_rng(seed)
    return [draw_case(loaded()[1], random) for _ in range(count)], random


def calibration_batch(task: tuple[str, str, int, int]) -> Tally:
    """Return rows (confidence, right, probability given to the truth) of a batch."""
    where, believes, seed, count = task
    cases, random = cases_of(seed, count)
    stand = policy(where, believes).run(cases, (ANSWERS,), random, complaint_first=False)[0]
    return Tally(np.stack([stand.confidence, stand.right.astype(float)]))


def findings_of(said: Sequence[Said], base: Base) -> tuple[Finding, ...]:
    """Return what was said as the ranking takes it in."""
    rows = []
    for item in said:
        values = base.tables[item.finding].values
        rows.append(
            Finding(
                item.finding,
                said_likelihood(item.value, len(values), WRONG[item.certainty]),
                values[item.value],
                1 - WRONG[item.certainty],
                "",
                "told",
            )
        )
    return tuple(rows)


def not_listed_batch(task: tuple[str, int, int]) -> Tally:
    """Return rows (held out, probability of something not on the list, first place not on the list)."""
    where, seed, count = task
    full = loaded()[1]
    base = policy(where, "held out").base
    random = np.random.default_rng(seed)
    missing = {full.index[name] for name in held_out()}
    cases = []
    while len(cases) < count:
        case = draw_case(full, random)
        if not case.causes:
            continue
        # Clocks with a held-out fault and clocks without one take turns; those with both are left.
        wanted = case.causes <= missing if len(cases) % 2 == 0 else not case.causes & missing
        if wanted:
            cases.append(case)
    player = policy(where, "held out")
    player.run([DrawnCase(None, case.shows) for case in cases], (ANSWERS,), random, complaint_first=True)
    rows = []
    for case, said in zip(cases, player.said_in, strict=True):
        ranking = rank(base, [Piece(findings_of(said, base))])
        rows.append((float(bool(case.causes) and case.causes <= missing), ranking.none_of_these))
    return Tally(np.array(rows).T)


def wrong_answers_batch(task: tuple[str, int, int]) -> Tally:
    """Return rows (probability that the answer is wrong, whether it is) for each answer of a batch."""
    where, seed, count = task
    base = loaded()[1]
    cases, random = cases_of(seed, count)
    player = policy(where, "right")
    player.run(cases, (ANSWERS,), random, complaint_first=False)
    rows = []
    for said in player.said_in:
        wrong = rank(base, [Piece(findings_of(said, base))]).wrong
        rows.extend((wrong[item.finding], float(item.value != item.true)) for item in said)
    return Tally(np.array(rows).T)


def first_of(ranking: Ranking, base: Base) -> int:
    """Return the position of the cause in the first place."""
    return base.index[ranking.causes[0].cause]


def flips_batch(task: tuple[str, int, int]) -> Tally:
    """Return rows: among the two most suspect; first right undisturbed, after the flip, after asking again; asked again.

    Each consultation has no mistake but one: the answer that decides most, turned round.
    """
    where, seed, count = task
    base = loaded()[1]
    cases, random = cases_of(seed, count)
    player = policy(where, "right")
    player.run(cases, (ANSWERS,), random, complaint_first=False, erring=PERFECT)
    rows = []
    for case, said in zip(cases, player.said_in, strict=True):
        if not case.causes:
            continue
        row = flipped(case.causes, said, base, random)
        if row is not None:
            rows.append(row)
    return Tally(np.array(rows, dtype=float).T)


def flipped(
    causes: frozenset[int], said: Sequence[Said], base: Base, random: np.random.Generator
) -> tuple[float, ...] | None:
    """Return one row of `flips_batch`; None where no answer decides."""
    whole = rank(base, [Piece(findings_of(said, base))])
    first = first_of(whole, base)
    place = decisive(said, base, first, random)
    if place is None:
        return None
    number, turned = place
    changed = [*said[:number], replace(said[number], value=turned), *said[number + 1 :]]
    after = rank(base, [Piece(findings_of(changed, base))])
    suspects = sorted(after.wrong, key=lambda name: -after.wrong[name])[:2]
    again = [replace(item, value=item.true) if item.finding in suspects else item for item in changed]
    mended = rank(base, [Piece(findings_of(again, base))])
    asked = sum(chance >= DEFAULT.ask_again for chance in whole.wrong.values())
    return (
        float(said[number].finding in suspects),
        float(first in causes),
        float(first_of(after, base) in causes),
        float(first_of(mended, base) in causes),
        float(asked),
    )


def decisive(said: Sequence[Said], base: Base, first: int, random: np.random.Generator) -> tuple[int, int] | None:
    """Return position and turned value of the answer that, turned round, takes most from the first place."""
    best: tuple[float, int, int] | None = None
    name = base.causes[first]
    whole = probability_of(name, rank(base, [Piece(findings_of(said, base))]))
    for number, item in enumerate(said):
        count = len(base.tables[item.finding].values)
        turned = int(random.choice([value for value in range(count) if value != item.value]))
        changed = [*said[:number], replace(item, value=turned), *said[number + 1 :]]
        loss = whole - probability_of(name, rank(base, [Piece(findings_of(changed, base))]))
        if loss >= DECIDES and (best is None or loss > best[0]):
            best = (loss, number, turned)
    return best[1:] if best is not None else None


def probability_of(cause: str, ranking: Ranking) -> float:
    """Return the probability of one cause."""
    return next(item.probability for item in ranking.causes if item.cause == cause)


def stability_batch(task: tuple[str, int, int]) -> Tally:
    """Return rows (stable, first place right) of a batch."""
    where, seed, count = task
    knowledge, base = loaded()
    cases, random = cases_of(seed, count)
    player = policy(where, "right")
    player.run(cases, (ANSWERS,), random, complaint_first=True)
    rows = []
    for case, said in zip(cases, player.said_in, strict=True):
        if case.causes:
            pieces = [Piece(findings_of(said, base))]
            first = first_of(rank(base, pieces), base)
            rows.append((float(stability(base, pieces, knowledge).stable), float(first in case.causes)))
    return Tally(np.array(rows).T)


def area_under(score: np.ndarray, positive: np.ndarray) -> float:
    """Return the chance that a positive scores higher than a negative (area under the ROC curve)."""
    order = np.argsort(score, kind="stable")
    ranks = np.empty(len(score))
    ranks[order] = np.arange(1, len(score) + 1)
    for value in np.unique(score):
        same = score == value
        ranks[same] = ranks[same].mean()
    count = positive.sum()
    return float((ranks[positive > 0].sum() - count * (count + 1) / 2) / (count * (len(score) - count)))


def batches(count: int, size: int = BATCH) -> Iterator[tuple[int, int]]:
    """Yield seed and size of each batch."""
    for number, start in enumerate(range(0, count, size)):
        yield SEED + number, min(size, count - start)


def joined(pool: ProcessPoolExecutor, work: object, tasks: Sequence[object]) -> np.ndarray:
    """Return the rows of all batches."""
    return np.concatenate([tally.rows for tally in pool.map(work, tasks)], axis=1)  # type: ignore[arg-type]


def print_calibration(where: str, cases: int, pool: ProcessPoolExecutor) -> None:
    """Print calibration error and Brier score of the first place, with right and with wrong numbers."""
    print(f"\nFirst place after {ANSWERS} answers, {where}, {cases} cases, 10 bins of equal count")
    print("goals: calibration error .02 with right numbers, .03 with a wrong rate, .06 with wrong links")
    print("the engine's numbers                    hits  confidence  calibration error (noise off)  Brier score")
    names = {
        "right": "right",
        "rate too low": "rate of wrong answers a quarter too low",
        "rate too high": "rate of wrong answers a quarter too high",
        "links off": "3 in 10 links a word off, 1 in 10 missing",
    }
    for believes, words in names.items():
        tasks = [(where, believes, seed, size) for seed, size in batches(cases)]
        confidence, right = joined(pool, calibration_batch, tasks)
        error = calibration_error(confidence, right)
        noise = expected_noise(confidence, np.random.default_rng(SEED))
        brier = float(((confidence - right) ** 2).mean())
        print(
            f"{words:38s}  {right.mean():4.3f}  {confidence.mean():10.3f}"
            f"  {error:17.3f} ({max(0.0, error - noise):.3f})      {brier:11.3f}"
        )


def print_doubts(where: str, cases: int, pool: ProcessPoolExecutor) -> None:
    """Print what the reasoning makes of missing causes, wrong answers and one decisive flip, and how firm it stands."""
    few = [(where, seed, size) for seed, size in batches(cases, 50)]
    held, score = joined(pool, not_listed_batch, few)
    print(
        f"\nNot on the list: {len(held_out())} causes taken out; {int(held.sum())} clocks of theirs among {len(held)}"
    )
    print(f"told apart with an area under the curve of {area_under(score, held):.3f} (goal .85)")
    chance, wrong = joined(pool, wrong_answers_batch, few)
    print(f"\nWrong answers: {len(wrong)} answers, {wrong.mean():.3f} wrong, said {chance.mean():.3f};", end=" ")
    print(f"calibration error {calibration_error(chance, wrong):.4f} (goal .02)")
    found, first, after, mended, asked = joined(pool, flips_batch, few)
    lost = first.mean() - after.mean()
    won = (mended.mean() - after.mean()) / lost if lost > 0 else float("nan")
    print(f"\nOne decisive answer turned round in {len(found)} consultations without other mistakes:")
    print(f"among the two most suspect in {found.mean():.2f} (goal .70); first place right {first.mean():.2f},")
    print(f"after the flip {after.mean():.2f}, the two suspects asked again {mended.mean():.2f}:", end=" ")
    print(f"{won:.2f} of the loss won back (goal .50);")
    print(f"without a mistake {asked.mean():.2f} questions asked again (goal at most .5)")
    stable, right = joined(pool, stability_batch, few)
    print(f"\nFirst place stable (every link a word less, the same, or more) in {stable.mean():.2f} of cases;", end=" ")
    print(f"right in {right[stable > 0].mean():.2f} of these and {right[stable == 0].mean():.2f} of the others")


def main() -> None:
    """Run the bench."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--cases", type=int, default=5000, help="cases for calibration (default 5000)")
    options.add_argument("--few", type=int, default=400, help="cases for the rest (default 400)")
    options.add_argument("--where", choices=("call", "visit", "workshop"), default="visit")
    chosen = options.parse_args()
    begin = time.perf_counter()
    print("What the reasoning knows of its own doubts. Cases drawn from the base flatter the base.")
    with ProcessPoolExecutor(WORKERS) as pool:
        print_calibration(chosen.where, chosen.cases, pool)
        print_doubts(chosen.where, chosen.few, pool)
    print(f"\n{time.perf_counter() - begin:.0f} seconds.")


if __name__ == "__main__":
    main()
