"""The font comes with the package, draws what it should, and loads only for printing."""

import subprocess
import sys
from importlib import resources

import pytest

from stillroom.paper.fonts import CannotDraw, Face, make_ready, missing, refuse_undrawable, width

COVERED = (
    "AÁÂÃÄÅÆÇČĎÉĚĞĦÍĲŁŃÑŇÓÖØŒŘßŞȘŠŤÚŮÜŰÝŽÞðþ ẞạảấầ"
    "ΑΆΒΓΔΕΈΖΗΉΘΙΊΪΚΛΜΝΞΟΌΠΡΣΤΥΎΦΧΨΩΏς ἀἁἂᾳῥ"
    "АБВГҐДЕЁЄЖЗИІЇЙКЛМНОПРСТУЎФХЦЧШЩЪЫЬЭЮЯ Ђљњћџѓќ ӘҒҚҢӨҰҮҺ"
    "½⅓¼×÷·–—‘’“”„…°µ%‰§©®™€£₴₽☐☑✓♀♂→−≈"
)


@pytest.mark.parametrize("face", Face)
def test_every_face_draws_latin_greek_and_cyrillic(face: Face) -> None:
    make_ready()
    assert missing(COVERED) == []
    assert all(width(char, face, 10) > 0 for char in COVERED)


def test_every_face_covers_the_same_characters() -> None:
    from reportlab.pdfbase import pdfmetrics

    make_ready()
    plain, *others = [set(pdfmetrics.getFont(face.value).face.charToGlyph) for face in Face]
    assert all(plain - other == set() for other in others)


def test_the_licence_of_the_font_is_included() -> None:
    licence = resources.files("stillroom.paper") / "fonts" / "LICENSE_DEJAVU"
    assert "Bitstream Vera Fonts Copyright" in licence.read_text(encoding="utf-8")


def test_a_refusal_names_each_character_and_place_once() -> None:
    with pytest.raises(CannotDraw) as caught:
        refuse_undrawable(["fine", "薬 and 薬", "שומר"], "The list")
    assert str(caught.value) == (
        "The list can't be printed: the font has no 薬 (U+85AC), ש (U+05E9), ו (U+05D5), "
        "מ (U+05DE), ר (U+05E8), as in “薬 and 薬”. "
        "It prints Latin, Greek and Cyrillic. Write the name in one of these."
    )


def test_a_long_refusal_stays_short() -> None:
    with pytest.raises(CannotDraw, match="and 4 more") as caught:
        refuse_undrawable(["一二三四五六七八九十百千 " * 20], "The list")
    assert len(str(caught.value)) < 400


def test_no_slow_library_is_loaded_before_printing() -> None:
    modules = "batch_record calendar document fonts label label_face lists pdf plain sheets"
    code = (
        "import sys\n"
        f"for name in {modules.split()}: __import__('stillroom.paper.' + name)\n"
        "heavy = {'reportlab', 'segno', 'icalendar', 'PIL', 'pint', 'textual', 'rich'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )
    said = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout
    assert said.strip() == "[]"
