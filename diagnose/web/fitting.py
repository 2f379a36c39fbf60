"""Will it fit: from the sizes of a form to the finding they speak of."""

from __future__ import annotations

from diagnose.errors import UsageError
from diagnose.mechanics.fit import FitAnswer, fit
from diagnose.mechanics.measuring import TOOLS
from diagnose.model.quantities import parse_length
from diagnose.model.wording import Wording
from diagnose.web.desk import chosen
from diagnose.web.forms import Given

SIZES = ("block", "slot", "mouth", "root")


def fit_from(given: Given, wording: Wording) -> FitAnswer:
    """Return what the sizes of a form say.

    Parameters
    ----------
    given : Given
        Sizes with their units, and the two tools.
    wording : Wording
        For the sentences of what is missing.
    """
    sizes = {name: given.text(name) for name in SIZES}
    if not (sizes["block"] and sizes["slot"]):
        raise UsageError(wording.say("page-fit-both"))
    lengths = {name: parse_length(text, name).mm for name, text in sizes.items() if text}
    block_tool, slot_tool = (chosen(given, f"{name}_tool", TOOLS, wording) for name in ("block", "slot"))
    mouth_mm, root_mm = lengths.get("mouth"), lengths.get("root")
    return fit(lengths["block"], lengths["slot"], block_tool, slot_tool, mouth_mm, root_mm)
