"""The lines of a batch record that only a person can fill in, after 21 CFR 111.260."""

from collections.abc import Mapping, Sequence

from stillroom.keeping.trace.batch_history import BatchHistory
from stillroom.keeping.wording import Wording
from stillroom.paper.document import Block, Facts, Grid, Section
from stillroom.reckoning.states import PrintKind


def equipment() -> Section:
    """Paragraphs (b) and (c): what the batch was made with, and when that was cleaned."""
    names = ("Equipment", "Maintained on, by", "Cleaned on, by", "Sanitized on, by")
    return Section("Equipment", (_open(*names),))


def handling(components: Sequence[tuple[str, ...]]) -> Section:
    """Paragraph (j)(2): who weighed and added each component, and who verified it."""
    head = ("Component", "Weighed by", "Verified by", "Added by", "Verified by")
    rows = tuple((name, "", "", "", "") for name, *_ in components)
    grid = Grid(head, rows, (6, 1.6, 1.6, 1.6, 1.6), to_write=frozenset({1, 2, 3, 4}))
    return Section("Weighing and adding", (grid,))


def tests() -> Section:
    """Paragraphs (h), (i) and (k)(3): tests, and whether the batch meets its specification."""
    return Section(
        "Tests and specification",
        (
            Grid(
                ("Test or examination", "Result", "Date", "By"),
                tuple(
                    (name, "", "", "")
                    for name in (
                        "Identity of the plant", "Of the finished batch",
                        "Of the bottled and labelled product",
                    )
                ),
                (5, 4, 2, 1.5),
                to_write=frozenset({1, 2, 3}),
            ),
            _open("Meets its specification", "Where results are filed"),
        ),
    )  # fmt: skip


def packaging(history: BatchHistory, said: Wording) -> list[Block]:
    """Paragraphs (a)(2), (d) and (k)(1): lots of packaging, and what became of the labels."""
    printed = [line for line in history.labels if line.kind is PrintKind.PRINTED]
    issued = sum(line.copies for line in printed)
    days = ", ".join(dict.fromkeys(said.day(line.day) for line in printed))
    return [
        Facts(
            (
                ("Lot of bottles", _lots({b.code: b.bottle_lot for b in history.bottles})),
                ("Lot of caps", _lots({b.code: b.cap_lot for b in history.bottles})),
                ("Lot of label stock", ""),
                ("Sent out to be packaged", ""),
                ("Labels printed", f"{issued}, on {days}" if printed else ""),
                ("Labels used", ""), ("Labels returned", ""), ("Labels destroyed", ""),
                ("Bottles used", ""), ("Reconciled by", ""),
            )
        )
    ]  # fmt: skip


def _lots(of_bottles: Mapping[str, str]) -> str:
    """The lot that was entered; where there are several, each with the codes of its bottles.

    >>> _lots({"26-001.1": "G-7", "26-001.2": "G-7"}), _lots({"26-001.1": "G-7", "26-001.2": ""})
    ('G-7', 'G-7 (26-001.1)')
    """
    lots = dict.fromkeys(filter(None, of_bottles.values()))
    if set(of_bottles.values()) == set(lots) and len(lots) == 1:
        return next(iter(lots))
    return "; ".join(
        f"{lot} ({', '.join(code for code, its in of_bottles.items() if its == lot)})"
        for lot in lots
    )


def review(history: BatchHistory, said: Wording) -> Section:
    """Paragraphs (l) to (n): review, release or rejection, material review, reprocessing."""
    names = (
        "Record and monitoring reviewed",
        "Test results reviewed",
        "Reprocessing or repackaging approved or rejected",
        "Batch released or rejected",
        "Bottled and labelled product released or rejected",
        "Material review and disposition",
        "Reprocessing done",
    )
    decided = {event.kind: event for event in history.events if not event.mark}
    status = decided.get(str(history.tincture.status))
    verdict = ("", "", "")
    if status is not None:
        text = ": ".join(filter(None, (status.kind, status.text)))
        verdict = (text, said.day(status.day), status.maker)
    rows = tuple(
        (name, *(verdict if name == "Batch released or rejected" else ("", "", "")))
        for name in names
    )
    grid = Grid(("Review", "Decision", "Date", "By"), rows, (5, 4, 2, 1.5),
                to_write=frozenset({1, 2, 3}))  # fmt: skip
    closing = history.closing
    closed = f"{said.day(closing.day)}, {closing.maker}" if closing else ""
    return Section("Review", (grid, Facts((("Record closed on, by", closed),))))


def _open(*names: str) -> Facts:
    return Facts(tuple((name, "") for name in names))
