"""The form of knowledge: what an entry of each kind may say, and what each field means."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, model_validator

BARE_WORDS = {"yes", "no", "on", "off", "true", "false", "null", "~", "none"}


def _is_a_sentence(text: str) -> str:
    """Refuse text that is empty, or a bare yes or no that a file reader may take for true or false."""
    if text.strip().lower() in BARE_WORDS:
        raise ValueError(f"'{text}' is not a text: write words a person can read")
    if not text.strip():
        raise ValueError("the text is empty: write words a person can read")
    return text.strip()


Text = Annotated[str, AfterValidator(_is_a_sentence)]
Id = Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]*$")]
Likelihood = Literal["certain", "probable", "expected", "fifty-fifty", "uncertain", "improbable"]
Commonness = Literal["very-common", "common", "occasional", "rare"]
Factor = Literal["much", "clearly", "little", "little-less", "clearly-less", "much-less"]
Opened = Literal["outside", "door", "hood", "dial", "movement-out", "plates-apart"]
Who = Literal["owner", "owner-on-the-phone", "technician", "workshop"]
Where = Literal["call", "visit", "workshop"]
Status = Literal["draft", "reviewed", "proven", "retired"]
Adjuster = Literal[
    "leader-adjuster", "crutch-adjuster", "crutch-bend", "friction-crutch", "case-feet", "case-hook"
]  # fmt: skip
Viewpoint = Literal["dial", "behind", "side", "above", "below"]

OPENED: tuple[Opened, ...] = ("outside", "door", "hood", "dial", "movement-out", "plates-apart")
WHO: tuple[Who, ...] = ("owner", "owner-on-the-phone", "technician", "workshop")


class Entry(BaseModel):
    """What all entries share: nothing unknown is accepted, and nothing changes after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Words(Entry):
    """A text for staff and the same thing in words a customer follows.

    In a file a bare text is the staff's; where `customer` is missing a customer is not shown it.
    """

    staff: Text
    customer: Text | None = None


def _words(value: object) -> object:
    return {"staff": value} if isinstance(value, str) else value


Both = Annotated[Words, BeforeValidator(_words)]


class Applies(Entry):
    """The clocks an entry is about; an empty list means all of them."""

    families: tuple[Id, ...] = ()
    drives: tuple[Id, ...] = ()
    escapements: tuple[Id, ...] = ()
    strikes: tuple[Id, ...] = ()
    chimes: tuple[Id, ...] = ()


class Band(Entry):
    """The stretch of a measured quantity that a value of a finding stands for; both ends are needed."""

    from_: float = Field(alias="from")
    to: float

    @model_validator(mode="after")
    def _in_order(self) -> Band:
        if self.from_ >= self.to:
            raise ValueError(f"band from {self.from_} to {self.to}: `from` must be below `to`")
        return self


class Value(Entry):
    """One value of a finding: how it is shown, whether it is the normal one, how people say it.

    `heard` names what is noticed in a recording where it is so; what is heard may speak for several values.
    """

    staff: Text
    customer: Text | None = None
    normal: bool = False
    said_like: tuple[Text, ...] = ()
    heard: tuple[Id, ...] = ()
    band: Band | None = None


class Measured(Entry):
    """The quantity whose bands the values of a finding are.

    `folded` says that the sign does not count: a band from 3 to 5 also means -5 to -3.
    """

    quantity: Id
    unit: Text
    folded: bool = False


