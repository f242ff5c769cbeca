"""Thousands of bottles are listed without holding thousands of equal texts."""

from collections.abc import Callable

from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.views import BottleRow

SHARED = ("batch", "herb", "name", "botanical", "part", "condition", "place")


def test_bottles_share_the_texts_that_they_have_in_common(
    keeper: Keeper, bottled: Callable[..., list[BottleRow]]
) -> None:
    bottled("Yarrow", sizes_ml=(50, 30, 20), place="Top")
    bottled("Yarrow", sizes_ml=(50, 30), place="Top")
    rows = bottle_rows(keeper)
    assert len(rows) == 5
    for field in SHARED:
        texts = [getattr(row, field) for row in rows]
        assert (field, len({id(text) for text in texts})) == (field, len(set(texts)))
