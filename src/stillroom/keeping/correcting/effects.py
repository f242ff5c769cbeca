"""What a correction changes besides the facts themselves: figures, contents and labels."""

import json
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from stillroom.keeping.bottles.labels import Label, label_lines
from stillroom.keeping.bottles.tinctures import charges_of_jars, tincture_views
from stillroom.keeping.drafts import BottleDraft
from stillroom.keeping.jars.liquid import outlook, pours_of_jars
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import settings_of
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.views import TinctureView
from stillroom.keeping.wording import Wording, wording
from stillroom.keeping.words import arrow
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.states import NOT_ENDED


@dataclass(frozen=True)
class Pictures:
    """Jars, tinctures and bottles as they are shown at one moment."""

    figures: Mapping[tuple[str, int], tuple[str, Mapping[str, str]]]
    """By record and id: what it is called, and its figures by name."""
    labels: Mapping[int, tuple[str, Label]]
    """By bottle that isn't empty: its code and label."""


def picture(keeper: Keeper, jar_ids: Collection[int], tincture_ids: Collection[int]) -> Pictures:
    """How these are shown now."""
    said = wording(keeper)
    views = tincture_views(keeper, tincture_ids)
    figures: dict[tuple[str, int], tuple[str, Mapping[str, str]]] = {}
    figures |= _steeping(keeper, jar_ids, said)
    yields = _yields(keeper, tincture_ids)
    for tincture_id, view in views.items():
        shown = _of_tincture(view, said) | {
            "of the liquid": said.share(*yields.get(tincture_id, (None, None)))
        }
        figures["tincture", tincture_id] = _called(view), shown
    settings = settings_of(keeper)
    labels: dict[int, tuple[str, Label]] = {}
    for bottle_id, tincture_id, code, size_ml, left_ml, fill_ml in keeper.rows(
        """SELECT b.id, b.tincture_id, b.code, b.size_ml, sum(m.volume_ml),
                  sum(CASE m.kind WHEN 'fill' THEN m.volume_ml END)
           FROM bottle b JOIN movement m ON m.bottle_id = b.id
           WHERE b.tincture_id IN (SELECT value FROM json_each(?)) GROUP BY b.id""",
        json.dumps(list(tincture_ids)),
    ):
        held = said.volume(0.0 if left_ml <= EMPTY_ML else left_ml)
        figures["bottle", bottle_id] = code, {"holds": held}
        if left_ml > EMPTY_ML and tincture_id in views:
            # What it holds changes with every draw: its label shows what it was filled with.
            draft = BottleDraft(size_ml, fill_ml)
            label = label_lines(draft, views[tincture_id], settings, code=code)
            labels[bottle_id] = code, label
    return Pictures(figures, labels)


def _called(view: TinctureView) -> str:
    return f"{view.name} {view.code}" if view.is_blend else view.code


def _of_tincture(view: TinctureView, said: Wording) -> dict[str, str]:
    return {
        "volume": said.volume(view.volume_ml),
        "strength": said.finished_percent(view) or "not known",
        "ratio": said.ratio(view.ratio) or "not known",
        "keep until": said.day(view.keep_until) or "no date",
        "to bottle": said.volume(view.loose_ml) if view.is_to_bottle else said.volume(0.0),
    }


def _steeping(
    keeper: Keeper, jar_ids: Collection[int], said: Wording
) -> dict[tuple[str, int], tuple[str, Mapping[str, str]]]:
    rows = keeper.rows(
        """SELECT id, code FROM jar
           WHERE state IN (?, ?) AND id IN (SELECT value FROM json_each(?))""",
        *(state.value for state in NOT_ENDED),
        json.dumps(list(jar_ids)),
    )
    steeping = [jar_id for jar_id, _ in rows]
    charges, pours = charges_of_jars(keeper, steeping), pours_of_jars(keeper, steeping)
    found: dict[tuple[str, int], tuple[str, Mapping[str, str]]] = {}
    for jar_id, code in rows:
        if jar_id not in pours or jar_id not in charges:
            continue
        liquid = outlook(charges[jar_id], pours[jar_id])
        strength = (
            said.percent_at_most(liquid.strength_abv)
            if liquid.strength_at_most
            else said.of(Kind.STRENGTH, liquid.strength_abv)
        )
        found["jar", jar_id] = (
            code,
            {
                "liquid": said.volume(liquid.volume_ml),
                "strength": strength,
                "ratio": said.ratio(liquid.ratio) or "not known",
            },
        )
    return found


def _yields(
    keeper: Keeper, tincture_ids: Collection[int]
) -> dict[int, tuple[float | None, float | None]]:
    rows = keeper.rows(
        """SELECT t.id, s.yield_ml, s.liquid_ml FROM tincture t
           JOIN straining s ON s.id = t.straining_id
           WHERE t.id IN (SELECT value FROM json_each(?))""",
        json.dumps(list(tincture_ids)),
    )
    return {tincture_id: (yield_ml, liquid_ml) for tincture_id, yield_ml, liquid_ml in rows}


def effects(before: Pictures, after: Pictures) -> Iterator[str]:
    """What is shown otherwise, such as `26-004 strength 45.3 → 43.1 %`."""
    for key, (name, figures) in after.figures.items():
        if key not in before.figures:
            continue
        _, were = before.figures[key]
        changed = [
            f"{figure} {arrow(were[figure], now)}"
            for figure, now in figures.items()
            if were.get(figure, now) != now
        ]
        if changed:
            yield f"{name} {', '.join(changed)}"


def labels_changed(before: Pictures, after: Pictures) -> tuple[str, ...]:
    """Codes of the bottles whose label would show something else."""
    return tuple(
        code
        for bottle_id, (code, text) in after.labels.items()
        if bottle_id in before.labels and before.labels[bottle_id][1] != text
    )
