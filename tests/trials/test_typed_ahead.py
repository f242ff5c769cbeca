"""Bytes written to a real terminal in one go, at full load, are keys in order and in place."""

from collections.abc import Iterator
from contextlib import contextmanager

from ..examples import IS_LONG
from ..screens.hands import full_load
from .program import READY, STARVED, Place, Terminal

KEEP, LIQUID, HERB = b"\x13", b"\x0c", b"\x0e"
"""ctrl+s, ctrl+l and ctrl+n as a terminal sends them."""
NEXT = b"\t"


@contextmanager
def short_of_time(place: Place) -> Iterator[Terminal]:
    """The program while others take half of the processor: in the long form by working on it."""
    if IS_LONG:
        with place.started() as terminal, full_load():
            yield terminal
    else:
        with place.start(program=STARVED) as terminal:
            terminal.wait_until(lambda picture: READY in picture.text)
            yield terminal


def jar(herb: bytes, *pours: tuple[bytes, bytes]) -> bytes:
    """The keys that fill a jar from the shelves, each liquid an other spirit."""
    liquids = [b"o" + NEXT + volume + NEXT + strength for volume, strength in pours]
    return b"n" + herb + 4 * NEXT + b"40 g" + 4 * NEXT + LIQUID.join(liquids) + KEEP


def test_forms_and_pages_typed_in_one_burst_have_what_was_typed(place: Place) -> None:
    burst = (
        jar(b"Lovage", (b"200", b"40 %"), (b"150", b"50 %"))
        + jar(b"Hyssop", (b"90", b"60 %"))
        + b"2/calen\r1/lov"
    )
    with short_of_time(place) as terminal:
        terminal.send(burst)
        terminal.wait_until(lambda picture: "lov" in map(str.strip, picture.text.splitlines()))
    assert poured(place, "Lovage") == "200.0 mL 40.0 %, 150.0 mL 50.0 %"
    assert poured(place, "Hyssop") == "90.0 mL 60.0 %"
    assert place.wrong() == []


def test_the_next_herb_can_be_typed_at_once(place: Place) -> None:
    burst = b"nLovage" + 4 * NEXT + b"40 g" + HERB + b"Fennel" + 4 * NEXT + b"5 g" + 4 * NEXT
    with short_of_time(place) as terminal:
        terminal.send(burst + b"o" + NEXT + b"300" + NEXT + b"40 %" + KEEP + b"/lov")
        terminal.wait_until(lambda picture: "lov" in map(str.strip, picture.text.splitlines()))
    herbs = """SELECT group_concat(h.name || ' ' || l.mass_g) FROM charge_line l
               JOIN herb h ON h.id = l.herb_id
               WHERE l.jar_id = (SELECT max(id) FROM jar) ORDER BY l.id"""
    assert place.ask(herbs) == "Lovage 40.0,Fennel 5.0"


def poured(place: Place, herb: str) -> str:
    """What is in the jar of a herb."""
    sql = """SELECT group_concat(p.volume_ml || ' mL ' || p.strength_abv || ' %', ', ') FROM pour p
             JOIN charge_line l ON l.jar_id = p.jar_id JOIN herb h ON h.id = l.herb_id
             WHERE h.name = ? ORDER BY p.id"""
    return str(place.ask(sql, herb))
