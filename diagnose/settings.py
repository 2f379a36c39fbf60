"""Where things lie on this machine, and the numbers of the reasoning that a shop may change."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

PACKAGE = Path(__file__).resolve().parent


def _shipped(name: str) -> Path:
    """Return the folder `name` of the repository, or its copy inside an installed wheel."""
    inside = PACKAGE / "_data" / name
    return inside if inside.is_dir() else PACKAGE.parent / name


def knowledge_folder() -> Path:
    """Return the folder of the knowledge files (`STOPPED_CLOCK_KNOWLEDGE` overrides it)."""
    chosen = os.environ.get("STOPPED_CLOCK_KNOWLEDGE")
    return Path(chosen) if chosen else _shipped("knowledge")


def demo_folder() -> Path:
    """Return the folder of the demo cases."""
    return _shipped("cases_demo")


def data_folder() -> Path:
    """Return the folder in which consultations are kept (`STOPPED_CLOCK_DATA` overrides it)."""
    chosen = os.environ.get("STOPPED_CLOCK_DATA")
    if chosen:
        return Path(chosen)
    import platformdirs

    return Path(platformdirs.user_data_dir("stopped-clock", appauthor=False))


def own_shop_file() -> Path | None:
    """Return the shop's own prices and days, or None where it keeps none.

    `STOPPED_CLOCK_SHOP` names the file; without it `shop.yaml` in the data folder is taken, so that the
    shipped file need not be edited.
    """
    chosen = os.environ.get("STOPPED_CLOCK_SHOP")
    if chosen:
        return Path(chosen)
    own = data_folder() / "shop.yaml"
    return own if own.is_file() else None


@dataclass(frozen=True, slots=True)
class Parameters:
    """The numbers of the reasoning; each with its meaning and its allowed range in DEVELOPERS.md.

    Parameters
    ----------
    expected_faults : float
        Odds of the causes that fit a clock add up to this (0.1 to 0.6).
    nothing_wrong : float
        Probability, before the first answer, that nothing is wrong with a clock somebody asks about.
    nothing_wrong_checkup : float
        The same where somebody says "please check it, nothing is wrong".
    none_of_these : float
        Probability, before the first answer, of a fault that is not on the list.
    leak : float
        How often an abnormal value shows for reasons that no listed cause explains.
    wrong_sure, wrong_think_so : float
        Probability that an answer told by an owner is wrong.
    wrong_sure_trained, wrong_think_so_trained : float
        The same, seen by trained hands.
    wrong_read_off : float
        The same, counted or read off a scale.
    unknown : float
        Probability that a question is answered with "cannot tell".
    gross_error : float
        Probability that a measurement is of something else altogether.
    exclude_floor : float
        Least chance that the ground of an exclusion is wrong.
    establish_link, establish_leak : float
        Link and leak of a cause seen directly.
    kept_sets : int
        Sets of causes kept for planning.
    ask_again : float
        An answer at least this probably wrong is asked again.
    enough_call, enough_visit : float
        Probability that the first place stays, from which enough is known.
    """

    expected_faults: float = 0.3
    nothing_wrong: float = 0.03
    nothing_wrong_checkup: float = 0.5
    none_of_these: float = 0.05
    leak: float = 0.02
    wrong_sure: float = 0.06
    wrong_think_so: float = 0.26
    wrong_sure_trained: float = 0.03
    wrong_think_so_trained: float = 0.15
    wrong_read_off: float = 0.02
    unknown: float = 0.15
    gross_error: float = 0.03
    exclude_floor: float = 0.02
    establish_link: float = 0.97
    establish_leak: float = 0.005
    kept_sets: int = 160
    ask_again: float = 0.4
    enough_call: float = 0.95
    enough_visit: float = 0.98


DEFAULT = Parameters()
