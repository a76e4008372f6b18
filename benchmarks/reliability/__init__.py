"""What a kill, a full disk and twenty windows do to a shop: nothing lost, nothing half, no number twice.

Each piece of work runs in a forked process of its own that says what it has acknowledged; it is killed with SIGKILL, the
shop is opened again, and what is there is held against what was said, by reading the tables and files themselves.
``kills``: at random moments. ``placed``: at each rename, link and fsync the program itself makes (those inside SQLite are met
by the random ones). ``full``: on a file system with room for so much and no more. ``windows``: twenty processes at once.
Needs a system with fork; a small tmpfs where it may be mounted, else a limit on the size of files.
"""

from __future__ import annotations

import contextlib
import os
import random
import resource
import shutil
import signal
import subprocess
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from benchmarks.figure import Figure
from benchmarks.reliability.work import DAY, LINES, WORK, Say, damage, ended, forked, fresh, issue_one, tidied
from platewright.shop.folder import ledger
from platewright.shop.folder.backup import back_up, exchange
from platewright.shop.folder.ledger import Paper
from platewright.shop.folder.store import ConflictError, Shop


def random_kills(home: Path, count: int, seed: int) -> tuple[Counter[str], int]:
    """Kill work of each kind at random moments; return the damage, and how much was acknowledged [count]."""
    chance, bad, acknowledged = random.Random(seed), Counter[str](), 0
    folder = fresh(home)
    given = ""
    for n in range(count):
        kind = list(WORK)[n % len(WORK)]
        child, ours = forked(lambda say, kind=kind: WORK[kind](folder, say))  # type: ignore[misc]
        time.sleep(chance.expovariate(1 / 0.05) if chance.random() < 0.8 else chance.uniform(0, 0.4))
        os.kill(child, signal.SIGKILL)
        said = ended(child, ours)
        acknowledged += len(said)
        bad += damage(folder, said)
        for number in (line.split()[1] for line in said if line.startswith("number ")):
            bad["doubled"] += (
                number <= given
            )  # given out before, perhaps to a customer, then lost to a restore
            given = max(given, number)
        if n % 30 == 29:
            tidied(home)
    return bad, acknowledged


# -- kills placed at each step ----------------------------------------------------------------


class _Killer:
    """Count the program's own renames, links and fsyncs, and die before or after the one asked for."""

    def __init__(self, moment: int, *, after: bool) -> None:
        self.moment, self.after, self.count = moment, after, 0

    def wrap(self, real: Callable[..., object]) -> Callable[..., object]:
        def stepped(*args: object, **more: object) -> object:
            self.count += 1
            if self.count == self.moment and not self.after:
                os.kill(os.getpid(), signal.SIGKILL)
            made = real(*args, **more)
            if self.count == self.moment:
                os.kill(os.getpid(), signal.SIGKILL)
            return made

        return stepped


STEPS: dict[str, Callable[[Path, Say], None]] = {
    "backup": lambda folder, say: _with(
        folder, lambda shop: back_up(shop, folder.with_name(f"box-{os.getpid()}.zip"))
    ),
    "restore": lambda folder, say: _with(folder, lambda shop: exchange(folder.with_name("first.zip"), shop)),
    "issue": lambda folder, say: _with(folder, lambda shop: say(f"number {issue_one(shop)}")),
    "save": lambda folder, say: _with(
        folder,
        lambda shop: say(f"file {shop.put_file(os.urandom(9000), name='x', media='image/png').sha256}"),
    ),
}


def _with(folder: Path, work: Callable[[Shop], object]) -> None:
    with Shop(folder) as shop:
        work(shop)


