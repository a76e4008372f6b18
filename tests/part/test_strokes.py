"""Single-stroke letters: which there are, and where their strokes lie."""

from __future__ import annotations

import unicodedata

import numpy as np
import pytest

from platewright.errors import InputError
from platewright.part.strokes import strokes, width

# Letters of the European languages written in Latin, typed in here from their alphabets.
ALPHABETS = (
    "ABCDEFGHIJKLMNOPQRSTUVWXYZ", "ÄÖÜß", "ÀÂÆÇÉÈÊËÎÏÔŒÙÛÜŸ", "ÁÉÍÑÓÚÜ", "ÃÂÁÀÇÉÊÍÓÔÕÚ", "ÅÆØ", "ÐÞÁÉÍÓÚÝÆÖ", "ĄĆĘŁŃÓŚŹŻ",
    "ÁČĎÉĚÍŇÓŘŠŤÚŮÝŽ", "ÁÉÍÓÖŐÚÜŰ", "ĂÂÎȘȚ", "ÇĞİÖŞÜ", "ĀČĒĢĪĶĻŅŠŪŽ", "ĄČĘĖĮŠŲŪŽ", "ŐŰ", "ĐŽĆČŠ", "ÕŽÄÖ",
)  # fmt: skip


@pytest.mark.parametrize("letters", ALPHABETS)
def test_every_letter_of_an_alphabet_has_strokes_of_its_own(letters: str) -> None:
    drawn = {
        tuple(map(tuple, np.vstack([c.points for c in strokes(one, x=0, y=0, height=6)]).tolist()))
        for one in letters
    }
    assert len(drawn) == len(letters)


@pytest.mark.parametrize("sign", [c for text in ALPHABETS for c in text if unicodedata.decomposition(c)])
def test_an_accent_stands_clear_above_or_below_its_letter(sign: str) -> None:
    plain = unicodedata.normalize("NFD", sign)[0]
    accented, letter = (strokes(one, x=0, y=0, height=6) for one in (sign, plain))
    more = np.vstack([c.points for c in accented[len(letter) :]])
    assert np.all((more[:, 1] >= 7 - 1e-9) | (more[:, 1] <= 0 + 1e-9))
    assert np.all((more[:, 0] >= 0) & (more[:, 0] <= 4 + 1e-9))


def test_accents_move_no_letter() -> None:
    assert width("Äß½", 6) == width("ASS1/2", 6) == 34
    last = strokes("ÄÖ1", x=0, y=0, height=12)[-1].points
    assert last == pytest.approx(strokes("AO1", x=0, y=0, height=12)[-1].points)


def test_common_fractions_and_dashes_are_read_as_they_look() -> None:
    for said, same in (("1½", "1-1/2"), ("⅜", "3/8"), ("3–5", "3-5"), ("M’s", "M'S"), ("a b", "A B")):
        one, other = (strokes(text, x=0, y=0, height=5) for text in (said, same))
        assert [c.points.tolist() for c in one] == [c.points.tolist() for c in other]


@pytest.mark.parametrize("text", ["Ж", "\u0301", "漢", "\u200f", "10²"])
def test_a_letter_without_strokes_is_named(text: str) -> None:
    with pytest.raises(InputError, match="cannot be etched") as told:
        strokes(text, x=0, y=0, height=5)
    assert told.value.sentence().isprintable()
