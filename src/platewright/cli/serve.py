"""Open the page on a shop folder. The page listens on this machine alone until phones are let in there, or with --lan.

Then phones on the same network may open it after pairing with a code; the connection is not encrypted, so
use your own network only. Sizes on the page are in mm or in, as the shop chooses.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from platewright.cli.common import Outcome, declare

EXAMPLES = """examples:
  platewright serve --shop my-shop
  platewright serve --shop my-shop --lan --port 8730"""


def options(parser: argparse.ArgumentParser) -> None:
    """Add this command's options."""
    declare(
        parser,
        ("--shop FOLDER", "the shop's folder, made if it is not there (default: platewright-shop)", {"default": Path("platewright-shop")}),
        ("--port N", "port to listen on (default 8730)", {"type": int, "default": 8730}),
        ("--put-back ZIP", "first put this backup in the folder's place; what is there is kept, renamed", {"type": Path}),
        ("--lan", "let paired phones on this network in from the start (the page can do so later)"),
        ("--no-browser", "do not open a browser window"),
    )  # fmt: skip


def run(args: argparse.Namespace) -> Outcome:
    """Serve until stopped."""
    from platewright.web.server import serve

    if args.put_back is not None:
        from platewright.shop.folder.backup import replace
        from platewright.shop.folder.lock import FolderLock

        if args.shop.is_dir():
            FolderLock(args.shop).free()  # refuses while a server has it open
        made = replace(args.put_back, args.shop)
        print(
            f"The backup stands in the shop's place now ({made.folder.name} beside it is the shop as it was)."
        )
        for line in made.bad:
            print(f"left out: {line}")
    serve(args.shop, port=args.port, lan=args.lan, open_browser=not args.no_browser)
    return Outcome(["stopped"])
