"""Open the page on a shop folder. The page listens on this machine alone until phones are let in there, or with --lan.

Then phones on the same network may open it after pairing with a code; the connection is not encrypted, so
use your own network only. Sizes on the page are in mm or in, as the shop chooses.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from platewright.cli.common import Outcome

EXAMPLES = """examples:
  platewright serve --shop my-shop
  platewright serve --shop my-shop --lan --port 8730"""


def options(parser: argparse.ArgumentParser) -> None:
    """Add this command's options."""
    parser.add_argument(
        "--shop",
        type=Path,
        default=Path("platewright-shop"),
        metavar="FOLDER",
        help="the shop's folder, made if it is not there (default: platewright-shop)",
    )
    parser.add_argument(
        "--port", type=int, default=8730, metavar="N", help="port to listen on (default 8730)"
    )
    parser.add_argument(
        "--put-back",
        type=Path,
        metavar="ZIP",
        help="first put this backup in the folder's place; what is there is kept, renamed",
    )
    parser.add_argument(
        "--lan",
        action="store_true",
        help="let paired phones on this network in from the start (the page can do so later)",
    )
    parser.add_argument("--no-browser", action="store_true", help="do not open a browser window")


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
