"""What the shop has of its own as files: tables, charts and dialects, each kept by its name."""

from __future__ import annotations

from typing import Literal

from platewright.shop.folder.store import Shop

__all__ = ["keep_own", "own_files"]

OwnKind = Literal["table", "chart", "dialect"]


def own_files(shop: Shop, kind: OwnKind) -> dict[str, str]:
    """Return the text of each of the shop's own tables, charts or dialects by its name (no unit [-])."""
    return {str(r.doc["name"]): str(r.doc["toml"]) for r in shop.listing(kind)}


def keep_own(shop: Shop, kind: OwnKind, name: str, toml: str, *, note: str = "") -> None:
    """Keep a table, chart or dialect of the shop's own under its name (no unit [-])."""
    ident = "".join(c if c.isalnum() else "-" for c in name.lower())[:60]
    shop.save(kind, ident, {"name": name, "toml": toml}, note=note or f"{kind} saved")
