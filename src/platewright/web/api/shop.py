"""Routes of the shop: files, rack, tables and charts, settings, backups, sticks, paired devices."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Annotated, Literal
from urllib.parse import quote

from fastapi import APIRouter, File, Form, Request, Response, UploadFile
from fastapi.responses import FileResponse
from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool

from platewright.errors import InputError, RefusedError
from platewright.shop import rack
from platewright.shop.document import PlateEntry
from platewright.shop.folder.devices import Device
from platewright.shop.folder.lock import FolderLock
from platewright.shop.folder.own import keep_own, own_files
from platewright.shop.folder.storage import troubles
from platewright.shop.folder.store import FileInfo, MissingError, Revision, Shop
from platewright.shop.forms.fields import FieldData
from platewright.shop.forms.rates import rates_in
from platewright.shop.forms.spoken import spoken
from platewright.shop.typed import unit_of
from platewright.web.files import checked_upload, served
from platewright.web.guard import COOKIE, is_here
from platewright.web.models import shop as m
from platewright.web.state import Held, Here, ServerState

__all__ = ["router", "stock_view"]

router = APIRouter(prefix="/api", tags=["shop"])
DEVICE_LIFE = 365 * 24 * 3600
"""How long a paired device stays paired [s]."""


# -- files -----------------------------------------------------------------------------------


@router.post("/files", status_code=201)
async def add_file(
    server: Held, file: Annotated[UploadFile, File()], name: Annotated[str, Form(max_length=200)] = ""
) -> FileInfo:
    """Add a photo, drawing or points file; its size and kind are checked before it is kept."""
    data, media = await checked_upload(file)
    return server.shop.put_file(data, name=name or file.filename or "file", media=media)


@router.get("/files/{sha256}", response_class=Response)
def read_file(server: Held, sha256: str, name: str = "") -> Response:
    """Read a kept file; everything but pictures and PDF comes as a download."""
    return served(server.shop.file_info(sha256), server.shop.file(sha256), name=name)


# -- rack ------------------------------------------------------------------------------------


def stock_view(shop: Shop, kept: Revision) -> m.StockView:
    """Return a plate on the rack as the page shows it, its size and weight said in the shop's unit (no unit [-])."""
    from platewright.layout.model import Layout
    from platewright.shop.scene import box_of, layout_items, scene
    from platewright.shop.values import plate_of
    from platewright.stock.plates import mass

    entry = rack.entry_on(kept.doc)
    plate = plate_of(entry)
    picture = scene(layout_items(Layout(plate=plate, parts=(), placements=())), box_of([plate.profile.outer]))
    box, unit = plate.profile.bounds(), unit_of(shop)
    size = spoken(f"{round(box.width, 1):g} × {round(box.height, 1):g} mm", unit)
    weight = spoken(f"{mass(plate):.1f} kg", unit)
    return m.StockView(
        id=kept.info.id, number=kept.number, plate=entry, photo=entry.photo,
        note=kept.doc.get("note", ""), picture=picture,
        said=f"{size}, {entry.thickness} {entry.grade}, {weight}",
    )  # fmt: skip


def _entry(body: m.StockView) -> PlateEntry:
    return body.plate.model_copy(update={"photo": body.photo}) if body.photo else body.plate


@router.get("/stock")
def list_stock(server: Held, gone: bool = False) -> list[m.StockView]:
    """List the plates on the rack, or those taken off it."""
    return [stock_view(server.shop, kept) for kept in server.shop.listing(rack.KIND, removed=gone)]


@router.post("/stock", status_code=201)
def add_stock(server: Held, body: m.StockView) -> m.StockView:
    """Put a plate on the rack, with its photo if it has one."""
    return stock_view(server.shop, rack.put(server.shop, _entry(body), note=body.note))


@router.put("/stock/{ident}")
def change_stock(server: Held, ident: str, body: m.StockView) -> m.StockView:
    """Change a plate on the rack: where it stands, its photo, its outline; a change made from an old state is refused (H001)."""
    kept = rack.change(server.shop, ident, _entry(body), note=body.note, expected=body.number or None)
    return stock_view(server.shop, kept)


