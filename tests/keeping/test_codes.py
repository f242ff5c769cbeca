"""The form of batch codes, and which codes a phone could take for a link."""

import ipaddress
import re
from datetime import date
from urllib.parse import urlsplit

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from stillroom.errors import NotUnderstood
from stillroom.keeping.codes import bottle_code, clean_code, could_be_link, next_batch_code
from stillroom.keeping.keeper import Keeper

LIKE_CODES = st.text(st.sampled_from("aZw09-. :/@_\\?。．：é"), max_size=60)
DOMAIN = re.compile(
    r"(?:[a-z0-9](?:[a-z0-9-]*[a-z0-9])?\.)+(?:[a-z][a-z0-9-]*[a-z0-9]|[a-z])", re.IGNORECASE
)
"""A host's name as RFC 1034 (3.5) and RFC 1123 (2.1) have it, its last label not all digits."""


def opens_something(code: str) -> bool:
    """Read by the standards, apart from the program: URL, address of mail, host, or IPv4."""
    try:
        parts = urlsplit(code.strip())
        if parts.scheme or parts.netloc:
            return True
    except ValueError:  # a bad host, but meant as one
        return True
    if "@" in code or code.lower().startswith("www."):
        return True
    try:
        ipaddress.IPv4Address(code)
        return True
    except ValueError:
        return bool(DOMAIN.fullmatch(code))


@given(LIKE_CODES)
@example("http://127.0.0.1/evil?x=1")
@example("127.0.0.1")
@example("example.org")
@example("mailto:a@example.org")
@example("tel:112")
@example("a.9b")
def test_every_code_that_opens_something_is_recognised_as_a_possible_link(code: str) -> None:
    if opens_something(code):
        assert could_be_link(code)


@pytest.mark.parametrize(
    "code",
    ["WWW.example", "example。org", "example．org", "http：//x", "x.example.org/y", "a.b", "//x"],
)
def test_links_in_other_scripts_are_recognised(code: str) -> None:
    assert could_be_link(code)


@pytest.mark.parametrize("code", ["26-005", "26-005.12", "Lot 7 (b)", "A_3", "1.2.3", "№ 5", "7"])
def test_plain_codes_are_not_links(code: str) -> None:
    assert not could_be_link(code)


@given(LIKE_CODES)
def test_a_code_in_our_form_is_unchanged_and_its_bottle_codes_are_not_links(code: str) -> None:
    try:
        assert clean_code(code) == code.strip()
    except NotUnderstood:
        return
    assert re.fullmatch(r"[a-zA-Z0-9.-]{1,40}", code.strip())
    assert not opens_something(bottle_code(code.strip(), 2)) or could_be_link(code.strip())


@pytest.mark.parametrize(
    "code",
    [
        "",
        "www",
        "-1",
        "1-",
        "a--b",
        "a.b",
        "a.1.2",
        "a/b",
        "a:b",
        "a b",
        "é1",
        "٣",
        "a\n1",
        "x" * 41,
    ],
)
def test_a_new_code_of_another_form_is_refused(code: str) -> None:
    with pytest.raises(NotUnderstood, match="such as 26-041"):
        clean_code(code)


def test_the_codes_that_the_program_makes_have_our_form_and_are_not_links(keeper: Keeper) -> None:
    for year in (2000, 2026, 2099):
        code = next_batch_code(keeper, date(year, 1, 1))
        assert clean_code(code) == code
        assert clean_code(bottle_code(code, 120)) == bottle_code(code, 120)
        assert not could_be_link(bottle_code(code, 120))
