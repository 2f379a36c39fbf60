"""The form of the lists beside the knowledge itself: parts, drawings, clocks, sources, doors, places, words, prices."""

from __future__ import annotations

import re
from typing import Annotated, Literal

from pydantic import ConfigDict, Field, RootModel, model_validator

from diagnose.model.entries import Both, Entry, Id, Opened, Text, Viewpoint, Where

Price = Annotated[float, Field(ge=0)]
Share = Annotated[float, Field(gt=0, lt=1)]


class Dimension(Entry):
    """A dimension of a part that decides whether it fits.

    `key` is the short name it has in a stock list and on the command line (made from `name` where it is
    missing), `also_called` are further headings of a stock list. Two parts are alike here within `alike`,
    in the unit, or within `alike_share` of the size; `because` says why so much. With `decides: false`
    a difference counts where both sizes are known, but the size need not be known. `acts` is what it does
    in what the part `acts_as`.
    """

    name: Text
    unit: Literal["mm", "g", "kg", "degrees"]
    usual_from: float | None = None
    usual_to: float | None = None
    measure_with: Text
    key: Id | None = None
    also_called: tuple[Text, ...] = ()
    alike: Annotated[float, Field(gt=0)] | None = None
    alike_share: Annotated[float, Field(gt=0, lt=1)] | None = None
    because: Text | None = None
    decides: bool = True
    acts: Literal["thickness", "width", "free-length", "length"] | None = None

    @model_validator(mode="after")
    def _one_tolerance(self) -> Dimension:
        if self.alike is not None and self.alike_share is not None:
            raise ValueError("give `alike` or `alike_share`, not both")
        return self

    @property
    def short(self) -> str:
        """The key, or one made from the name: small letters and hyphens, up to a comma or bracket."""
        if self.key is not None:
            return self.key
        head = re.split(r"[,(]", self.name.lower(), maxsplit=1)[0]
        return re.sub(r"[^a-z0-9]+", "-", head).strip("-")


