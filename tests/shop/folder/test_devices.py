"""Pairing codes are one-use and short-lived; tokens are kept as hashes and can be revoked."""

from __future__ import annotations

from pathlib import Path

import pytest

from platewright.errors import RefusedError
from platewright.shop.folder.devices import CODE_LIFE, MAX_TRIES, Devices
from platewright.shop.folder.store import MissingError, Shop


def test_a_code_works_once_and_not_too_late(tmp_path: Path) -> None:
    now = [0.0]
    with Shop(tmp_path) as shop:
        devices = Devices(shop, clock=lambda: now[0])
        code = devices.new_code()
        token = devices.pair(code, name="phone")
        assert devices.known(token)
        with pytest.raises(RefusedError, match="wrong, used"):
            devices.pair(code, name="phone")
        late = devices.new_code()
        now[0] += CODE_LIFE
        with pytest.raises(RefusedError):
            devices.pair(late, name="phone")


def test_guessing_throws_the_codes_away(tmp_path: Path) -> None:
    with Shop(tmp_path) as shop:
        devices = Devices(shop)
        code = devices.new_code()
        for n in range(MAX_TRIES):
            with pytest.raises(RefusedError):
                devices.pair(f"guess {n}", name="x")
        with pytest.raises(RefusedError):
            devices.pair(code, name="x")


def test_the_token_itself_is_nowhere_and_a_revoked_one_is_shut_out(tmp_path: Path) -> None:
    with Shop(tmp_path) as shop:
        devices = Devices(shop)
        token = devices.pair(devices.new_code(), name="phone")
        rows = [tuple(r) for r in shop.database.connection().execute("SELECT * FROM devices")]
        assert token not in str(rows)
        [device] = devices.listing()
        devices.revoke(device.id)
        assert not devices.known(token)
        assert devices.listing() == []
        with pytest.raises(MissingError):
            devices.revoke(device.id)
