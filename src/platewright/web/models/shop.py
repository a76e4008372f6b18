"""What goes over the API about the shop itself: settings, tables and charts, the rack, sticks, backups, paired devices."""

from __future__ import annotations

from pydantic import BaseModel, Field

from platewright.shop.document import PlateEntry
from platewright.shop.first import Settings
from platewright.shop.scene import SceneData
from platewright.web.models.jobs import Count

__all__ = [
    "CutAsk", "DialectView", "HelloView", "HoldAsk", "PairAsk", "PairingView",
    "RestoreView", "SettingsView", "StickAnswer", "StickAsk", "StockView", "TomlView",
]  # fmt: skip


class DialectView(BaseModel):
    """A way of writing programs."""

    name: str
    title: str
    about: str


class StickAsk(BaseModel):
    """Which kept file goes onto which stick, under which name."""

    sha256: str
    stick: str
    name: str = ""


class StickAnswer(BaseModel):
    """What was done."""

    said: str


class SettingsView(Settings):
    """The shop's settings, and which revision of them."""

    number: Count = 0


class TomlView(BaseModel):
    """A table or chart of the shop's own as TOML text."""

    name: str = Field(max_length=200)
    toml: str = Field(max_length=1_000_000)
    own: bool = True


class StockView(BaseModel):
    """A plate on the rack: its document as a job takes it, its photo, and what it is in the shop's unit."""

    id: str = ""
    number: Count = 0
    plate: PlateEntry
    photo: str = ""
    picture: SceneData | None = None
    said: str = ""
    note: str = ""


class HoldAsk(BaseModel):
    """Who a plate is held for; empty releases it."""

    owner: str = Field(default="", max_length=80)


class CutAsk(BaseModel):
    """How wide a piece must be to be kept as a drop, as said, and which plate of the layout is cut, from 1."""

    smallest: str = Field(default="60 mm", max_length=80)
    plate: int = Field(default=1, ge=1, le=99)


class HelloView(BaseModel):
    """Who answers: version, whether this device may come in, whether it is the shop's own computer, whether phones may come in,
    and whether that was opened on the page.
    """

    version: str
    paired: bool
    here: bool
    lan: bool
    closable: bool = False


class PairAsk(BaseModel):
    """A one-use code, and what to call the device."""

    code: str = Field(max_length=200)
    name: str = Field(default="phone", max_length=60)


class RestoreView(BaseModel):
    """What was done with a backup, in words, and the folder that was made beside the shop's."""

    said: str
    folder: str


class PairingView(BaseModel):
    """A fresh pairing code as addresses to open and a QR picture (SVG) of the first."""

    urls: list[str]
    qr: str
    minutes: int
