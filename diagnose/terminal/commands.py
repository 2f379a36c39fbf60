"""The commands; no logic here, only what is given and where it goes."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import click

from diagnose import __version__
from diagnose.errors import StoppedClockError
from diagnose.terminal.hearing_commands import beat, calibrate, listen
from diagnose.terminal.options import AS_JSON, CASE, CUSTOMER, OUT
from diagnose.terminal.reckoning import Questions

STOPPED_BY_USER = 130


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, message="Stopped Clock %(version)s")
def diagnose() -> None:
    """Find out why a pendulum clock stops, and put it right.

    Results go to stdout, talk to stderr. Exit codes: 0 done, 1 done and the answer is no, 2 wrong usage,
    3 an input could not be read, 130 stopped by the user.
    """


@diagnose.command()
@click.option("--door", help="stops, fitting, moved, checking, part or alarm.")
@click.option("--where", type=click.Choice(["call", "visit", "workshop"]), help="Where you are; call by default.")
@click.option("--clock", "clock_id", default="clock", show_default=True, help="Name of the clock.")
@click.option("--staff", default="", help="Your initials.")
@click.option("--resume", metavar="ID", help="Go on with a consultation that was kept.")
@click.option("--say", "said", default="", metavar="WORDS", help="Begin with what is known: 'limps, runs 2 min'.")
@CUSTOMER
def ask(
    door: str | None, where: str | None, clock_id: str, staff: str, resume: str | None, said: str, customer: bool
) -> None:
    """Play a consultation: say, look, listen, mend, prove."""
    from diagnose.terminal import doing

    doing.ask(door, where, clock_id, staff, resume, customer, said)


@diagnose.command()
@CASE
@AS_JSON
@click.option("--suspect", metavar="CAUSE", help="Second opinion on a cause (its id or words).")
@click.option("--against", metavar="CAUSE", help="Why the first place and not this cause.")
@click.option("--part", metavar="PART", help="Before a part is sent: the chance that the clock needs it.")
@click.option("--route", is_flag=True, help="Where to do it: chance, time, money, days, and what to bring.")
@CUSTOMER
def rank(
    case: Path, as_json: bool, suspect: str | None, against: str | None, part: str | None, route: bool, customer: bool
) -> None:
    """Rank the causes of a case file and say the next step."""
    from diagnose.terminal import doing

    doing.rank(case, as_json, suspect, against, part, route, customer)


@diagnose.command()
@click.option("--block", help="Thickness of the top block, such as '2.0 mm'.")
@click.option("--block-tool", default="plastic-caliper", show_default=True, help="`?` lists the tools.")
@click.option("--slot", help="Width of the slot, such as '2.1 mm'.")
@click.option("--slot-tool", default="plastic-caliper", show_default=True)
@click.option("--mouth", help="Width of the slot at its mouth.")
@click.option("--root", help="Width of the slot at its root.")
@click.option("--pin", help="Taper pin: thin end, thick end, length, such as '1.0 1.6 20 mm'.")
@click.option("--hole", help="Hole through the post.")
@click.option("--post", help="Width of the post across the pin.")
@AS_JSON
def fit(
    block: str | None,
    block_tool: str,
    slot: str | None,
    slot_tool: str,
    mouth: str | None,
    root: str | None,
    pin: str | None,
    hole: str | None,
    post: str | None,
    as_json: bool,
) -> None:
    """Say whether a block goes into a slot, or a pin through a post, from what they were measured with."""
    from diagnose.terminal import fitting

    sys.exit(fitting.fit(block, block_tool, slot, slot_tool, mouth, root, pin, hole, post, as_json))


@diagnose.command()
@click.argument("times", nargs=-1)
@click.option("--file", "file", type=click.Path(path_type=Path), help="Text file with one stop time a line.")
@click.option("--ran", is_flag=True, help="Times such as 1:35 say how long it ran, not what the hands show.")
@click.option("--wheels", metavar="64/8,60/8", help="Train from the center wheel on: each wheel over its pinion.")
@click.option("--great", metavar="96/8", help="Great wheel over the center pinion.")
@click.option("--read-to", type=click.FloatRange(0.1, 60), metavar="MIN", help="The dial was read to so many minutes.")
@click.option("--hands-set", is_flag=True, help="The hands were set between the stops.")
@AS_JSON
@CUSTOMER
def stops(
    times: tuple[str, ...],
    file: Path | None,
    ran: bool,
    wheels: str | None,
    great: str | None,
    read_to: float | None,
    hands_set: bool,
    as_json: bool,
    customer: bool,
) -> None:
    """Say from TIMES at which it stopped which wheel or meeting of hands has their period."""
    from diagnose.terminal import stopping

    sys.exit(stopping.stops(times, file, ran, wheels, great, read_to, hands_set, as_json, customer))


@diagnose.command()
@click.argument("part")
@click.option("--size", "sizes", multiple=True, help="A size, such as 'thickness=0.10 mm by micrometer'.")
@click.option("--tool", default="plastic-caliper", show_default=True, help="What sizes without `by` were taken with.")
@click.option("--stock", metavar="FILE", help="Your stock list (CSV); remembered for this part.")
@click.option("--columns", default="", help="Which heading is which, such as thickness=dicke,width=breite; remembered.")
@click.option("--unit", default="", help="Unit of sizes whose cell and heading name none.")
@click.option("--rows", default="", metavar="HEADING=TEXT", help="Only the rows that say so are of this part.")
@click.option("--mass", type=float, help="Mass of the pendulum in kg, for the change of rate.")
@click.option("--pendulum", type=float, help="Length of the pendulum in mm, for the change of rate.")
@AS_JSON
def part(
    part: str,
    sizes: tuple[str, ...],
    tool: str,
    stock: str | None,
    columns: str,
    unit: str,
    rows: str,
    mass: float | None,
    pendulum: float | None,
    as_json: bool,
) -> None:
    """Find which part of your own stock list is the same as the one in hand."""
    from diagnose.terminal import which_part

    sys.exit(which_part.part(part, sizes, tool, stock, columns, unit, rows, mass, pendulum, as_json))


@diagnose.command()
@click.argument("notes", nargs=-1)
@click.option("--file", "file", type=click.Path(path_type=Path), help="Text file with one note a line.")
@click.option("--family", default="floor", show_default=True, help="Kind of clock.")
@click.option("--beats", type=click.FloatRange(600, 40_000), metavar="N", help="Beats per hour of the clock's train.")
@click.option("--pitch", help="Travel of the nut in one turn, such as '0.7 mm'.")
@click.option("--rod", default="steel", show_default=True, help="What the rod is made of.")
@AS_JSON
@CUSTOMER
def regulate(
    notes: tuple[str, ...],
    file: Path | None,
    family: str,
    beats: float | None,
    pitch: str | None,
    rod: str,
    as_json: bool,
    customer: bool,
) -> None:
    """Say from NOTES such as '2031-03-08 09:00 3 min fast' and 'turned 1/2 down' how to turn the rating nut."""
    from diagnose.terminal import regulating

    sys.exit(regulating.regulate(notes, file, family, beats, pitch, rod, as_json, customer))


@diagnose.group(cls=Questions)
def reckon() -> None:
    """Answer a question with a number: pendulum, train, nut, shim, reserve, spring, warmth, place, swing."""


@diagnose.command()
@click.argument("remedy")
@CUSTOMER
def walk(remedy: str, customer: bool) -> None:
    """Walk a remedy one step a screen."""
    from diagnose.terminal import doing

    doing.walk(remedy, customer)


@diagnose.command()
@CASE
@OUT
@click.option("--pdf", is_flag=True, help="Also as PDF (needs the extra `pdf`).")
@CUSTOMER
def report(case: Path, out: Path, pdf: bool, customer: bool) -> None:
    """Write the cause tree as SVG, HTML and JSON."""
    from diagnose.terminal import doing

    doing.report(case, out, pdf, customer)


@diagnose.command()
@click.argument("remedy")
@OUT
@click.option("--text", is_flag=True, help="Print it as text to send, a message for each step.")
@click.option("--pdf", is_flag=True, help="Also as PDF (needs the extra `pdf`).")
def sheet(remedy: str, out: Path, text: bool, pdf: bool) -> None:
    """Write a page or two for the customer: large type, drawings, STOP IF."""
    from diagnose.terminal import doing

    doing.sheet(remedy, out, text, pdf)


@diagnose.command()
@click.option("--port", default=8765, show_default=True, help="Port on this machine.")
@click.option("--case", "case", type=click.Path(path_type=Path), help="Open this case file as a page.")
@click.option("--browser/--no-browser", default=False, help="Open the page in the browser.")
def serve(port: int, case: Path | None, browser: bool) -> None:
    """Serve the page on this machine only."""
    from diagnose.terminal import doing

    doing.serve(port, case, browser)


@diagnose.command()
@click.option("--seed", type=int, help="Which exercise; a new one each time without it.")
@click.option("--case", "case", type=click.Path(path_type=Path), help="Exercise on this case file.")
def exercise(seed: int | None, case: Path | None) -> None:
    """Find a hidden fault yourself, and see how you asked."""
    from diagnose.terminal import exercising

    exercising.exercise(seed, case)


@diagnose.command()
@click.argument("clock", required=False)
@AS_JSON
@click.option("--export", metavar="ID", help="Print a kept consultation as a case file.")
def cases(clock: str | None, as_json: bool, export: str | None) -> None:
    """List the consultations kept on this machine."""
    from diagnose.terminal import doing

    doing.cases(clock, as_json, export)


@diagnose.group()
def knowledge() -> None:
    """Check, show and draw the knowledge."""


@knowledge.command("check")
@click.argument("folder", required=False, type=click.Path(path_type=Path))
@click.option("--only", metavar="CHECK", help="One check by its name.")
@AS_JSON
def check_knowledge(folder: Path | None, only: str | None, as_json: bool) -> None:
    """Read all knowledge; tell every fault with file, line and column, and every doubt."""
    from diagnose.terminal import knowing

    sys.exit(knowing.check(folder, only, as_json))


@knowledge.command("show")
@click.argument("id_", metavar="ID")
@click.option("--file", "as_file", is_flag=True, help="As its file says it.")
def show_knowledge(id_: str, as_file: bool) -> None:
    """Show the page of one entry."""
    from diagnose.terminal import knowing

    knowing.show(id_, as_file)


@knowledge.command("graph")
@click.option(
    "--part", metavar="SUBSYSTEM", help="One part of the clock, such as crutch: also what is told apart well."
)
@OUT
def graph_knowledge(part: str | None, out: Path) -> None:
    """Draw which findings separate which causes."""
    from diagnose.terminal import knowing

    knowing.graph(out, part)


@diagnose.command()
@OUT
def demo(out: Path) -> None:
    """Play the main job on a demo case."""
    from diagnose.terminal import demonstration

    demonstration.demo(out)


for command in (beat, calibrate, listen):
    diagnose.add_command(command)


def main(arguments: list[str] | None = None) -> None:
    """Run a command; whatever a person can put right becomes one sentence and an exit code."""
    try:
        diagnose.main(args=arguments, prog_name="diagnose", standalone_mode=False)
    except click.exceptions.Exit as end:
        sys.exit(end.exit_code)
    except click.ClickException as error:
        error.show()
        sys.exit(2)
    except (click.Abort, KeyboardInterrupt):
        sys.exit(STOPPED_BY_USER)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0)
    except StoppedClockError as error:
        click.echo(str(error), err=True)
        sys.exit(error.exit_code)
    except Exception as error:
        if os.environ.get("STOPPED_CLOCK_TRACE"):
            raise
        click.echo(
            f"The program itself failed: {type(error).__name__}: {error}. What was answered is kept. "
            "Set STOPPED_CLOCK_TRACE=1 and report what it prints.",
            err=True,
        )
        sys.exit(StoppedClockError.exit_code)


def open_page() -> None:
    """Open the page in the browser (the command `stopped-clock`)."""
    main(["serve", "--browser", *sys.argv[1:]])
