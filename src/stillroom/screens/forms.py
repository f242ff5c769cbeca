"""Forms that open from every page, whatever is chosen there."""

from typing import TYPE_CHECKING

from textual import work

from stillroom.errors import StillroomError
from stillroom.keeping.keeper import Keeper
from stillroom.quantities import how_many
from stillroom.screens.host import Row
from stillroom.screens.messages import ShowsMessages

if TYPE_CHECKING:
    from stillroom.keeping.correcting.kinds import Subject
    from stillroom.keeping.year.asked import YearAsked


class OpensForms(ShowsMessages):
    """An app that corrects, asks who is at the shelf, prints and backs up."""

    keeper: Keeper

    def changed(self, sentence: str = "") -> None:
        """Have every page read the shelf again, after this program has changed it."""
        raise NotImplementedError

    @work
    async def correct(self, subject: "Subject", row: Row | None = None) -> None:
        """Open the form that corrects, beginning with the facts of a row where one is named."""
        from stillroom.screens.correcting.form import CorrectionDialog

        try:
            form = CorrectionDialog(self.keeper, subject, row)
        except StillroomError as error:
            self.refuse(error)
            return
        if done := await self.push_screen_wait(form):
            self.changed(done)

    @work
    async def action_who(self) -> None:
        """Ask who is at the shelf."""
        from stillroom.screens.shelf_file.who_dialog import WhoDialog

        initials = await self.push_screen_wait(WhoDialog(self.keeper))
        if initials is not None:
            who = f"{initials} is at the shelf." if initials else "No initials from now on."
            self.changed(who)

    @work
    async def action_correct_code(self) -> None:
        """Ask what to correct, and open the form that does."""
        from stillroom.screens.correcting.form import CodeDialog

        if subject := await self.push_screen_wait(CodeDialog(self.keeper)):
            self.correct(subject)

    @work
    async def show_papers(self, first: str, asked: "YearAsked | None" = None) -> None:
        """Open the form that prints, with one of the papers and its days chosen."""
        from stillroom.keeping.year.asked import year_so_far
        from stillroom.screens.papers.paper_dialogs import PapersDialog

        asked = asked or year_so_far(self.keeper.today)
        saved = await self.push_screen_wait(PapersDialog(self.keeper, asked, first))
        if saved:
            self.say(f"Written: {saved}")

    @work
    async def action_forget(self) -> None:
        """Ask whose name to remove, and from where."""
        from stillroom.screens.shelf_file.forget_dialogs import ForgetDialog, ForgetNameDialog

        plan = await self.push_screen_wait(ForgetNameDialog(self.keeper))
        if plan and (done := await self.push_screen_wait(ForgetDialog(self.keeper, plan))):
            self.changed(done)

    @work
    async def action_import_list(self) -> None:
        """Ask for a sheet, show what was found in it, and import it once all is answered."""
        from stillroom.screens.shelf_file.import_dialogs import SheetDialog, SheetFileDialog

        chosen = await self.push_screen_wait(SheetFileDialog(self.keeper))
        if chosen is None:
            return
        path, wishes = chosen
        by_herb, mapping = frozenset[str](), ""
        while True:
            try:
                form = SheetDialog(self.keeper, path, wishes, by_herb, mapping)
            except StillroomError as error:
                self.refuse(error)
                return
            found = await self.push_screen_wait(form)
            if found is None:
                return
            wishes, by_herb, mapping = found.wishes, form.by_herb | found.by_herb, found.mapping
            if found.report.is_done:
                jars, bottles = found.report.added["jars"], found.report.added["bottles"]
                brought = f"{how_many(jars, 'jar')}, {how_many(bottles, 'bottle')}"
                self.changed(f"Imported {brought} from {path.name}. u undoes it.")
                return

    @work
    async def action_merge(self) -> None:
        """Ask for another person's shelf, and make it one with this."""
        from stillroom.screens.shelf_file.import_dialogs import MergeDialog

        if done := await self.push_screen_wait(MergeDialog(self.keeper)):
            self.changed(done)

    @work
    async def action_import_edited(self) -> None:
        """Ask for an export that was edited in a spreadsheet, and bring its changes back."""
        from stillroom.screens.shelf_file.edited_dialog import EditedDialog

        if done := await self.push_screen_wait(EditedDialog(self.keeper)):
            self.changed(done)

    @work
    async def action_back_up(self) -> None:
        """Open the form that backs up."""
        from stillroom.screens.shelf_file.backup_dialogs import BackupDialog

        path = await self.push_screen_wait(BackupDialog(self.keeper))
        if path:
            self.say(f"Backed up to {path}")
