"""The built page: its files, the entry under every page address, and what is said when it was not built."""

from __future__ import annotations

from pathlib import Path

from fastapi import APIRouter, Response
from fastapi.responses import FileResponse, JSONResponse

from platewright.shop.folder.store import MissingError
from platewright.web.problems import problem

__all__ = ["STATIC", "router"]

STATIC = Path(__file__).with_name("static")
router = APIRouter(include_in_schema=False)
KINDS = {
    ".js": "text/javascript",
    ".css": "text/css",
    ".svg": "image/svg+xml",
    ".html": "text/html",
    ".woff2": "font/woff2",
    ".webmanifest": "application/manifest+json",
}


@router.get("/assets/{name}")
def asset(name: str) -> Response:
    """Serve one built file; names carry a hash of what is in them, so they may be kept for ever."""
    path = STATIC / "assets" / Path(name).name
    if not path.is_file():
        raise MissingError("The page has no such file.", do="Reload the page.")
    return FileResponse(
        path,
        media_type=KINDS.get(path.suffix, "application/octet-stream"),
        headers={"cache-control": "public, max-age=31536000, immutable"},
    )


@router.get("/icon.svg")
def icon() -> Response:
    """Serve the page's icon."""
    return FileResponse(STATIC / "icon.svg", media_type="image/svg+xml")


@router.get("/")
@router.get("/pair")
def entry() -> Response:
    """Serve the page; which view it shows is in the address's fragment."""
    if not (STATIC / "index.html").is_file():
        return JSONResponse(problem("H011"), 503)
    return FileResponse(STATIC / "index.html", headers={"cache-control": "no-cache"})
