"""Bringing back an export that was edited in a spreadsheet: each change shown, then one act."""

from textual.app import ComposeResult
from textual.widgets import Static

from stillroom.errors import NeedsConfirmation, NotUnderstood, Refused
from stillroom.keeping.interchange.edited import import_edited
from stillroom.keeping.keeper import Keeper
from stillroom.paths import typed_path
from stillroom.quantities import how_many
from stillroom.screens.kit.choice import Pick
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import Entry, words
from stillroom.screens.kit.lines import show
from stillroom.screens.kit.text import safe

_MISSING = (("stay", "stay on the shelf"), ("delete", "are deleted from the shelf"))
_MOST_SHOWN = 40
"""Changes that are listed one by one."""


class EditedDialog(Dialog[str]):
    """An edited workbook or folder, and what it would change."""

    TITLE_TEXT = "Import an edited export"
    ACT = "Import"

    def __init__(self, keeper: Keeper) -> None:
        super().__init__()
        self.keeper = keeper
        self._shown: tuple[str, ...] = ()

    def compose_form(self) -> ComposeResult:
        """The file, what becomes of deleted rows, and the changes once they are found."""
        yield Static(
            "A workbook or folder that export wrote, after you edited it in a spreadsheet. A "
            "changed cell becomes a correction and an added row a new entry. Nothing is changed "
            "before you have seen the changes.",
            markup=False,
        )
        yield Entry("File or folder", words, "", id="file", classes="-wide")
        yield Pick("Missing rows", _MISSING, "stay", id="missing")
        yield Static("", id="changes", markup=False)

    def keep(self) -> str:
        """Show the changes; make them when asked again."""
        path = typed_path(self.query_one("#file", Entry).needed())
        if not path.exists():
            raise NotUnderstood(f"There is no {path}.")
        deletes = self.query_one("#missing", Pick).value == "delete"
        report = import_edited(self.keeper, path, delete_missing=deletes, dry_run=True)
        lines = [f"! {bad}" for bad in report.bad] or [*report.preview, *report.assumed]
        self._show(lines)
        if report.bad:
            raise NotUnderstood(f"{how_many(len(report.bad), 'mistake')} to correct, listed above.")
        if not report.preview:
            raise Refused(f"Nothing in {path.name} differs from the shelf.")
        changes = how_many(len(report.preview), "change")
        if not self.confirmed or report.preview != self._shown:
            self._shown = report.preview
            raise NeedsConfirmation(f"{changes} in {path.name}, listed above. Make them?")
        import_edited(self.keeper, path, delete_missing=deletes, confirmed=True)
        return f"{changes} from {path.name}. u undoes them."

    def _show(self, lines: list[str]) -> None:
        shown = [safe(line) for line in lines[:_MOST_SHOWN]]
        if len(lines) > _MOST_SHOWN:
            shown.append(f"and {len(lines) - _MOST_SHOWN} more")
        changes = self.query_one("#changes", Static)
        show(changes, "\n".join(shown))
        # On a small screen they are below the fields.
        self.call_after_refresh(self._fields.scroll_to_widget, changes, top=True, animate=False)
