"""Chooses the next step: ask, do, wait or hand on, whichever is expected to cost the fewest minutes in all."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from diagnose.model.reading import Knowledge
from diagnose.reasoning.costs import finding_minutes, level_of
from diagnose.reasoning.gates import Situation, apart, may_do, takes_too_long
from diagnose.reasoning.lookahead import CURED, Choice, Outlook, Question, choose, prices_of
from diagnose.reasoning.plan_parts import HOMEWORK_FINDINGS, few_of_each, wait_for, within_call, without_unlikely
from diagnose.reasoning.planning import refer_cost
from diagnose.reasoning.ranking import Ranking
from diagnose.reasoning.routing import Route, route
from diagnose.reasoning.steps import Ask, Danger, Do, Enough, Plan, Refer, Step, Wait
from diagnose.reasoning.stopping import PLANNED_QUESTIONS, chance_it_stays, enough_from, first_place
from diagnose.reasoning.tables import Base, Floats
from diagnose.reasoning.weighing import State, gather
from diagnose.settings import DEFAULT, Parameters

__all__ = [
    "Ask", "Danger", "Do", "Enough", "Plan", "Refer", "Route", "Situation", "Step", "Wait", "next_step", "route",
]  # fmt: skip

# Questions looked at closely: the most informative ones, and the most informative for their minutes.
CANDIDATES, CANDIDATES_BY_PRICE = 24, 8
# Remedies looked at closely.
REMEDIES = 12
# One look: so many findings of one place at most, each worth asking or telling at least so much. [nat]
LOOK_FINDINGS, LOOK_NATS = 5, 0.02
# Below this a question tells nothing about the causes. [nat]
NOTHING_NATS = 1e-3
# What will prove a remedy is looked at before it, where that costs at most this share of the remedy.
LOOK_BEFORE_SHARE = 0.25
# A cause shows at least this often what is looked for before its remedy.
NEARLY_ALWAYS = 0.85
# From this chance of a cause that asks for it a clock is made safe: on a call before any further question,
# elsewhere before it is handed on.
SAFE_SHARE = 0.2
# Half of that does where the danger itself was seen: a larger base leaves each cause a smaller share, not less danger.
SAFE_SHARE_WARNED = 0.1
# While too little is known, a clock is not handed on to save less than this; on a call patience is short. [min]
GIVE_UP_MINUTES = {"call": 0.5, "visit": 1.0, "workshop": 1.0}
# Two questions whose values differ by less are as good as each other, as far as such estimates go. [min]
TIE_MINUTES = 1.0
# Of two that are as good the one is taken that costs at most this share of the other.
CLEARLY_CHEAPER = 0.5
# Causes named beside a remedy.
DO_CAUSES = 3
# Once enough is known a question must still save this much against acting now. [min]
WORTH_ASKING_MINUTES = 1.0
# Causes among which the two are sought that a question tells apart.
SEPARATED_CAUSES = 6
HANDED_TO = {"call": "visit", "visit": "workshop", "workshop": "specialist"}
# What is looked at beside the best question tells at least this share of what that tells.
LOOK_SHARE = 0.3
# From this probability on, the cause of a remedy needs no further look before it.
AS_GOOD_AS_SEEN = 0.9
_TINY = 1e-300

Values = tuple[tuple[int, float], ...]


def next_step(
    base: Base, ranking: Ranking, knowledge: Knowledge, situation: Situation, parameters: Parameters = DEFAULT
) -> Plan:
    """Return the step with the least expected minutes, and what stands beside it.

    Parameters
    ----------
    base : Base
        The tables for this clock.
    ranking : Ranking
        Where the belief stands.
    knowledge : Knowledge
        Findings, remedies and prices.
    situation : Situation
        Where the work is done, by whom, and what is closed, put off or tried.
    parameters : Parameters
        The numbers of the reasoning.

    Returns
    -------
    Plan
        Never holds a finding that is closed, gated, put off or a danger, nor a step that the one at the clock
        may not do.

    Notes
    -----
    Values are a step's minutes and V after it: repairs only, less what questions first would save, at prices
    fixed at the root; questions are weighed by what will be *said*. Ties go to the cheaper step, then to the id.
    """
    state = gather(base, ranking, knowledge, situation, parameters)
    stays = _stays(state)
    enough = stays >= enough_from(situation.where, parameters)
    asks, acts = _asks_and_acts(state)
    now = [item for item in asks if not _too_long(item[1], state)]
    waits = [item for item in asks if _too_long(item[1], state)]
    homework = tuple(ask for _, ask in sorted(waits, key=_order) if ask.saves_minutes > 0 or _tells(ask))
    homework = homework[:HOMEWORK_FINDINGS]
    value, step = _chosen(asks, now, acts, enough, state)
    sound = first_place(state.weights, state.places) == len(base.causes)
    if sound and (enough or isinstance(step, Refer)):
        value, step = min(acts, key=_order)[0], Enough(ranking.nothing_wrong)
    if situation.where == "call" and situation.warned:
        # What may fall or race is made safe before anybody is asked to look further, and then left alone.
        left_alone = next(act for _, act in acts if isinstance(act, Refer)) if _safe_now(state) else step
        step = _made_safe(state, situation.warned) or left_alone
    look: tuple[Ask, ...] = ()
    if isinstance(step, Ask) and _too_long(step, state):
        step = wait_for(step, homework, knowledge)
    elif isinstance(step, Ask):
        look = _look(step, now, state)
        step = look[0]
    shown = {ask.finding for ask in (*look, *homework)}
    rest = [other for _, other in sorted([*now, *acts], key=_order) if other != step and _id(other) not in shown]
    likely = without_unlikely(rest, lambda remedy: _there(remedy, state))
    others = tuple(_explained(other, state) for other in few_of_each(likely))
    return Plan(step, others, stays, enough, value, look, tuple(_separating(ask, state) for ask in homework))


def _chosen(
    asks: list[tuple[float, Ask]],
    now: list[tuple[float, Ask]],
    acts: list[tuple[float, Do | Refer]],
    enough: bool,
    state: State,
) -> tuple[float, Step]:
    """Return the step of least expected minutes, unless a little patience or a look first is wiser."""
    least: tuple[float, Step] = min([*_worth_asking(asks, acts, enough), *acts], key=_order)
    value, step = least
    if isinstance(step, Refer) and not enough:
        # Nobody gives up on a clock that is not understood to save a minute or two.
        limit = value + GIVE_UP_MINUTES[state.situation.where]
        patient = [item for item in now if _tells(item[1]) and item[0] <= limit]
        value, step = min(patient, key=_order, default=least)
    if isinstance(step, Ask):
        return _cheaper_look(value, step, asks, state)
    if isinstance(step, Do):
        return value, _look_before(step, state) or step
    if isinstance(step, Refer):
        return value, _made_safe(state) or step
    return value, step


def _order(item: tuple[float, Step]) -> tuple[float, float, str]:
    """Least expected minutes first; ties to the cheaper step, then to the id."""
    value, step = item
    return round(value, 9), 0.0 if isinstance(step, Danger) else step.cost_minutes, _id(step)


def _cheaper_look(value: float, best: Ask, asks: list[tuple[float, Ask]], state: State) -> tuple[float, Ask]:
    """Return a question that is as good and needs the clock less open or is clearly cheaper, or `best`."""

    def reach(ask: Ask) -> int:
        return max(state.level, level_of(state.knowledge.findings[ask.finding].opened))

    def easier(ask: Ask) -> bool:
        cheaper = ask.cost_minutes <= CLEARLY_CHEAPER * best.cost_minutes and _tells(ask)
        return reach(ask) < reach(best) or (reach(ask) == reach(best) and cheaper)

    as_good = [item for item in asks if item[0] <= value + TIE_MINUTES and easier(item[1])]
    return min(as_good, key=lambda item: (reach(item[1]), _order(item)), default=(value, best))


def _id(step: Step) -> str:
    match step:
        case Ask():
            return step.finding
        case Do():
            return step.remedy
        case Wait():
            return step.findings[0]
        case Refer():
            return step.to
        case Danger():
            return step.alarm
        case Enough():
            return "enough"


def _worth_asking(
    asks: list[tuple[float, Ask]], acts: list[tuple[float, Do | Refer]], enough: bool
) -> list[tuple[float, Ask]]:
    """Return the questions worth asking: once enough is known only those that beat acting now by a minute."""
    limit = min(value for value, _ in acts) - WORTH_ASKING_MINUTES
    return [item for item in asks if not enough or item[0] <= limit]


def _tells(ask: Ask) -> bool:
    return ask.information_nats >= LOOK_NATS


def _too_long(ask: Ask, state: State) -> bool:
    return takes_too_long(state.knowledge.findings[ask.finding], state.situation)


def _stays(state: State) -> float:
    """Return the chance that the first place stays over the most informative questions."""
    planned = np.sort(np.argsort(-state.nats, kind="stable")[:PLANNED_QUESTIONS])
    return chance_it_stays(state.weights, state.places, state.said[:, planned], state.unknown)


def _asks_and_acts(state: State) -> tuple[list[tuple[float, Ask]], list[tuple[float, Do | Refer]]]:
    """Return questions and other steps, each with its expected minutes."""
    here = state.prospects
    minutes = np.array([_minutes(question, state) for question in range(len(state.which))])
    reach = [level_of(state.knowledge.findings[state.finding(q)].opened) for q in range(len(state.which))]
    cost = minutes + here.repairs.ladder.minutes[state.level, reach] if reach else minutes
    candidates = _candidates(state.nats, cost)
    sizes = state.forecast.sizes[state.which]
    questions = [
        Question(np.ascontiguousarray(state.said[:, q, : sizes[q]].T), float(minutes[q]), reach[q], state.unknown)
        for q in candidates
    ]
    outlook = here.outlook(prices_of(questions, state.weights, here.merge, here.repairs.ladder, state.level))
    choice = choose(outlook, questions, _useful_remedies(state, outlook), state.weights, state.level)
    acts = _acts(state, outlook, choice)
    unasked = outlook.without_asking(state.weights, state.level)
    asks = [
        (value, Ask(state.finding(q), float(cost[q]), unasked - value, float(state.nats[q])))
        for q, value in ((candidates[place], value) for place, value in _on_one_scale(choice.asks, choice.asks_once))
    ]
    return asks, acts


def _on_one_scale(twice: Values, once: Values) -> list[tuple[int, float]]:
    """Return the values of steps looked at once on the scale of those looked at two steps ahead."""
    if not twice:
        return list(once)
    closer, first = dict(twice), dict(once)
    least = min(closer, key=lambda number: closer[number])
    shift = closer[least] - first[least]
    # A step that was not looked at closely must not seem better than the best one that was.
    return [(number, closer.get(number, max(value + shift, closer[least]))) for number, value in once]


def _minutes(question: int, state: State) -> float:
    entry = state.knowledge.findings[state.finding(question)]
    return finding_minutes(entry, state.knowledge.shop, state.situation.place)


def _candidates(nats: Floats, cost: Floats) -> list[int]:
    """Return the questions worth a closer look, in a fixed order."""
    telling = np.flatnonzero(nats >= NOTHING_NATS)
    if len(telling) <= CANDIDATES:
        return [int(question) for question in telling]
    by_price = telling[np.argsort(-nats[telling] / cost[telling], kind="stable")][:CANDIDATES_BY_PRICE]
    chosen = set(by_price.tolist())
    for question in telling[np.argsort(-nats[telling], kind="stable")].tolist():
        if len(chosen) >= CANDIDATES:
            break
        chosen.add(question)
    return sorted(chosen)


def _useful_remedies(state: State, outlook: Outlook) -> list[int]:
    """Return the remedies that mend most weight for their minutes."""
    repairs = outlook.repairs
    cost = repairs.minutes + repairs.ladder.minutes[state.level, repairs.reach]
    useful = repairs.covers.max(axis=2, initial=0.0) @ (state.weights @ outlook.merge)
    return [int(r) for r in np.argsort(-useful / cost, kind="stable")[:REMEDIES] if useful[r] > 0]


def _acts(state: State, outlook: Outlook, choice: Choice) -> list[tuple[float, Do | Refer]]:
    """Return remedies and handing on, each with its expected minutes."""
    repairs = outlook.repairs
    referring = float(refer_cost(repairs, (state.weights * outlook.uncured @ outlook.merge)[None, :])[0])
    cost = repairs.minutes + repairs.ladder.minutes[state.level, repairs.reach]
    acts: list[tuple[float, Do | Refer]] = []
    for remedy, value in _on_one_scale(choice.does, choice.does_once):
        name = state.prospects.remedies[remedy]
        works = state.base.remedies[name].works
        cures = works * float(state.weights[outlook.moves[remedy] == CURED].sum())
        acts.append((value, Do(name, float(cost[remedy]), referring - value, cures, _mended(name, state))))
    least = min((value for value, _ in acts), default=referring)
    acts.append((referring, Refer(HANDED_TO[state.situation.where], referring, least - referring)))
    return acts


def _there(remedy: str, state: State) -> float:
    """Return the probability that a cause is there which a remedy is for."""
    causes = list(state.base.remedies[remedy].causes)
    return float(state.weights @ state.places[:, causes].max(axis=1, initial=0.0))


def _mended(remedy: str, state: State) -> tuple[str, ...]:
    """Return the causes a remedy is for, most likely first."""
    shares = state.weights @ state.places
    causes = sorted(state.base.remedies[remedy].causes, key=lambda cause: (-shares[cause], state.base.causes[cause]))
    return tuple(state.base.causes[cause] for cause in causes[:DO_CAUSES])


def _look(best: Ask, now: list[tuple[float, Ask]], state: State) -> tuple[Ask, ...]:
    """Return the best question with further ones of its place that are worth asking too."""
    place = state.knowledge.findings[best.finding].place
    look = [best]
    for _, ask in sorted(now, key=_order):
        if (
            state.knowledge.findings[ask.finding].place == place
            and (ask.saves_minutes > 0 and _tells(ask))
            and ask.information_nats >= LOOK_SHARE * best.information_nats
            and all(apart(ask.finding, other.finding, state.situation, state.knowledge) for other in look)
        ):
            look.append(ask)
    kept = within_call(look[:LOOK_FINDINGS], state.knowledge, state.situation)
    return tuple(_separating(ask, state) for ask in kept)


def _look_before(do: Do, state: State) -> Ask | None:
    """Return a look to be taken before a remedy, or None where all that is cheap has been seen.

    Two kinds: what will prove the remedy (no after without a before), and what its likeliest cause nearly
    always shows. Only looks that are cheap beside the remedy and still tell something, and none where the
    cause has as good as been seen: a post that is pinched is not asked how long the clock runs.
    """
    if _there(do.remedy, state) >= AS_GOOD_AS_SEEN:
        return None
    remedy = state.knowledge.remedies[do.remedy]
    shown = {
        link.finding
        for cause in do.causes[:1]
        for link in state.knowledge.causes[cause].shows
        if state.knowledge.probabilities[link.often].probability >= NEARLY_ALWAYS
    }
    wanted = shown | {proof.finding for proof in remedy.proof}
    looks = []
    for question in range(len(state.which)):
        name = state.finding(question)
        entry = state.knowledge.findings[name]
        cost = _minutes(question, state) + state.prospects.repairs.ladder.minutes[state.level, level_of(entry.opened)]
        if name in wanted and state.nats[question] >= NOTHING_NATS and cost <= LOOK_BEFORE_SHARE * do.cost_minutes:
            ask = Ask(name, float(cost), 0.0, float(state.nats[question]))
            if not _too_long(ask, state):
                looks.append(ask)
    return max(looks, key=lambda ask: (ask.information_nats / ask.cost_minutes, ask.finding), default=None)


def _made_safe(state: State, warned: frozenset[str] | None = None) -> Do | None:
    """Return a remedy that makes the clock safe, where a cause that asks for it is likely.

    With `warned` only one that answers to a caution the rules have raised from what was seen.
    """
    for name, entry in sorted(state.knowledge.remedies.items()):
        if entry.cures or name not in state.base.remedies or name in state.situation.tried:
            continue
        if warned is not None and not warned & set(entry.cautions):
            continue
        causes = list(state.base.remedies[name].causes)
        there = float(state.weights @ state.places[:, causes].max(axis=1, initial=0.0))
        least = SAFE_SHARE if warned is None else SAFE_SHARE_WARNED
        if there >= least and may_do(entry, state.situation):
            opening = state.prospects.repairs.ladder.minutes[state.level, level_of(entry.opened)]
            return Do(name, entry.minutes + float(opening), 0.0, 0.0, _mended(name, state))
    return None


def _safe_now(state: State) -> bool:
    """Return whether the clock was made safe and what asked for it is still likely: it is left alone then."""
    for name in state.situation.tried:
        entry = state.knowledge.remedies.get(name)
        if entry is None or entry.cures or not set(entry.cautions) & state.situation.warned:
            continue
        causes = list(state.base.remedies[name].causes)
        if float(state.weights @ state.places[:, causes].max(axis=1, initial=0.0)) >= SAFE_SHARE_WARNED:
            return True
    return False


def _explained(step: Step, state: State) -> Step:
    """Return a step with the causes it is about."""
    return _separating(step, state) if isinstance(step, Ask) else step


def _separating(ask: Ask, state: State) -> Ask:
    """Return the question with the two likely causes that it tells apart best."""
    position = state.forecast.findings.index(ask.finding)
    question = int(np.flatnonzero(state.which == position)[0])
    causes = len(state.base.causes)
    shares = state.weights @ state.places[:, :causes]
    likely = np.argsort(-shares, kind="stable")[:SEPARATED_CAUSES]
    joint = (state.weights[:, None] * state.places[:, likely]).T @ state.said[:, question]
    one, other = np.triu_indices(len(likely), 1)
    pairs = np.stack([joint[one], joint[other]], axis=1)
    if not len(one):
        return ask
    best = int(_information_of(pairs).argmax())
    pair = (state.base.causes[likely[one[best]]], state.base.causes[likely[other[best]]])
    return replace(ask, separates=pair)


def _information_of(joint: Floats) -> Floats:
    """Return the information between rows and columns of weights (P, 2, V), times their sums, shape (P,). [nat]"""
    total = np.maximum(joint.sum(axis=(1, 2), keepdims=True), _TINY)
    outer = joint.sum(axis=2, keepdims=True) * joint.sum(axis=1, keepdims=True) / total
    ratio = np.log(np.maximum(joint, _TINY) / np.maximum(outer, _TINY))
    return np.asarray((joint * ratio).sum(axis=(1, 2)))