def placed_kills(home: Path) -> tuple[Counter[str], int]:
    """Kill each piece of work before and after each of its steps; return the damage, and how many kills [count]."""
    bad, kills = Counter[str](), 0
    folder = fresh(home)
    for work in STEPS.values():
        for after in (False, True):
            moment = 0
            while True:
                moment += 1

                def stepped(say: Say, work=work, moment=moment, after=after) -> None:  # type: ignore[no-untyped-def]
                    killer = _Killer(moment, after=after)
                    for name in ("fsync", "rename", "replace", "link"):
                        setattr(os, name, killer.wrap(getattr(os, name)))
                    work(folder, say)
                    say("finished")

                said = ended(*forked(stepped))
                bad += damage(folder, said)
                if any(line.startswith(("finished", "refused", "told", "traceback")) for line in said):
                    bad["refused"] += any(line.startswith(("refused", "told")) for line in said)
                    break
                kills += 1
        tidied(home)
    return +bad, kills


# -- full disks -------------------------------------------------------------------------------


@contextlib.contextmanager
def small_disk(home: Path, size: int) -> Iterator[Path | None]:
    """Give a file system of so many bytes, None where none may be mounted."""
    spot = home / "small"
    spot.mkdir(exist_ok=True)
    mounted = os.geteuid() == 0 and shutil.which("mount") is not None and subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(spot)], capture_output=True, check=False
    ).returncode == 0  # fmt: skip
    try:
        yield spot if mounted else None
    finally:
        if mounted:
            subprocess.run(["umount", "-l", str(spot)], check=False)