class FindingEntry(Entry):
    """A thing that is told, seen, heard or measured, with its values and how to find it out.

    `kind`: *choice* (values in no order), *graded* (from normal to worst) or *circumstance* (with base
    rates; no value of it is normal). `question.customer` is what the owner is asked; with `told` it is
    only the sentence that says what a technician looks at. `place` groups findings that lie under the
    eye together into one look. `minutes` keep hands busy, `wait_hours` only pass.
    """

    kind: Literal["choice", "graded", "circumstance"]
    subsystem: Id
    question: Both
    values: dict[Id, Value] = Field(min_length=2)
    leak: Annotated[float, Field(ge=0.005, le=0.1)] | dict[Id, Annotated[float, Field(ge=0, le=0.2)]] = 0.02
    base: dict[Id, Annotated[float, Field(gt=0, lt=1)]] | None = None
    measured: Measured | None = None
    look: Text
    place: Id
    drawing: Id | None = None
    viewed_from: Viewpoint | None = None
    minutes: Annotated[float, Field(gt=0, le=60)]
    wait_hours: Annotated[float, Field(ge=0, le=24 * 60)] = 0
    opened: Opened
    who: Who
    told: bool = False
    risk: Literal["none", "care", "danger"] = "none"
    needs: dict[Id, tuple[Id, ...]] = {}
    applies: Applies = Applies()
    also_called: tuple[Text, ...] = ()
    cautions: tuple[Id, ...] = ()
    sources: tuple[str, ...] = Field(min_length=1)

    @property
    def normal(self) -> str | None:
        """The value that means nothing is wrong here; None for a circumstance."""
        return next((name for name, value in self.values.items() if value.normal), None)

    @model_validator(mode="after")
    def _one_normal_value(self) -> FindingEntry:
        normal = [name for name, value in self.values.items() if value.normal]
        if self.kind == "circumstance":
            if normal:
                raise ValueError("a circumstance has no normal value: give base rates instead")
            if not self.base or set(self.base) != set(self.values):
                raise ValueError("a circumstance needs `base` with a rate for each of its values")
            if abs(sum(self.base.values()) - 1) > 1e-6:
                raise ValueError(f"the base rates add up to {sum(self.base.values()):g}: they must add up to 1")
        elif len(normal) != 1:
            raise ValueError(f"{len(normal)} values are marked normal: exactly one must be")
        if self.kind == "graded" and next(iter(self.values)) != normal[0]:
            raise ValueError("a graded finding lists its values from normal to worst")
        if self.measured and any(value.band is None for value in self.values.values()):
            raise ValueError("a measured finding needs a band for each of its values")
        if isinstance(self.leak, dict) and (set(self.leak) - set(self.values) or set(self.leak) & set(normal)):
            raise ValueError("`leak` names abnormal values of this finding only")
        return self


class Link(Entry):
    """A cause shows a value of a finding, so often, for this reason."""

    finding: Id
    value: Id
    often: Likelihood
    why: Text
    source: str = "practice"


class Mistaken(Entry):
    """Another cause that looks the same, and how to tell them apart."""

    cause: Id
    tell: Text


class CauseEntry(Entry):
    """A cause: `title` reads well in "the cause is ..."; `how_common` by family, or for all in `default`.

    `no_fault` marks behavior that is as it should be, such as a chime that needs two hours to correct itself:
    an answer of its own, with nothing to mend; its remedy explains.
    """

    title: Both
    subsystem: Id
    no_fault: bool = False
    applies: Applies = Applies()
    how_common: dict[Id, Commonness]
    raised_by: dict[Id, dict[Id, Factor]] = {}
    shows: tuple[Link, ...]
    mistaken_for: tuple[Mistaken, ...] = ()
    remedies: tuple[Id, ...] = Field(min_length=1)
    cautions: tuple[Id, ...] = ()
    parts: tuple[Id, ...] = ()
    drawing: Id | None = None
    also_called: tuple[Text, ...] = ()
    note: Both | None = None
    sources: tuple[str, ...] = Field(min_length=1)
    status: Status = "draft"


class Ground(Entry):
    """One ground of a rule: the finding has one of these values."""

    finding: Id
    is_: tuple[Id, ...] = Field(alias="is", min_length=1)


