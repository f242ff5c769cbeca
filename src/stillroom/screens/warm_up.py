"""What the first keys will need, imported behind the first picture, so that none of them waits."""

from collections.abc import Callable
from importlib import import_module
from threading import Thread

_NEEDED_SOON = (
    "jar.fill", "jar.page", "jar.dialogs", "jar.strain", "bottles.page", "calculator.page",
)  # fmt: skip


def start_warm_up(when_warm: Callable[[], None]) -> None:
    """Import it in a thread, and then call `when_warm` there."""

    def work() -> None:
        for name in _NEEDED_SOON:
            import_module(f"{__package__}.{name}")
        from stillroom.quantities import warm_up

        warm_up()
        when_warm()

    Thread(target=work, daemon=True).start()