def full_disks(home: Path, *, step: int) -> tuple[Counter[str], int, str]:
    """Issue and save with ever more room, from none; return the damage, how often the disk was full, and how it was made so."""
    bad, full = Counter[str](), 0
    how = "tmpfs"
    for what in ("issue", "save"):
        for room in range(0, 600_000, step):
            with small_disk(home, 8 << 20) as disk:
                where = disk or Path(tempfile.mkdtemp(dir=home))
                how = "tmpfs" if disk else "limit on file size"
                folder = fresh(where)
                (where / "first.zip").unlink()
                if disk:
                    left = shutil.disk_usage(where).free - room
                    with (where / "ballast").open("wb") as ballast:
                        ballast.write(b"\0" * max(left // 4096 * 4096, 0))

                def work(say: Say, what=what, room=room, disk=disk, folder=folder) -> None:  # type: ignore[no-untyped-def]
                    if not disk:
                        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
                        resource.setrlimit(resource.RLIMIT_FSIZE, (room, room))
                    with Shop(folder) as shop:
                        if what == "issue":
                            say(f"number {issue_one(shop)}")
                        else:
                            made = shop.save("job", "a", {"n": "x" * 200_000})
                            say(f"save {made.number} {made.doc['n']}")

                said = ended(*forked(work))
                told = [line for line in said if line.startswith("told The disk is full; nothing was saved")]
                full += bool(told)
                with contextlib.suppress(FileNotFoundError):
                    (where / "ballast").unlink()
                bad += damage(folder, said)
                bad["no sentence"] += not (told or any(line.startswith(("number", "save")) for line in said))
                with Shop(folder) as shop:  # nothing half: exactly what was acknowledged
                    bad["half"] += len(ledger.read(shop).entries) != 1 + any(
                        x.startswith("number") for x in said
                    )
                    bad["half"] += len(shop.history("job", "a")) != 1 + any(
                        x.startswith("save") for x in said
                    )
                if not disk:
                    shutil.rmtree(where)
    return +bad, full, how


# -- twenty windows ---------------------------------------------------------------------------


def windows(home: Path, count: int = 20) -> Counter[str]:
    """Let many processes do the same write at once; return what came out wrong [count]."""
    bad: Counter[str] = Counter()
    folder = fresh(home)
    with Shop(folder) as shop:
        seen, head = ledger.revision(shop), shop.load("job", "a").number
    data = os.urandom(50_000)
    paper = Paper(lambda made: made.number.encode() * 20_000, expected=seen)

    def issue(shop: Shop, n: int) -> str:
        return ledger.issue(shop, "quote", day=DAY, lines=LINES, paper=paper, customer="a", job="b").number

    def accept(shop: Shop, n: int) -> str:
        ledger.move(shop, "Q0001", "accepted", day=DAY, paper=Paper(expected=seen + 1))
        return "moved"

    def bill(shop: Shop, n: int) -> str:
        return ledger.invoice(shop, "Q0001", day=DAY, paper=Paper(paper.printer, expected=seen + 2)).number

    def save(shop: Shop, n: int) -> str:
        try:
            return str(shop.save("job", "a", {"n": str(n)}, expected=head).number)
        except ConflictError as kept:
            return f"aside {kept.kept}"

    def upload(shop: Shop, n: int) -> str:
        return shop.put_file(data, name="same.jpg", media="image/jpeg").sha256

    def at_once(work: Callable[[Shop, int], str]) -> list[str]:
        start = time.monotonic() + 0.3

        def one(say: Say, n: int) -> None:
            with Shop(folder) as shop:
                time.sleep(max(0.0, start - time.monotonic()))
                say(f"did {work(shop, n)}")

        runs = [forked(lambda say, n=n: one(say, n)) for n in range(count)]  # type: ignore[misc]
        return [line for run in runs for line in ended(*run)]

    for work, wanted in ((issue, 1), (accept, 1), (bill, 1), (save, count), (upload, count)):
        said = at_once(work)
        did = [line for line in said if line.startswith("did ")]
        bad["doubled"] += max(len(did) - wanted, 0)
        bad["lost"] += max(wanted - len(did), 0) + (len(said) != count)
        bad["tracebacks"] += sum(line.startswith("traceback") for line in said)
        if work is save:
            bad["lost"] += len(set(did)) != count or sum("aside" not in d for d in did) != 1
    with Shop(folder) as shop:
        bad["lost"] += len(shop.history("job", "a")) != 1 + count
    return +(bad + damage(folder, []))


# -- figures ----------------------------------------------------------------------------------


def _said(bad: Counter[str]) -> str:
    return ", ".join(f"{n} {k}" for k, n in sorted(bad.items()) if n) or "0 lost, 0 half"


def _at_home(measure: Callable[[Path], Figure]) -> Figure:
    home = Path(tempfile.mkdtemp(prefix="platewright-bench-"))
    try:
        return measure(home)
    finally:
        shutil.rmtree(home, ignore_errors=True)


def _figure(name: str, bad: Counter[str], note: str) -> Figure:
    return Figure(
        name=name,
        ours=_said(bad),
        bar="nothing lost, half or doubled",
        holds=not bad.total(),
        note=note,
    )


def kills(*, quick: bool = False) -> Iterable[Figure]:
    """Yield the figure of kills at random moments."""
    count, seed = (100 if quick else 1000), 18

    def measure(home: Path) -> Figure:
        bad, acknowledged = random_kills(home, count, seed)
        return _figure(
            f"reliability: {count} kills at random", bad, f"{acknowledged} acknowledged, seed {seed}"
        )

    yield _at_home(measure)


def placed(*, quick: bool = False) -> Iterable[Figure]:
    """Yield the figure of kills at each rename, link and fsync."""

    def measure(home: Path) -> Figure:
        bad, count = placed_kills(home)
        return _figure("reliability: a kill at each step", bad, f"{count} kills, before and after each")

    yield _at_home(measure)


def full(*, quick: bool = False) -> Iterable[Figure]:
    """Yield the figure of full disks."""

    def measure(home: Path) -> Figure:
        bad, times, how = full_disks(home, step=40_960 if quick else 4_096)
        return _figure("reliability: a full disk at each write", bad, f"full {times} times, by {how}")

    yield _at_home(measure)


def twenty(*, quick: bool = False) -> Iterable[Figure]:
    """Yield the figure of twenty windows on each write."""
    yield _at_home(
        lambda home: _figure(
            "reliability: 20 windows on each write", windows(home), "issue, accept, bill, save, upload"
        )
    )


PARTS = {"kills": kills, "placed": placed, "full": full, "windows": twenty}


def figures(*, quick: bool = False) -> Iterable[Figure]:
    """Yield all figures."""
    for part in PARTS.values():
        yield from part(quick=quick)
