"""Single changes to a program's text: what a slip of a hand, a bad copy or a broken writer does to one."""

from __future__ import annotations

import itertools
import random
import re
from collections.abc import Iterator
from dataclasses import dataclass

__all__ = ["Change", "every", "some"]

WORD = re.compile(r"([A-Za-z])\s*([+-]?(?:\d+\.?\d*|\.\d+))")
OTHER_CODES = {
    "G0": ("G1",), "G1": ("G0", "G2"), "G2": ("G3", "G1"), "G3": ("G2", "G1"), "G4": ("G0", "G1"), "G17": ("G18", "G19"),
    "G20": ("G21",), "G21": ("G20",), "G40": ("G41", "G42"), "G49": ("G43",), "G54": ("G55", "G53"), "G80": ("G81",),
    "G90": ("G91",), "G92": ("G91", "G92.1"), "G94": ("G93", "G95"), "G38.2": ("G38", "G0", "G1"), "M2": ("M0", "M3", "M30"),
    "M3": ("M5", "M4", "M2"), "M5": ("M3", "M4"), "M101": ("M102",), "M102": ("M101",), "M103": ("M104", "M3"), "M104": ("M103",),
}  # fmt: skip
OTHER_LETTERS = {
    "X": "YZI", "Y": "XZJ", "Z": "XY", "I": "JX", "J": "IY", "R": "IJ", "F": "SP", "P": "FX", "G": "M", "M": "G", "N": "X",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Change:
    """What was done (its kind), where (line), in words (before -> after), and the text that comes of it."""

    kind: str
    line: int
    what: str
    text: str


def every(text: str) -> Iterator[Change]:
    """Every single change to a program, line by line, then those made to a word everywhere."""
    ending = "\r\n" if "\r\n" in text else "\n"
    lines = text.split(ending)
    for number in range(len(lines) - (not lines[-1])):
        yield from _of_line(lines, number, ending)
    yield from _of_cuts(lines, ending)
    yield from _everywhere(lines, ending)


def _share(kind: str) -> int:
    """How many changes of a kind are drawn in a round: most where the text stays readable, few where it seldom does."""
    if (
        any(word in kind for word in ("doubled", "letter", "sign", "commented", "swapped", "semicolon"))
        and "line" not in kind
    ):
        return 1
    if kind.startswith(("X ", "Y ", "F ", "P ", "Z ", "R ", "line", "cut", "arc", "everywhere", "block")):
        return 5
    return 2


def some(text: str, count: int, rng: random.Random) -> list[Change]:
    """Draw `count` changes, every kind with its share, no text twice and none left as it was."""
    kinds: dict[str, list[Change]] = {}
    for change in every(text):
        kinds.setdefault(change.kind, []).append(change)
    keyed = [
        (rng.random() ** (len(group) / _share(kind)), i, change)
        for kind, group in sorted(kinds.items())
        for i, change in enumerate(group)
    ]
    seen, found = {text}, list[Change]()
    for _, _, change in sorted(keyed, key=lambda k: -k[0]):
        if change.text not in seen and len(found) < count:
            seen.add(change.text)
            found.append(change)
    return found


def _of_line(lines: list[str], k: int, ending: str) -> Iterator[Change]:
    line = lines[k]

    def made(kind: str, new: list[str], what: str) -> Change:
        return Change(kind, k + 1, what, ending.join(new))

    yield made("line dropped", lines[:k] + lines[k + 1 :], line)
    yield made("line doubled", [*lines[: k + 1], line, *lines[k + 1 :]], line)
    for step in (1, 2, 5):
        if k + step < len(lines) and lines[k + step]:
            new = list(lines)
            new[k], new[k + step] = new[k + step], new[k]
            yield made("lines swapped", new, f"{line} <-> {lines[k + step]}")
    for step in (-4, -2, 3, 7):
        if 0 <= k + step < len(lines) - 1:
            new = lines[:k] + lines[k + 1 :]
            new.insert(k + step, line)
            yield made("line moved", new, f"{line} by {step}")
    for kind, changed in _line_texts(line):
        yield made(kind, [*lines[:k], changed, *lines[k + 1 :]], f"{line} -> {changed}")


def _of_cuts(lines: list[str], ending: str) -> Iterator[Change]:
    """What befalls one cut as a whole, from the line after the last M5 to its own: lost, doubled, out of order, shifted."""
    marks = [k for k, line in enumerate(lines) if re.search(r"\bM5\b", line)]
    spans = [(a + 1, b + 1) for a, b in itertools.pairwise(marks)]
    for (a, b), (c, d) in zip(spans, spans[1:] + spans[:1], strict=True):
        cut = lines[a:b]

        def made(kind: str, new: list[str], what: str, a: int = a) -> Change:
            return Change(kind, a + 1, what, ending.join(new))

        yield made("cut dropped", lines[:a] + lines[b:], f"lines {a + 1} to {b}")
        yield made("cut doubled", lines[:b] + cut + lines[b:], f"lines {a + 1} to {b}")
        if b == c:
            yield made(
                "cuts swapped",
                lines[:a] + lines[c:d] + cut + lines[d:],
                f"lines {a + 1} to {b} with the next",
            )
        straight = [_straight(line) for line in cut]
        yield made(
            "cut straightened", lines[:a] + straight + lines[b:], f"arcs of lines {a + 1} to {b} made chords"
        )
        turned = [re.sub(r"G[23]\b", lambda m: "G3" if m[0] == "G2" else "G2", line) for line in cut]
        yield made(
            "cut turned", lines[:a] + turned + lines[b:], f"arcs of lines {a + 1} to {b} the other way"
        )
        for k in range(2, len(cut) - 1):
            yield made("cut shortened", lines[: a + k] + lines[b - 2 :], f"lines {a + k + 1} to {b - 2}")
        for letter in "XY":
            for off in (0.3, -0.7, 1.5, 4.0):
                moved = [
                    re.sub(rf"{letter}(-?[\d.]+)", lambda m, o=off: f"{m[0][0]}{float(m[1]) + o:.4f}", line)
                    for line in cut
                ]
                yield made(
                    "cut shifted", lines[:a] + moved + lines[b:], f"lines {a + 1} to {b}: {letter} by {off}"
                )


def _line_texts(line: str) -> Iterator[tuple[str, str]]:
    if line.strip() == "%":
        return
    yield "block delete", "/" + line
    if "(" in line:
        return
    yield "commented out", f"({line})"
    yield "semicolon", f";{line}"
    if re.search(r"G[23]\b|[IJR]-?[\d.]", line):
        yield "arc made straight", _straight(line)
    words = list(WORD.finditer(line))
    for i, found in enumerate(words):
        before, after = line[: found.start()], line[found.end() :]
        letter, number = found[1], found[2]
        kind = f"{letter} " if letter in "XYZIJRFPGM" else "other "
        yield kind + "dropped", (before.rstrip() + after).strip()
        yield kind + "doubled", f"{before}{found[0]} {found[0]}{after}"
        yield kind + "commented", f"{before}({found[0]}){after}"
        if i + 1 < len(words):
            other = words[i + 1]
            between = line[found.end() : other.start()]
            yield "words swapped", f"{before}{other[0]}{between}{found[0]}{line[other.end() :]}"
            yield (
                "numbers swapped",
                f"{before}{letter}{other[2]}{between}{other[1]}{number}{line[other.end() :]}",
            )
        for other_letter in OTHER_LETTERS.get(letter, ""):
            yield kind + "letter", f"{before}{other_letter}{number}{after}"
        for code in OTHER_CODES.get(f"{letter}{number}", ()):
            yield kind + "code", f"{before}{code}{after}"
        for way, new in _numbers(number, letter):
            yield kind + way, f"{before}{letter}{new}{after}"


def _plain(value: float, decimals: int) -> str:
    """A number as programs write it, with no exponent."""
    return f"{value:.{decimals}f}".rstrip("0").rstrip(".") or "0"


def _straight(line: str) -> str:
    return re.sub(r"\s*[IJR]-?[\d.]+", "", re.sub(r"G[23]\b", "G1", line))


def _numbers(number: str, letter: str) -> Iterator[tuple[str, str]]:
    digits = [i for i, c in enumerate(number) if c.isdigit()]
    for i in digits:
        other = str((int(number[i]) + 1 + 2 * i + len(number)) % 10)
        if other != number[i]:
            yield "digit changed", number[:i] + other + number[i + 1 :]
        yield "digit dropped", number[:i] + number[i + 1 :]
        yield "digit doubled", number[:i] + number[i] + number[i:]
    for i, j in itertools.pairwise(digits):
        if number[i] != number[j]:
            new = list(number)
            new[i], new[j] = new[j], new[i]
            yield "digits transposed", "".join(new)
    yield "sign", number[1:] if number.startswith("-") else f"-{number}"
    if "." in number:
        yield "point dropped", number.replace(".", "")
        whole, part = number.split(".")
        yield "point moved", f"{whole[:-1] or '0'}.{whole[-1:]}{part}"
    value = float(number)
    if letter == "F":
        for share in (0.1, 10.0, 1 / 60, 60.0, 0.5, 1.5, 25.4, 1 / 25.4):
            yield "scaled", _plain(value * share, 1)
    if letter == "P":
        for share in (0.0, 0.1, 0.4, 6.0, 10.0, 60.0, 1000.0, 0.001):
            yield "scaled", _plain(value * share, 4)
    if letter == "Z":
        for height in (value * 0.1, value * 3, value + 5, value - 2, 0.0, value / 25.4, value * 25.4):
            yield "scaled", f"{height:.4f}"
    if letter in "XYIJR":
        for off in (0.6, -0.9, 2.5, -6.0):
            yield "shifted", f"{value + off:.4f}"


def _everywhere(lines: list[str], ending: str) -> Iterator[Change]:
    """What a wrong setting of the writer does: one word lost or changed in the whole program."""
    found = sorted(
        {f"{m[1]}{m[2]}" for line in lines if "(" not in line for m in WORD.finditer(line) if m[1] in "GMPZF"}
    )
    for word in found:
        pattern = re.compile(rf"(?<![A-Z\d.]){re.escape(word)}(?![\d.])")
        whole = [line for line in lines if not ("(" not in line and pattern.search(line))]
        yield Change("everywhere", 0, f"every line with {word} dropped", ending.join(whole))
        bare = [pattern.sub("", line).strip() if "(" not in line else line for line in lines]
        yield Change("everywhere", 0, f"every {word} dropped", ending.join(bare))
        for code in OTHER_CODES.get(word, ()):
            new = [pattern.sub(code, line) if "(" not in line else line for line in lines]
            yield Change("everywhere", 0, f"every {word} -> {code}", ending.join(new))
        if word[0] in "ZFP":
            for share in (0.5, 1.3, 10.0, 0.1, 0.2):
                new = [
                    pattern.sub(f"{word[0]}{_plain(float(word[1:]) * share, 4)}", line)
                    if "(" not in line
                    else line
                    for line in lines
                ]
                yield Change("everywhere", 0, f"every {word} times {share:g}", ending.join(new))
