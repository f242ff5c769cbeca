"""Messages over the page in sight: what was done, and what was refused."""

from functools import partial

from textual import work
from textual.notifications import SeverityLevel

from stillroom.errors import DateInDoubt, StillroomError
from stillroom.printable import printable
from stillroom.screens.in_turn import KeysInTurn

SAID_ONCE_S = 1.0
"""How long a complaint is not shown again."""


class ShowsMessages(KeysInTurn):
    """An app that shows what was done and what was refused."""

    _complaint = ""

    def say(self, sentence: str) -> None:
        """Show what was done, in place of the last message."""
        self._complaint = ""
        self.clear_notifications()
        self.notify(sentence, timeout=3, markup=False)

    def complain(self, problem: str) -> None:
        """Show what was refused, in place of the last message.

        A key held down is refused many times: that is shown once.
        """
        if problem == self._complaint:
            return
        self.clear_notifications()
        self.notify(problem, severity="error", timeout=8, markup=False)
        self._complaint = problem
        self.set_timer(SAID_ONCE_S, partial(self._said, problem))

    def _said(self, problem: str) -> None:
        if problem == self._complaint:
            self._complaint = ""

    def refuse(self, error: StillroomError) -> None:
        """Show what a use case refused; ask about a date in doubt."""
        if isinstance(error, DateInDoubt):
            self._ask_about_date(str(error))
        else:
            self.complain(str(error))

    @work
    async def _ask_about_date(self, question: str) -> None:
        from stillroom.screens.kit.dialog import DateDialog

        if await self.push_screen_wait(DateDialog(question)):
            self.say("Press the key again.")

    def notify(
        self,
        message: str,
        *,
        title: str = "",
        severity: SeverityLevel = "information",
        timeout: float | None = None,
        markup: bool = True,
    ) -> None:
        """Show a message, which may cite a name or a path that somebody else has chosen."""
        super().notify(
            printable(message),
            title=printable(title),
            severity=severity,
            timeout=timeout,
            markup=markup,
        )
