"""Narrowing the shelves to the jars that match some words."""

from stillroom.keeping.cards import JarCard, ShelfView, ShelvesView
from stillroom.keeping.words import folded


def matching(view: ShelvesView, text: str) -> ShelvesView:
    """The jars in whose herb, code, part, condition or shelf every word of a text occurs."""
    words = folded(text).split()
    if not words:
        return view
    shelves = []
    for shelf in view.shelves:
        place = folded(shelf.name)
        jars = tuple(jar for jar in shelf.jars if _has_words(jar, place, words))
        if jars:
            shelves.append(ShelfView(shelf.shelf_id, shelf.name, shelf.note, jars))
    return ShelvesView(view.today, tuple(shelves))


def _has_words(jar: JarCard, place: str, words: list[str]) -> bool:
    """Whether every word occurs in what is written on the jar or on its plank."""
    parts = (jar.herb, jar.code, jar.part, jar.condition)
    text = "\n".join((*map(folded, parts), place))
    return all(word in text for word in words)
