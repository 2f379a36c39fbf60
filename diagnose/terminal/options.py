"""Options that several commands share."""

from __future__ import annotations

from pathlib import Path

import click

SIDES = click.Choice(["left", "right"])
CASE = click.argument("case", type=click.Path(path_type=Path))
AS_JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON instead of text.")
CUSTOMER = click.option("--customer", is_flag=True, help="Use the words a customer follows.")
NOMINAL = click.option("--nominal", type=float, metavar="N", help="Beats per hour of the clock's train.")
DRAWN_TO = click.option("--drawn-to", type=SIDES, help="Side the bob was drawn to and let go from.")
DEVICE = click.option("--device", default="", metavar="NAME", help="Phone it was recorded with (`diagnose calibrate`).")
OUT = click.option("--out", type=click.Path(path_type=Path), default=Path("out"), show_default=True, help="Folder.")
PICTURES = click.option("--pictures", type=click.Path(path_type=Path), help="Write its pictures (SVG) to this folder.")
