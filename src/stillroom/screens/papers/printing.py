"""Labels printed from any page."""

from collections.abc import Sequence

from stillroom.keeping.keeper import Keeper
from stillroom.keeping.label_text import AnyLabel
from stillroom.keeping.views import BottleRow
from stillroom.screens.host import Host
from stillroom.screens.papers.label_dialog import LabelDialog


async def print_labels(
    host: Host, keeper: Keeper, labels: Sequence[AnyLabel], rows: Sequence[BottleRow] = ()
) -> None:
    """Show labels, write them to a file, and report where."""
    form = LabelDialog(keeper, labels, rows)
    saved = await host.push_screen_wait(form)
    if saved:
        host.changed(f"Written: {saved}")
        if form.not_recorded:
            host.complain(form.not_recorded)