@router.post("/stock/{ident}/hold")
def hold_stock(server: Held, ident: str, body: m.HoldAsk) -> m.StockView:
    """Hold a plate for a job or person, or release it with an empty name."""
    return stock_view(server.shop, rack.hold(server.shop, ident, body.owner))


@router.get("/stock/{ident}/life")
def stock_life(server: Held, ident: str) -> list[rack.PlateEvent]:
    """Tell what became of a plate: where from, held, moved, cut for which job, drops made."""
    return rack.life(server.shop, ident)


@router.get("/stock/{ident}/label.pdf", response_class=Response)
def stock_label(
    server: Held, ident: str, paper: str = "letter", unit: Literal["", "mm", "in"] = ""
) -> Response:
    """Print a label for a plate: size, thickness, grade, weight, rack; in the shop's unit if none is named."""
    from platewright.paper.labels import drop_label, labels
    from platewright.shop.values import plate_of, stem_of

    plate = plate_of(rack.entry_on(server.shop.load(rack.KIND, ident).doc))
    made = labels([drop_label(plate, unit=unit or unit_of(server.shop))], paper=paper)
    name = f'inline; filename="{stem_of(plate.name)}-label.pdf"'
    return Response(made, media_type="application/pdf", headers={"content-disposition": name})


@router.delete("/stock/{ident}", status_code=204)
def remove_stock(server: Held, ident: str) -> None:
    """Take a plate off the rack (it can be put back)."""
    server.shop.remove(rack.KIND, ident)


@router.post("/stock/{ident}/back")
def put_back(server: Held, ident: str) -> m.StockView:
    """Put a plate that was taken off back on the rack."""
    server.shop.remove(rack.KIND, ident, removed=False)
    return stock_view(server.shop, server.shop.load(rack.KIND, ident))


@router.post("/jobs/{job}/cut", status_code=201)
def cut_job(server: Held, job: str, body: m.CutAsk) -> list[m.StockView]:
    """Say that a job's plate is cut: it goes off the rack, and the drops its layout leaves go on it."""
    from platewright.units import parse

    smallest = parse(body.smallest, unit="mm", where="smallest")
    return [
        stock_view(server.shop, kept)
        for kept in rack.cut(server.shop, job, smallest=smallest, plate=body.plate)
    ]


# -- tables and charts -----------------------------------------------------------------------


@router.get("/tables")
def list_tables(server: Held) -> list[m.TomlView]:
    """List the tables that ship and the shop's own."""
    from platewright.table.profile import builtin_tables, table_text

    shipped = [m.TomlView(name=n, toml=table_text(n), own=False) for n in builtin_tables()]
    return shipped + [m.TomlView(name=n, toml=t) for n, t in own_files(server.shop, "table").items()]


@router.put("/tables")
def save_table(server: Held, body: m.TomlView) -> m.TomlView:
    """Add or change a table of the shop's own; the file is checked first."""
    from platewright.table.profile import load_table

    name = load_table(body.toml, where="table file").name
    keep_own(server.shop, "table", name, body.toml)
    return m.TomlView(name=name, toml=body.toml)


@router.get("/charts")
def list_charts(server: Held) -> list[m.TomlView]:
    """List the shop's own cut charts (the starter chart always exists)."""
    return [m.TomlView(name=n, toml=t) for n, t in own_files(server.shop, "chart").items()]


@router.put("/charts")
def save_chart(server: Held, body: m.TomlView) -> m.TomlView:
    """Add or change a cut chart; every row is checked against physics first."""
    from platewright.table.chart_file import read_chart

    name = read_chart(body.toml, where="chart file").name
    keep_own(server.shop, "chart", name, body.toml)
    return m.TomlView(name=name, toml=body.toml)


@router.get("/dialects")
def list_dialects(server: Held) -> list[m.DialectView]:
    """List the dialects a program can be written in."""
    from platewright.program.dialects import dialect_names, load_dialect

    mine = [load_dialect(text) for text in own_files(server.shop, "dialect").values()]
    found = [load_dialect(name) for name in dialect_names() if name != "anywhere"]  # that one only reads
    return [m.DialectView(name=d.name, title=d.title, about=d.about) for d in (*mine, *found)]


