"""Will it fit: from the sizes of a form to what they say."""

from __future__ import annotations

from collections.abc import Mapping

from diagnose.errors import UsageError
from diagnose.mechanics.fit import FitAnswer, fit
from diagnose.mechanics.measuring import TOOLS
from diagnose.model.quantities import parse_length
from diagnose.model.wording import Wording

SIZES = ("block", "slot", "mouth", "root")
MEASURED_WITH = ("block_tool", "slot_tool")


def fit_from(given: Mapping[str, str], wording: Wording) -> FitAnswer:
    """Return what the sizes of a form say.

    Parameters
    ----------
    given : mapping
        Sizes with their units, and the two tools.
    wording : Wording
        For the sentences of what is missing.
    """
    sizes = {name: given.get(name, "").strip() for name in SIZES}
    if not (sizes["block"] and sizes["slot"]):
        raise UsageError(wording.say("page-fit-both"))
    for name in MEASURED_WITH:
        if given.get(name) not in TOOLS:
            raise UsageError(wording.say("page-choose-other", text=given.get(name, "")[:40]))
    lengths = {name: parse_length(text, name).mm for name, text in sizes.items() if text}
    block_tool, slot_tool = (given[name] for name in MEASURED_WITH)
    mouth_mm, root_mm = lengths.get("mouth"), lengths.get("root")
    return fit(lengths["block"], lengths["slot"], block_tool, slot_tool, mouth_mm, root_mm)
