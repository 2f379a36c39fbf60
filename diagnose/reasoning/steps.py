"""The steps a plan is made of."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Ask:
    """Ask or look for one finding.

    Parameters
    ----------
    finding : str
        Its id.
    cost_minutes : float
        With opening the clock as far as it needs. [min]
    saves_minutes : float
        Expected minutes that asking it, and asking on as long as that pays, saves against asking nothing more;
        may be below 0. [min]
    information_nats : float
        What the answer is expected to tell about the causes. [nat]
    separates : tuple of str
        The two likely causes (ids) that the answer tells apart best.
    """

    finding: str
    cost_minutes: float
    saves_minutes: float
    information_nats: float
    separates: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Do:
    """Do a remedy now.

    Parameters
    ----------
    remedy : str
        Its id.
    cost_minutes : float
        One try with its proof, with opening. [min]
    saves_minutes : float
        Expected minutes it saves against handing the clock on at once. [min]
    cures : float
        Chance that nothing is wrong after it [1].
    causes : tuple of str
        The causes it is for, most likely first.
    """

    remedy: str
    cost_minutes: float
    saves_minutes: float
    cures: float
    causes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Wait:
    """Findings that take time, watched side by side until the next contact.

    Parameters
    ----------
    findings : tuple of str
        At most three.
    hours : float
        The longest of their waits. [h]
    cost_minutes, saves_minutes : float
        Of the best of them. [min]
    """

    findings: tuple[str, ...]
    hours: float
    cost_minutes: float
    saves_minutes: float


@dataclass(frozen=True, slots=True)
class Refer:
    """Hand the clock on.

    Parameters
    ----------
    to : str
        visit, workshop or specialist.
    cost_minutes : float
        The shop's price of it, with the chance that the cause handed over turns out to be another. [min]
    saves_minutes : float
        Expected minutes it saves against the best other step that asks nothing; may be below 0. [min]
    """

    to: str
    cost_minutes: float
    saves_minutes: float = 0.0


@dataclass(frozen=True, slots=True)
class Enough:
    """Most likely nothing is wrong (any more), and further questions would leave it so.

    Parameters
    ----------
    nothing_wrong : float
        Probability of that [1].
    cost_minutes, saves_minutes : float
        Always 0. [min]
    """

    nothing_wrong: float
    cost_minutes: float = 0.0
    saves_minutes: float = 0.0


@dataclass(frozen=True, slots=True)
class Danger:
    """A word of danger was said: no question, no price, the sentence to say. Made from the alarm list.

    Parameters
    ----------
    alarm : str
        Id of the alarm.
    then : str
        What follows: refer, workshop, visit or stop-and-look.
    cautions : tuple of str
        Ids of the cautions it names.
    """

    alarm: str
    then: str
    cautions: tuple[str, ...] = ()


Step = Ask | Do | Wait | Refer | Enough | Danger


@dataclass(frozen=True, slots=True)
class Plan:
    """The next step, and what stands beside it.

    Parameters
    ----------
    step : Step
        What to do next.
    others : tuple of Step
        What else could be done, best first.
    stays : float
        Chance that the first place stays if one asks on [1].
    enough : bool
        Whether that is high enough to say *Enough known*.
    expected_minutes : float
        Expected minutes until the clock is cured or handed on. [min]
    look : tuple of Ask
        The step, where it is a question, with further ones of the same place: one look.
    homework : tuple of Ask
        At most three findings that take waiting or longer than a call, for the time until the next contact.
    """

    step: Step
    others: tuple[Step, ...]
    stays: float
    enough: bool
    expected_minutes: float
    look: tuple[Ask, ...] = ()
    homework: tuple[Ask, ...] = ()
