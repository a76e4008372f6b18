"""The one shape of an error over the API: ``{code, what, where, allowed, do, values}``, and how each is made."""

from __future__ import annotations

import sqlite3
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import BaseModel, ValidationError
from starlette.exceptions import HTTPException

from platewright.errors import PlatewrightError, RefusedError
from platewright.findings import finding
from platewright.report import write_report
from platewright.shop.folder.storage import StorageError, trouble
from platewright.shop.folder.store import ConflictError, MissingError
from platewright.shop.forms.spoken import in_units
from platewright.shop.typed import unit_of

__all__ = ["OnlyHereError", "Problem", "TooBigError", "install", "problem", "shape_of"]


class Problem(BaseModel):
    """What went wrong: a code of the catalogue, a sentence, the field or place, what is allowed, what to do."""

    code: str
    what: str
    where: str = ""
    allowed: str = ""
    do: str = ""
    values: dict[str, Any] = {}


class TooBigError(PlatewrightError):
    """Something uploaded is bigger than allowed (HTTP 413)."""


class OnlyHereError(RefusedError):
    """Something only the shop's own computer may do was asked over the network (HTTP 409)."""


def problem(code: str, *, where: str = "", allowed: str = "", **values: Any) -> dict[str, Any]:
    """Return a problem from the catalogue as plain JSON values."""
    made = finding(code, **values)
    return Problem(
        code=code, what=made.text, where=where, allowed=allowed, do=made.do,
        values={k: v for k, v in values.items() if k not in ("what", "do")},
    ).model_dump()  # fmt: skip


def shape_of(wrong: PlatewrightError) -> tuple[int, dict[str, Any]]:
    """Return the HTTP status and the problem of an error of ours."""
    shape: Any = wrong.as_dict()
    if isinstance(wrong, ConflictError):
        return 409, problem("H001", current=wrong.current, kept=wrong.kept, **shape)
    if isinstance(wrong, MissingError):
        return 404, problem("H002", **shape)
    if isinstance(wrong, TooBigError):
        return 413, problem("H006", limit=wrong.allowed, where=wrong.where)
    if isinstance(wrong, OnlyHereError):
        return 409, problem("H012", where=wrong.where)
    if isinstance(wrong, StorageError):
        return 503, problem("H005", **shape)
    if isinstance(wrong, RefusedError):
        return 409, problem("H005", **shape)
    return 422, problem("H004", **shape)


def _ours(request: Request, wrong: Exception) -> JSONResponse:
    assert isinstance(wrong, PlatewrightError)
    status, shape = shape_of(wrong)
    return JSONResponse(in_units(shape, unit_of(request.app.state.server.shop)), status)


def _field(_: Request, wrong: Exception) -> JSONResponse:
    assert isinstance(wrong, RequestValidationError)
    first = wrong.errors()[0]
    where = ".".join(str(part) for part in first["loc"][1:])
    shape = problem("H003", where=where, what=f"{first['msg']}.", do="Put it right and try again.")
    return JSONResponse(shape, 422)


def _inner(_: Request, wrong: Exception) -> JSONResponse:
    """Name the field of a document within a request that does not fit."""
    assert isinstance(wrong, ValidationError)
    first = wrong.errors(include_url=False, include_context=False, include_input=False)[0]
    where = ".".join(str(part) for part in first["loc"])
    return JSONResponse(
        problem("H003", where=where, what=f"{first['msg']}.", do="Put it right and try again."), 422
    )


def _http(_: Request, wrong: Exception) -> JSONResponse:
    assert isinstance(wrong, HTTPException)
    if wrong.status_code == 413:
        return JSONResponse(problem("H006", limit="size"), 413)
    code = "H002" if wrong.status_code == 404 else "H005"
    what = "There is nothing at this address." if wrong.status_code == 404 else f"{wrong.detail}."
    return JSONResponse(problem(code, what=what, do="Go back to the page."), wrong.status_code, wrong.headers)


def _half_letter(_: Request, wrong: Exception) -> JSONResponse:
    what = "A text holds half a letter, which no file or paper can keep."
    return JSONResponse(problem("H004", what=what, do="Type the text anew."), 422)


def _disk(request: Request, wrong: Exception) -> JSONResponse:
    error = trouble(wrong)
    return _fault(request, wrong) if error is None else _ours(request, error)


def _fault(request: Request, wrong: Exception) -> JSONResponse:
    """Write what nobody foresaw into a report in the shop's folder, and say so."""
    shop = request.app.state.server.shop
    request_line = f"{request.method} {request.url.path}?{request.url.query}"
    made = write_report(wrong, command=request_line, moment=shop.now(), folder=shop.folder / "reports")
    where = f" It is written down in {made}." if made else ""
    return JSONResponse(problem("H010", what=f"{type(wrong).__name__}.{where}"), 500)


def install(app: FastAPI) -> None:
    """Make every error of an app come in the one shape."""
    app.add_exception_handler(PlatewrightError, _ours)
    app.add_exception_handler(RequestValidationError, _field)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(ValidationError, _inner)
    app.add_exception_handler(UnicodeEncodeError, _half_letter)
    app.add_exception_handler(sqlite3.Error, _disk)
    app.add_exception_handler(OSError, _disk)
    app.add_exception_handler(Exception, _fault)
