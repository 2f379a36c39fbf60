"""Makes PDF of a page, in a process of its own.

The layout engine of the cause tree and the text library of the PDF writer each bring their own copy of
Pango; two copies in one process end it without a word.
"""

from __future__ import annotations

import logging
import subprocess
import sys

from diagnose.errors import InputError

MISSING_PACKAGE, MISSING_PANGO = 10, 11
MOST_SECONDS = 120


def pdf_of(html: str) -> bytes:
    """Return a page as PDF.

    Parameters
    ----------
    html : str
        A page that needs nothing from elsewhere.

    Raises
    ------
    InputError
        The extra `pdf`, or the library Pango that it uses, is missing; or the page could not be made.
    """
    command = [sys.executable, "-m", "diagnose.reports.pdf"]
    instead = "or print the page from the browser"
    try:
        done = subprocess.run(
            command, input=html.encode("utf-8"), capture_output=True, timeout=MOST_SECONDS, check=False
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        raise InputError(f"the PDF could not be made: {error}", do=f"Try again, {instead}") from error
    if done.returncode == MISSING_PACKAGE:
        do = f"Install it with pip install 'stopped-clock[pdf]', {instead}"
        raise InputError("PDF needs the extra `pdf`, which is not installed", do=do)
    if done.returncode == MISSING_PANGO:
        do = f"Install Pango (on Debian libpango-1.0-0 and libpangoft2-1.0-0), {instead}"
        raise InputError("PDF needs the library Pango, which is not on this machine", do=do)
    if done.returncode != 0 or not done.stdout.startswith(b"%PDF"):
        last = done.stderr.decode("utf-8", "replace").strip().splitlines()[-1:]
        reason = last[0] if last else done.returncode
        raise InputError(f"the PDF could not be made: {reason}", do=f"Try again, {instead}")
    return done.stdout


def main() -> int:
    """Read a page from stdin and write its PDF to stdout."""
    try:
        import weasyprint
    except ImportError:
        return MISSING_PACKAGE
    except OSError:
        return MISSING_PANGO
    # Its remarks on fonts and styles are for whoever writes pages, not for whoever prints one.
    logging.getLogger("weasyprint").setLevel(logging.ERROR)
    html = sys.stdin.buffer.read().decode("utf-8")
    sys.stdout.buffer.write(weasyprint.HTML(string=html).write_pdf())
    return 0


if __name__ == "__main__":
    sys.exit(main())