class PartEntry(Entry):
    """A part that a remedy uses, with the dimensions that decide whether it fits.

    `acts_as` names the physics by which a difference is turned into what it would do.
    """

    title: Both
    dimensions: tuple[Dimension, ...] = ()
    note: Both | None = None
    acts_as: Literal["suspension-spring", "mainspring", "pendulum", "leader"] | None = None
    sources: tuple[str, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _keys_once(self) -> PartEntry:
        keys = [dimension.short for dimension in self.dimensions]
        twice = sorted({key for key in keys if keys.count(key) > 1})
        if twice:
            raise ValueError(f"two dimensions have the key '{twice[0]}': give each its own `key`")
        return self


class DrawingEntry(Entry):
    """A drawing of our own: `file` lies beside this list; `shows` is read aloud in its stead."""

    file: Text
    title: Both
    shows: Both
    viewed_from: Viewpoint


class ClockEntry(Entry):
    """One answer to "which clock is it": a family, drive, escapement, strike or chime.

    For a family: `beats_per_hour` its common trains; `swing_deg`, `drop_deg` the usual half swing and
    the angle at which a tooth drops; `base_mm` the width of its feet, `fork_mm` the distance from arbor
    to fork, `bend_to_bob_mm` from the bend of the suspension spring to the bob tip, `hook_to_foot_mm` from
    the hook of a hanging case to its bottom; `runs_open` how far it can be open and still run, so that a
    cure can be proved.
    """

    kind: Literal["family", "drive", "escapement", "strike", "chime"]
    title: Both
    how_to_tell: Both
    in_scope: bool = True
    why_not: Both | None = None
    beats_per_hour: tuple[int, ...] = ()
    swing_deg: float | None = None
    drop_deg: float | None = None
    base_mm: float | None = None
    fork_mm: float | None = None
    bend_to_bob_mm: float | None = None
    hook_to_foot_mm: float | None = None
    runs_open: Opened | None = None
    sources: tuple[str, ...] = Field(min_length=1)


class SourceEntry(Entry):
    """A text that knowledge rests on: `read` says how much of it was read."""

    title: Text
    author: Text | None = None
    year: int | None = None
    kind: Literal["book", "paper", "standard", "authority", "practice", "estimate", "physics"]
    read: Text


class ScreenEntry(Entry):
    """A phrase a screen, sheet or report prints, for staff and for a customer; `{names}` are filled in."""

    staff: str
    customer: str | None = None


class SubsystemEntry(Entry):
    """A part of the clock that causes and findings belong to, in the order of the tree."""

    title: Both
    explained: Both
    drawing: Id | None = None


class PlaceEntry(Entry):
    """A place where several findings lie under the eye together: one look."""

    title: Both
    how: Both
    drawing: Id | None = None


class DoorEntry(Entry):
    """One way in: what somebody comes with, and the first step that follows from it.

    `first` is what is shown first; `looks` are the findings of that first look, all on one screen;
    `assume` are the circumstances that the door itself tells; `checkup` says that nothing may be wrong.
    """

    order: int
    title: Both
    opening: Both
    first: Literal["complaint", "look", "fit", "alarm"]
    looks: tuple[Id, ...] = ()
    assume: dict[Id, Id] = {}
    ask_first: tuple[Id, ...] = ()
    checkup: bool = False
    drawing: Id | None = None


class MoneyEntry(Entry):
    """What a shop charges, in its own currency; each figure is an estimate until the shop puts its own.

    `hour` of work on a visit or at the bench; `travel` there and back; `call` whatever it lasts; `post` of a
    part sent; `part` where `parts` names no price; `specialist` for the whole work of one. All are given
    in the shop's own `currency`.
    """

    currency: Text = "dollars"
    hour: Price = 60.0
    travel: Price = 45.0
    call: Price = 0.0
    post: Price = 8.0
    part: Price = 25.0
    parts: dict[Id, Price] = {}
    specialist: Price = 450.0


class DaysEntry(Entry):
    """Days that pass before the work is done: for a visit, by post, at the bench, with a specialist."""

    visit: Price = 7.0
    post: Price = 3.0
    bench_queue: Price = 21.0
    specialist: Price = 60.0


class PartSentEntry(Entry):
    """Before a part is sent: from which chance that it is the cause it is sent, and from which one looks first."""

    send_from: Share = 0.7
    look_from: Share = 0.15

    @model_validator(mode="after")
    def _in_order(self) -> PartSentEntry:
        if self.look_from > self.send_from:
            raise ValueError(f"look_from {self.look_from:g} is above send_from {self.send_from:g}: it must not be")
        return self


class ShopEntry(Entry):
    """What time, travel, parts and days cost this shop: in minutes of work for the plan, in money for people.

    `refer_minutes` and `second_visit_minutes` hold the waiting that comes with them; `specialist_cures` is the
    share of what the workshop cannot cure that a specialist does; `cover` is the share of the causes for
    which the parts should be in the van.
    """

    opening_minutes: dict[Opened, float]
    refer_minutes: dict[Where, float]
    day_minutes: float
    proof_minutes: float
    change_place_minutes: float
    harm_minutes: dict[Literal["none", "care", "danger"], float]
    part_minutes: float
    second_visit_minutes: float
    specialist_cures: Share = 0.9
    cover: Share = 0.9
    money: MoneyEntry = MoneyEntry()
    days: DaysEntry = DaysEntry()
    part_sent: PartSentEntry = PartSentEntry()


class ProbabilityWord(Entry):
    """A word for how often, with the probability it stands for and where that figure is from."""

    probability: Annotated[float, Field(gt=0, lt=1)]
    source: str


class SpokenProbability(Entry):
    """The word shown beside a number from `from_` upwards."""

    from_: float = Field(alias="from", ge=0, le=1)
    staff: Text
    customer: Text


class SynonymEntry(Entry):
    """Words, alone or in a row, that mean the same in a complaint.

    `part` says that they name a part of the clock; `also` are ids of other entries that these words
    count as too.
    """

    said: tuple[Text, ...] = Field(min_length=1)
    part: bool = False
    also: tuple[Id, ...] = ()


class ExceptionEntry(Entry):
    """Why what a check finds may stand: `of` are the ids of the entries it excuses."""

    check: Id
    of: tuple[Id, ...] = Field(min_length=1)
    reason: Text


class AsideEntry(Entry):
    """Ways to talk about a clock, a shop or the weather that tell nothing of a fault."""

    said: tuple[Text, ...] = Field(min_length=1)


class SayingsEntry(RootModel[dict[Id, tuple[Text, ...]]]):
    """More ways people say the values of a finding (the key is its id), in whole sentences."""

    model_config = ConfigDict(frozen=True)
