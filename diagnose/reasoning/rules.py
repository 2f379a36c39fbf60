"""Forward chaining over the findings; the only file that knows experta.

Three kinds of rules are compiled, once for each knowledge: the bands of a measured finding, one rule for
each finding and value that records what it says about every cause linked to it, and the rules of the
knowledge files. What fires never depends on the order of the findings.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from diagnose.reasoning.conclusions import conclude
from diagnose.reasoning.firings import Conclusions, Contradiction, Firing, FiringKind, Grounds
from diagnose.reasoning.rule_weights import best_value, factors_from_firings
from diagnose.reasoning.sentences import link_sentences
from diagnose.reasoning.values import Finding
from diagnose.settings import DEFAULT, Parameters

if TYPE_CHECKING:
    from diagnose.model.entries import RuleEntry
    from diagnose.model.reading import Knowledge
    from diagnose.reasoning.tables import Base

__all__ = ["Conclusions", "Contradiction", "Firing", "factors_from_firings", "run_rules"]

_MEASURED_SOURCES = frozenset({"recording", "measured"})
_MOST_COMPILED = 8
# So many runs are kept: answers taken back, and those before a remedy, need no second one.
_MOST_RUNS = 64


def run_rules(
    findings: Iterable[Finding], knowledge: Knowledge, base: Base, parameters: Parameters = DEFAULT
) -> Conclusions:
    """Let the rules fire on the findings until nothing more follows.

    Further findings extend the last run; a changed or withdrawn one makes a fresh run. Both come to the
    same, and neither depends on the order of the findings.

    Parameters
    ----------
    findings : iterable of Finding
        At most one for each sign; a later one replaces an earlier one.
    knowledge : Knowledge
        The rules, and the links of causes.
    base : Base
        The causes that fit the clock; rules about others are left out.
    parameters : Parameters
        Floor of an exclusion, link and leak of something seen directly.

    Returns
    -------
    Conclusions
        With the record of every rule that fired.
    """
    given = {finding.finding: finding for finding in findings if finding.finding in knowledge.findings}
    compiled = _compiled(knowledge)
    facts = {
        name: (best_value(finding, tuple(knowledge.findings[name].values)), _in_a_band(finding, knowledge))
        for name, finding in given.items()
    }
    fired, known = compiled.fire(facts)
    firings = [
        firing
        for rule in fired
        for firing in compiled.records[rule](known, given)
        if firing.cause is None or firing.cause in base.index
    ]
    return conclude(firings, tuple(given[name] for name in sorted(given)), knowledge, base, parameters)


def _in_a_band(finding: Finding, knowledge: Knowledge) -> bool:
    return finding.source in _MEASURED_SOURCES and knowledge.findings[finding.finding].measured is not None


Known = Mapping[str, frozenset[str]]
Record = Callable[[Known, Mapping[str, Finding]], Iterable[Firing]]


@dataclass(slots=True)
class _Compiled:
    """The network of one knowledge, and what it last fired on.

    `records` turn the id of a rule that fired into its firings; `conclusion` is what a rule adds.
    """

    knowledge: Knowledge
    records: dict[str, Record] = field(default_factory=dict)
    engine: Any = None
    fact: Any = None
    reading: Any = None
    given: dict[str, tuple[str, bool]] = field(default_factory=dict)
    inferred: dict[str, set[str]] = field(default_factory=dict)
    fired: set[str] = field(default_factory=set)
    runs: dict[frozenset[tuple[str, tuple[str, bool]]], tuple[frozenset[str], Known]] = field(default_factory=dict)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def fire(self, facts: dict[str, tuple[str, bool]]) -> tuple[frozenset[str], Known]:
        """Return the ids of the rules that fire on the facts, and the values that are known then."""
        key = frozenset(facts.items())
        with self.lock:
            if key not in self.runs:
                if len(self.runs) >= _MOST_RUNS:
                    self.runs.pop(next(iter(self.runs)))
                self.runs[key] = self._run(facts)
            return self.runs[key]

    def _run(self, facts: dict[str, tuple[str, bool]]) -> tuple[frozenset[str], Known]:
        further = {name: fact for name, fact in facts.items() if name not in self.given}
        if self._must_start_anew(facts, further):
            self.given, self.inferred, self.fired = {}, {}, set()
            self.engine.reset()
            further = facts
        self.given = dict(facts)
        if further:
            self.engine.declare(*(self._declared(name, *fact) for name, fact in further.items()))
            self.engine.run()
        known = {name: frozenset({value}) for name, (value, _) in facts.items()}
        known.update({name: frozenset(values) for name, values in self.inferred.items()})
        return frozenset(self.fired), known

    def _must_start_anew(self, facts: dict[str, tuple[str, bool]], further: dict[str, tuple[str, bool]]) -> bool:
        """Tell whether a fact has changed or gone, or answers what so far was only inferred."""
        kept = all(facts.get(name) == fact for name, fact in self.given.items())
        return not kept or not self.given or any(name in self.inferred for name in further)

    def _declared(self, name: str, value: str, measured: bool) -> Any:
        kind = self.reading if measured else self.fact
        return kind(subsystem=self.knowledge.findings[name].subsystem, finding=name, value=value)

    def note(self, rule: str) -> None:
        """Keep that a rule fired."""
        self.fired.add(rule)

    def infer(self, rule: str, name: str, value: str) -> None:
        """Keep that a rule fired, and add its conclusion unless the finding is answered."""
        self.fired.add(rule)
        if name not in self.given and value not in self.inferred.get(name, ()):
            self.inferred.setdefault(name, set()).add(value)
            self.engine.declare(self._declared(name, value, False))

    def classify(self, rule: str, name: str, value: str) -> None:
        """Keep that a reading lies in a band, and add the value that the band stands for."""
        self.fired.add(rule)
        self.engine.declare(self._declared(name, value, False))


_CACHE: dict[int, _Compiled] = {}
_CACHE_LOCK = threading.Lock()


def _compiled(knowledge: Knowledge) -> _Compiled:
    """Return the network of a knowledge, made once and kept beside it."""
    with _CACHE_LOCK:
        found = _CACHE.get(id(knowledge))
        if found is None:
            if len(_CACHE) >= _MOST_COMPILED:
                _CACHE.pop(next(iter(_CACHE)))
            # The knowledge is kept inside, so that its id cannot pass to another one meanwhile.
            found = _CACHE[id(knowledge)] = _compile(knowledge)
        return found


def _experta() -> Any:
    """Return experta, imported late.

    Its old frozendict looks for `collections.Mapping`, which Python 3.10 took away; the name is lent for
    the import only. The handler that experta gives to the root logger on import is taken off again.
    """
    import collections
    import collections.abc
    import logging
    import sys

    if "experta" in sys.modules:
        return sys.modules["experta"]
    handlers = list(logging.getLogger().handlers)
    lent = not hasattr(collections, "Mapping")
    if lent:
        collections.Mapping = collections.abc.Mapping  # type: ignore[attr-defined]
    try:
        import experta
    finally:
        if lent:
            del collections.Mapping  # type: ignore[attr-defined]
        logging.getLogger().handlers[:] = handlers
    return experta


def _compile(knowledge: Knowledge) -> _Compiled:
    """Compile bands, links and rules into one network."""
    experta = _experta()
    compiled = _Compiled(knowledge)
    compiled.fact = type("Known", (experta.Fact,), {})
    compiled.reading = type("Reading", (experta.Fact,), {})
    rules: dict[str, Any] = {}
    for name, entry in knowledge.findings.items():
        for value in entry.values:
            _add_link(compiled, experta, rules, name, value)
            if entry.measured is not None:
                _add_band(compiled, experta, rules, name, value)
    for key, rule in knowledge.rules.items():
        _add_rule(compiled, experta, rules, key, rule)
    rules["__matcher__"] = _matcher()
    compiled.engine = type("Rules", (experta.KnowledgeEngine,), rules)()
    compiled.engine.reset()
    return compiled


def _matcher() -> Any:
    """Return the matcher of experta, which asks only those rules for changes that have any."""
    from experta.matchers.rete import ReteMatcher

    class Matcher(ReteMatcher):  # type: ignore[misc]
        def changes(self, adding: Any = None, deleting: Any = None) -> tuple[list[Any], list[Any]]:
            for fact in deleting or ():
                self.root_node.remove(fact)
            for fact in adding or ():
                self.root_node.add(fact)
            added: list[Any] = []
            removed: list[Any] = []
            for node in self._get_conflict_set_nodes():
                if node.added or node.removed:
                    come, gone = node.get_activations()
                    added.extend(come)
                    removed.extend(gone)
            return added, removed

    return Matcher


def _pattern(kind: Any, knowledge: Knowledge, name: str, value: Any) -> Any:
    # The subsystem stands in the pattern only for speed: a fact is then compared with the findings of
    # its subsystem instead of all.
    return kind(subsystem=knowledge.findings[name].subsystem, finding=name, value=value)


def _add_link(compiled: _Compiled, experta: Any, rules: dict[str, Any], name: str, value: str) -> None:
    """Add the rule that records what one value of a finding says about every cause linked to it."""
    rule = f"link:{name}={value}"
    pattern = _pattern(compiled.fact, compiled.knowledge, name, value)
    rules[rule] = experta.Rule(pattern)(lambda engine: compiled.note(rule))
    sentences = link_sentences(compiled.knowledge, name, value)
    firings = tuple(Firing(rule, "link", ((name, value),), cause, name, value, why) for cause, why in sentences.items())
    compiled.records[rule] = lambda known, given: firings


def _add_band(compiled: _Compiled, experta: Any, rules: dict[str, Any], name: str, value: str) -> None:
    """Add the rule that takes a reading into a band."""
    rule = f"classify:{name}={value}"
    pattern = _pattern(compiled.reading, compiled.knowledge, name, value)
    rules[rule] = experta.Rule(pattern)(lambda engine: compiled.classify(rule, name, value))
    compiled.records[rule] = lambda known, given: (
        Firing(rule, "classify", ((name, value),), None, name, value, given[name].because),
    )


def _add_rule(compiled: _Compiled, experta: Any, rules: dict[str, Any], key: str, entry: RuleEntry) -> None:
    """Add a rule of the knowledge files."""
    patterns = []
    for ground in entry.when:
        allowed = experta.L(ground.is_[0])
        for further in ground.is_[1:]:
            allowed = allowed | experta.L(further)
        patterns.append(_pattern(compiled.fact, compiled.knowledge, ground.finding, allowed))
    name, value = entry.finding, entry.value
    if entry.kind == "infer" and name is not None and value is not None:
        rules[f"rule:{key}"] = experta.Rule(*patterns)(lambda engine: compiled.infer(key, name, value))
    else:
        rules[f"rule:{key}"] = experta.Rule(*patterns)(lambda engine: compiled.note(key))
    kind: FiringKind = entry.kind
    compiled.records[key] = lambda known, given: (
        Firing(key, kind, _met(entry, known), entry.cause, name, value, entry.because.staff),
    )


def _met(entry: RuleEntry, known: Known) -> Grounds:
    """Return the grounds of a rule that are met."""
    return tuple(
        (ground.finding, value)
        for ground in entry.when
        for value in ground.is_
        if value in known.get(ground.finding, frozenset())
    )