# -- settings, backups, sticks ---------------------------------------------------------------


@router.get("/settings")
def read_settings(server: Held) -> m.SettingsView:
    """Read the shop's settings."""
    try:
        kept = server.shop.load("settings", "shop")
    except MissingError:
        return m.SettingsView()
    return m.SettingsView.model_validate(kept.doc | {"number": kept.number})


@router.put("/settings")
def save_settings(server: Held, body: m.SettingsView) -> m.SettingsView:
    """Save the shop's settings; rates, tax and what the table cost are checked first."""
    from platewright.shop.forms.burn import read_options
    from platewright.shop.steps.paper import tax_of
    from platewright.shop.values import rates_of
    from platewright.web.api.price import investment_of, share_of

    rates_of(body.rates, {})
    read_options(body.burn, where="burn")
    tax_of(body.tax)
    investment_of(body.investment)
    share_of(body.share)
    doc = body.model_dump(mode="json", exclude={"number"})
    kept = server.shop.save("settings", "shop", doc, expected=body.number, note="settings")
    return m.SettingsView.model_validate(kept.doc | {"number": kept.number})


@router.get("/rates")
def list_rates(server: Held) -> list[FieldData]:
    """List the rates a price is made of: what the program assumes, and how to find your own."""
    return rates_in(unit_of(server.shop))


@router.post("/backup", response_class=FileResponse)
def take_backup(server: Held, _: Here) -> FileResponse:
    """Take a backup of the whole shop as one file."""
    from platewright.shop.folder.backup import back_up

    folder = tempfile.TemporaryDirectory(prefix="platewright-")
    name = f"platewright-{server.shop.now()[:10]}.zip"
    try:
        made = back_up(server.shop, Path(folder.name) / name)
    except BaseException:
        folder.cleanup()
        raise
    lacks = (
        quote(f"These files are damaged in the shop and not in the backup: {'; '.join(made.bad[:20])}.")
        if made.bad
        else ""
    )
    return FileResponse(
        made.path, media_type="application/zip", filename=name, background=BackgroundTask(folder.cleanup),
        headers={"x-platewright-said": lacks},
    )  # fmt: skip


@router.post("/restore")
async def restore_backup(
    server: Held, _: Here, request: Request, how: Literal["beside", "replace"] = "beside"
) -> m.RestoreView:
    """Put a backup (the request's body) back: beside the shop, or in its place with the shop kept as a folder."""
    with tempfile.TemporaryDirectory(prefix="platewright-") as scratch:
        source = Path(scratch) / "backup.zip"
        with troubles(), source.open("wb") as handle:
            async for chunk in request.stream():
                handle.write(chunk)
        return await run_in_threadpool(
            _put_back, server, source, how, getattr(request.app.state, "lock", None)
        )


def _put_back(server: ServerState, source: Path, how: str, lock: FolderLock | None) -> m.RestoreView:
    from platewright.shop.folder.backup import exchange, put_beside
    from platewright.shop.folder.ledger import read

    if how == "beside":
        made = put_beside(source, server.shop)
        message = f"The backup is a shop of its own now, in {made.folder}. This shop is as it was."
        return m.RestoreView(said=message + _lacks(made.bad), folder=str(made.folder))
    for work in server.runner.listing():
        server.runner.cancel(work.id)
    if lock is not None:
        lock.free()  # an open file would hold the folder's name on Windows
    try:
        made = exchange(source, server.shop)
    finally:
        if lock is not None:
            lock.take()
    server.board.tell("reset")
    given = read(server.shop).given()
    message = f"The backup stands in this shop's place. The shop as it was is kept whole in {made.folder}."
    message += f" Quotes go on after Q{given['Q']:04d}, invoices after I{given['I']:04d}: those numbers are given out."
    return m.RestoreView(said=message + _lacks(made.bad), folder=str(made.folder))


