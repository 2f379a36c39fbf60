"""The report on a case: one self-contained page that prints well, for staff and for a customer."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from diagnose.cases.case_text import case_to_yaml
from diagnose.consultation import Consultation
from diagnose.model.wording import Reader, Wording
from diagnose.reports import contact_words, paper, showing, standing, told, work
from diagnose.reports.beat_pictures import pictures_of
from diagnose.reports.chart import svg_tree
from diagnose.reports.contract import cautions_shown, ranked, stability_values
from diagnose.reports.pdf import pdf_of
from diagnose.reports.tree import said_texts
from diagnose.reports.writing import file_name, write_files


@dataclass(frozen=True, slots=True)
class AlarmOnPaper:
    """An alarm that nobody has dealt with: the sentence to say, and what follows."""

    title: str
    say: str
    then: str


def html_report(consultation: Consultation, reader: Reader = "staff", result: dict[str, Any] | None = None) -> str:
    """Return the report as one page of HTML that needs nothing from elsewhere.

    Parameters
    ----------
    consultation : Consultation
        The case.
    reader : str
        "staff" or "customer". A customer reads words for chances, no figures of the reasoning, and only the
        steps an owner may do.
    result : dict, optional
        What `ranked` gives, where it is at hand, perhaps with `stability`.
    """
    wording = Wording(consultation.knowledge, reader)
    result = ranked(consultation) if result is None else result
    return paper.page(
        "report.html",
        wording,
        reader=reader,
        case=consultation.case,
        clock=showing.clock_titles(consultation, wording),
        contacts=told.contacts_of(consultation, wording),
        alarms=_alarms(consultation, wording),
        out_of_scope=showing.out_of_scope(consultation, wording),
        said=said_texts(consultation),
        short=standing.in_short(consultation, result, wording),
        cautions=work.cautions_on_paper(cautions_shown(consultation), wording),
        tree=paper.inline(svg_tree(consultation, reader, result)),
        causes=standing.causes_on_paper(result, wording),
        shares=standing.shares_on_paper(result, wording),
        stability=standing.stability_on_paper(consultation, result, wording),
        answers=told.answers_between(consultation, wording),
        heard=told.heard_on_paper(consultation, wording),
        done=told.done_on_paper(consultation, wording),
        doubts=standing.doubts_on_paper(result, wording),
        next=standing.next_on_paper(consultation, wording),
        route=standing.route_on_paper(result, wording),
        remedy=_remedy(consultation, wording),
        handover=told.handed_over(consultation, wording),
        homework=told.homework_on_paper(consultation, wording),
        changed=contact_words.changes_lines(consultation, wording),
        outcome=told.concluded(consultation, wording),
        not_looked=told.not_looked_at(consultation, wording),
        edition=consultation.case.edition,
    )


def _alarms(consultation: Consultation, wording: Wording) -> tuple[AlarmOnPaper, ...]:
    entries = [consultation.knowledge.alarms[name] for name in consultation.alarms]
    return tuple(
        AlarmOnPaper(
            wording.text(entry.title),
            wording.text(entry.say),
            contact_words.alarm_then(entry.then, consultation.contact.where, wording),
        )
        for entry in entries
    )


def _remedy(consultation: Consultation, wording: Wording) -> work.RemedyOnPaper | None:
    """Return what to do.

    None while an alarm stands, where the clock is of another kind, or once it is closed. A customer gets the
    steps only of what is to be done now and what he may do.
    """
    walk = consultation.walk
    remedy = walk.remedy if walk is not None else showing.best_remedy(consultation)
    stopped = consultation.alarms or showing.out_of_scope(consultation, wording)
    if remedy is None or stopped or told.concluded(consultation, wording):
        return None
    if wording.reader == "staff":
        return work.remedy_on_paper(remedy, wording)
    if not showing.advised(consultation, remedy):
        return None
    return work.remedy_on_paper(remedy, wording, steps=showing.owner_may_do(consultation, remedy))


def write_report(
    consultation: Consultation, folder: Path, pdf: bool = False, reader: Reader = "staff"
) -> tuple[Path, ...]:
    """Write tree, report, pictures of the last recording, plain values and case file; return their paths.

    For a customer only tree, report and the swing split (and PDF) are written, with "-customer" in their names:
    the other files hold the figures of the reasoning.

    Parameters
    ----------
    consultation : Consultation
        The case.
    folder : Path
        Where to; made where it is missing.
    pdf : bool
        Also as PDF.
    reader : str
        "staff" or "customer".

    Raises
    ------
    InputError
        The folder cannot be written to, or the PDF cannot be made.
    """
    result = ranked(consultation)
    if reader == "staff":
        result["stability"] = stability_values(consultation)
    name = file_name(consultation.case.id) + ("-customer" if reader == "customer" else "")
    page = html_report(consultation, reader, result)
    contents: dict[str, str | bytes] = {
        f"{name}.svg": svg_tree(consultation, reader, result),
        f"{name}.html": page,
    }
    if reader == "staff":
        contents[f"{name}.json"] = json.dumps(result, ensure_ascii=False, indent=2) + "\n"
        contents[f"{name}.yaml"] = case_to_yaml(consultation.case)
    last = told.last_heard(consultation)
    if last is not None:
        for picture in pictures_of(last.beats, Wording(consultation.knowledge, reader)):
            contents[f"{name}-{picture.name}.svg"] = picture.svg
    if pdf:
        contents[f"{name}.pdf"] = pdf_of(page)
    return write_files(folder, contents)
