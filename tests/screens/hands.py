"""Quick hands: many keys sent at once, as a fast typist or a paste sends them."""

from textual.events import Key
from textual.keys import _character_to_key
from textual.pilot import Pilot


async def type_in(pilot: Pilot[None], *keys: str) -> None:
    """Send whole texts and named keys without waiting between them, then let the screen settle.

    A word of more than one letter is a key's name where it is one, such as `tab` or `ctrl+s`.
    """
    for each in keys:
        for key in [each] if each in _NAMED else each:
            character = key if len(key) == 1 else None
            pilot.app.post_message(Key(_character_to_key(key) if character else key, character))
    await pilot.pause()
    await pilot.pause()


_NAMED = {"tab", "shift+tab", "enter", "escape", "ctrl+s", "home", "end", "up", "down"}