def _lacks(bad: tuple[str, ...]) -> str:
    return (
        f" Damaged in the backup and left out: {'; '.join(bad[:20])}. Add these files again." if bad else ""
    )


@router.get("/sticks")
def list_sticks(_: Here) -> list[str]:
    """List the memory sticks mounted on this computer, by name."""
    from platewright.web.sticks import sticks

    return sorted(sticks())


@router.post("/sticks")
def write_stick(server: Held, _: Here, body: m.StickAsk) -> m.StickAnswer:
    """Write a program onto a mounted stick, read it back, and compare."""
    from platewright.web.sticks import write

    info = server.shop.file_info(body.sha256)
    write(body.stick, body.name or info.name, server.shop.file(body.sha256))
    return m.StickAnswer(said=f"{body.name or info.name} is on {body.stick}, read back and the same.")


# -- cards -----------------------------------------------------------------------------------


@router.get("/cards.pdf", response_class=Response)
def card_sheet(paper: str = "letter", frame: bool = False, pages: int = 1) -> Response:
    """Print the marker cards a photo needs beside the template."""
    from platewright.paper.cards import cards, small_part_frame

    if not 1 <= pages <= 4:
        raise InputError(f"{pages} pages of cards are asked for.", where="pages", allowed="1 to 4")
    made = small_part_frame(paper=paper) if frame else cards(paper=paper, pages=pages)
    return Response(
        made, media_type="application/pdf", headers={"content-disposition": 'inline; filename="cards.pdf"'}
    )


# -- pairing ---------------------------------------------------------------------------------


def _hello(server: ServerState, paired: bool, here: bool) -> m.HelloView:
    from platewright import __version__

    return m.HelloView(
        version=__version__,
        paired=paired or here,
        here=here,
        lan=server.door.lan,
        closable=server.door.closable,
    )


@router.get("/hello")
def hello(server: Held, request: Request) -> m.HelloView:
    """Say who answers, and whether this device may come in (no data of the shop)."""
    here = is_here(request.client.host if request.client else "")
    return _hello(server, server.devices.known(request.cookies.get(COOKIE, "")), here)


@router.post("/door")
async def open_door(server: Held, request: Request, _: Here) -> m.HelloView:
    """Let paired phones in while the page runs: it listens on this computer's network too."""
    await server.door.open(request.app)
    return _hello(server, True, True)


@router.delete("/door", status_code=204)
async def close_door(server: Held, _: Here) -> None:
    """Listen on this computer alone again; paired phones stay paired."""
    await server.door.close()


@router.post("/pairing")
def new_pairing(server: Held, _: Here) -> m.PairingView:
    """Make a one-use code for a phone, as addresses and a QR picture."""
    import segno

    if not server.door.lan:
        raise RefusedError(
            "The page is not open to phones.", do="Press 'Let phones in' first, on your own network only."
        )
    code = server.devices.new_code()
    urls = [f"http://{address}/pair#{code}" for address in server.door.addresses]
    if not urls:
        raise RefusedError("This computer is on no network.", do="Join the shop's network, then start again.")
    return m.PairingView(urls=urls, qr=segno.make(urls[0]).svg_inline(scale=6, border=3), minutes=10)


@router.post("/pair")
def pair(server: Held, request: Request, body: m.PairAsk, response: Response) -> m.HelloView:
    """Trade a one-use code for this device's cookie."""
    peer = request.client.host if request.client else ""
    token = server.devices.pair(body.code, name=body.name, peer=peer)
    response.set_cookie(COOKIE, token, max_age=DEVICE_LIFE, httponly=True, samesite="strict", path="/")
    return _hello(server, True, False)


@router.get("/devices")
def list_devices(server: Held, _: Here) -> list[Device]:
    """List the devices that may come in."""
    return server.devices.listing()


@router.delete("/devices/{ident}", status_code=204)
def revoke(server: Held, _: Here, ident: str) -> None:
    """Shut a device out."""
    server.devices.revoke(ident)
    server.board.tell("devices")  # wakes every open stream: those of this device end