class RuleEntry(Entry):
    """A pattern that the links of causes cannot express.

    Each kind uses its own target: *infer* `finding` and `value`; *exclude*, *establish*, *support* and
    *weaken* `cause` (with `factor` for the last two); *contradict* nothing but its grounds; *warn*
    `caution`; *refer* `reason`.
    """

    kind: Literal["infer", "exclude", "establish", "support", "weaken", "contradict", "warn", "refer"]
    when: tuple[Ground, ...] = Field(min_length=1)
    finding: Id | None = None
    value: Id | None = None
    cause: Id | None = None
    factor: Literal["little", "clearly"] | None = None
    caution: Id | None = None
    reason: Both | None = None
    because: Both
    sources: tuple[str, ...] = Field(min_length=1)
    fires_on: tuple[dict[Id, Id], ...] = Field(min_length=1)
    silent_on: tuple[dict[Id, Id], ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _has_its_target(self) -> RuleEntry:
        needed = {
            "infer": ("finding", "value"),
            "exclude": ("cause",),
            "establish": ("cause",),
            "support": ("cause", "factor"),
            "weaken": ("cause", "factor"),
            "contradict": (),
            "warn": ("caution",),
            "refer": ("reason",),
        }[self.kind]
        targets = ("finding", "value", "cause", "factor", "caution", "reason")
        given = tuple(name for name in targets if getattr(self, name) is not None)
        if set(given) != set(needed):
            raise ValueError(
                f"a rule of kind {self.kind} takes {', '.join(needed) or 'no target'}; "
                f"given: {', '.join(given) or 'none'}"
            )
        return self


class RightWhen(Entry):
    """What shows that a step is right; with a finding and value it can be answered and recorded."""

    text: Both
    finding: Id | None = None
    value: Id | None = None
    drawing: Id | None = None


class StopIf(Entry):
    """What ends the work, and where it goes then."""

    text: Both
    then: Literal["visit", "workshop", "refer"] = "workshop"


class NotSo(Entry):
    """A way on when a step is not right: what was seen instead, recorded as a finding where it is one."""

    text: Both
    finding: Id | None = None
    value: Id | None = None
    go: Literal["again", "rethink", "stop"] = "rethink"


class Step(Entry):
    """One step of a remedy.

    `hold` is what the other hand carries. `act` names a closed loop that the program runs with the
    person. A step that is `under_load` or that `cannot_be_undone` reaches a customer only from an entry
    that is reviewed or proven. `who` is the least trained person who may do this step. `cautions` stand again
    at this step; where none is named, a step under load shows the dangers of its remedy. `reckon` names the
    questions of reckoning whose number a technician wants at this step.
    """

    do: Both
    hold: Both | None = None
    right_when: RightWhen
    stop_if: StopIf | None = None
    not_so: tuple[NotSo, ...] = ()
    act: Literal["set-the-beat", "set-the-time", "listen"] | None = None
    drawing: Id | None = None
    viewed_from: Viewpoint | None = None
    under_load: bool = False
    cannot_be_undone: bool = False
    who: Who | None = None
    cautions: tuple[Id, ...] = ()
    reckon: tuple[Id, ...] = ()


class Proof(Entry):
    """A finding and the value that proves the cure."""

    finding: Id
    value: Id


class RemedyEntry(Entry):
    """A remedy: ordered steps that whoever is at the clock is walked through.

    `works` is how often it cures the cause it is for (`cures: no` for one that only makes safe); `opened`
    and `who` are the most that its steps need; `stale` are findings it changes besides those linked to
    the causes that name it. A helper is needed always, or for the `helper_families` only (a tall case,
    say). `adjusters` says what is moved where a step sets the beat: by family, or for all in `default`.
    """

    title: Both
    who: Who
    opened: Opened
    minutes: Annotated[float, Field(gt=0)]
    wait_hours: Annotated[float, Field(ge=0)] = 0
    works: Likelihood = "probable"
    cures: bool = True
    steps: tuple[Step, ...] = Field(min_length=1)
    proof: tuple[Proof, ...] = Field(min_length=1)
    stale: tuple[Id, ...] = ()
    tools: tuple[Text, ...] = ()
    parts: tuple[Id, ...] = ()
    cautions: tuple[Id, ...] = ()
    helper_needed: bool = False
    helper_families: tuple[Id, ...] = ()
    adjusters: dict[Id, Adjuster] = {}
    applies: Applies = Applies()
    sources: tuple[str, ...] = Field(min_length=1)
    status: Status = "draft"


class CautionEntry(Entry):
    """A warning: *danger* (someone can be hurt), *care* (the clock can be spoiled) or *note*.

    It stands only with clocks it `applies` to, and where what is known of the `person` is one of the values
    named; what is not known leaves it standing. An alarm shows its cautions whatever is known.
    """

    level: Literal["danger", "care", "note"]
    title: Both
    text: Both
    when: Text
    applies: Applies = Applies()
    person: dict[Id, tuple[Id, ...]] = {}
    authority: tuple[str, ...] = Field(min_length=1)


class AlarmEntry(Entry):
    """Words that end all questions: the sentence to say comes at once.

    `words` are phrases looked for in whatever is typed (small letters; `*` stands for the rest of a
    word, `key|crank` for either word, `...` for up to four words between); `unless` are phrases, of the
    same form, that are something else and take only their own words out of the text; `also_when` are
    answers that mean the same.
    """

    title: Both
    words: tuple[Text, ...] = Field(min_length=1)
    unless: tuple[Text, ...] = ()
    also_when: dict[Id, tuple[Id, ...]] = {}
    say: Both
    then: Literal["refer", "workshop", "visit", "stop-and-look"]
    cautions: tuple[Id, ...] = Field(min_length=1)
    harmless: tuple[Text, ...] = Field(min_length=1)
    sources: tuple[str, ...] = Field(min_length=1)
