"""The errors of the project: each says what is wrong, where, and what to do."""

from __future__ import annotations

from dataclasses import dataclass


class StoppedClockError(Exception):
    """Something a person can put right; shown as one sentence, never as a traceback.

    Parameters
    ----------
    what : str
        What is wrong, with the value that was given.
    where : str, optional
        File, line and column, finding, or second of the recording.
    do : str, optional
        What is allowed, or what to do now.
    """

    exit_code = 3

    def __init__(self, what: str, where: str = "", do: str = "") -> None:
        self.what = what
        self.where = where
        self.do = do
        super().__init__(str(self))

    def __str__(self) -> str:
        head = f"{self.where}: {self.what}" if self.where else self.what
        if not self.do:
            return head
        return f"{head} {self.do}" if head.endswith((".", "?", "!")) else f"{head}. {self.do}"


class UsageError(StoppedClockError):
    """The command or call was used in a way it does not know (exit code 2)."""

    exit_code = 2


class InputError(StoppedClockError):
    """An input could not be read (exit code 3)."""


@dataclass(frozen=True, slots=True, order=True)
class Fault:
    """One fault in a file of knowledge or a case.

    Parameters
    ----------
    file : str
        Path as the reader should see it.
    line, column : int
        Counted from 1; 0 where the whole file is meant.
    what : str
        What is wrong and what is allowed.
    """

    file: str
    line: int
    column: int
    what: str

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}:{self.column}" if self.line else self.file
        return f"{place}: {self.what}"


class KnowledgeError(InputError):
    """All faults found in the files read, together."""

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = sorted(faults)
        count = len(self.faults)
        self.what = f"{count} fault{'s' if count != 1 else ''} found"
        self.where = ""
        self.do = ""
        Exception.__init__(self, str(self))

    def __str__(self) -> str:
        return "\n".join(str(fault) for fault in self.faults)
