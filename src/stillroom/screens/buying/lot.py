"""The form of a new lot of herb."""

from textual import on
from textual.app import ComposeResult
from textual.widgets import Input, Static

from stillroom.keeping.cupboard.herb_names import known_herbs
from stillroom.keeping.cupboard.lots import add_lot
from stillroom.keeping.drafts import HerbLotDraft
from stillroom.keeping.jars.filling import water_fraction
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.wording import wording
from stillroom.keeping.words import NAME_LENGTH
from stillroom.reckoning.cautions import CERTAIN, deadly_warning
from stillroom.reckoning.charge import ALSO_CALLED, KNOWN_CONDITIONS, KNOWN_PARTS, Condition, Part
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.states import HerbCame
from stillroom.screens.kit.choice import Pick
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import DayEntry, Entry, Pair, amount, words
from stillroom.screens.kit.lines import show

PARTS_OF_PLANT = tuple((str(part), str(part)) for part in KNOWN_PARTS)
CONDITIONS = tuple((str(each), str(each)) for each in KNOWN_CONDITIONS)
CAME = tuple((str(each), str(each)) for each in HerbCame)


class LotDialog(Dialog[int]):
    """Herb gathered or bought."""

    TITLE_TEXT = "New herb in store"

    def __init__(self, keeper: Keeper, herb: str = "") -> None:
        super().__init__()
        self.keeper = keeper
        self.herb = herb
        self.wording = wording(keeper)

    def compose_form(self) -> ComposeResult:
        """What it is, where it came from, how much there is and what it cost."""
        names = [herb.name for herb in known_herbs(self.keeper)]
        yield Pair(
            Entry("Herb", words, self.herb, id="herb", hint="name", suggestions=names,
                  max_length=NAME_LENGTH),
            Entry("Botanical", words, id="botanical", required=False, hint="optional",
                  max_length=NAME_LENGTH),
        )  # fmt: skip
        yield Pair(
            Pick("Part", PARTS_OF_PLANT, str(Part.LEAF), also=ALSO_CALLED, id="part"),
            Pick("Condition", CONDITIONS, str(Condition.FRESH), id="condition"),
        )
        yield Pair(
            Entry("Weight", amount(Kind.MASS, self.wording), id="weight", required=False,
                  hint="blank: not weighed"),
            Entry("Water in herb", amount(Kind.PERCENT, self.wording), id="water",
                  required=False, hint="if measured"),
        )  # fmt: skip
        yield Pair(
            Pick("It was", CAME, str(HerbCame.GATHERED), id="came"),
            DayEntry("On", self.keeper.today, self.keeper.today, wording=self.wording, id="day",
                     hint="e.g. 26 Nov 2026"),
        )  # fmt: skip
        yield Pair(
            Entry("Origin", words, id="origin", required=False, hint="place or seller",
                  max_length=1500),
            Entry("Lot", words, id="lot", required=False, hint="the seller's own",
                  max_length=NAME_LENGTH),
        )  # fmt: skip
        yield Pair(
            Entry("Price", amount(Kind.MONEY, self.wording), id="price", required=False,
                  hint="for all of it"),
            Entry("Note", words, id="note", required=False, hint="optional"),
        )  # fmt: skip
        yield Static(CERTAIN, classes="quiet", id="caution", markup=False)

    @on(Input.Changed)
    def _warn(self) -> None:
        names = (self.query_one(name, Entry).typed for name in ("#herb", "#botanical"))
        warning = deadly_warning(*names)
        show(self.query_one("#caution", Static), f"! {warning}" if warning else CERTAIN)

    def keep(self) -> int:
        """Put it into store."""
        return add_lot(
            self.keeper,
            HerbLotDraft(
                herb=self.query_one("#herb", Entry).needed(),
                part=Part(self.query_one("#part", Pick).value),
                condition=Condition(self.query_one("#condition", Pick).value),
                came=HerbCame(self.query_one("#came", Pick).value),
                got_on=self.query_one("#day", Entry).needed(),
                origin=self.query_one("#origin", Entry).read() or "",
                seller_lot=self.query_one("#lot", Entry).read() or "",
                mass_g=self.query_one("#weight", Entry).read(),
                price=self.query_one("#price", Entry).read(),
                water_fraction=water_fraction(self.query_one("#water", Entry).read()),
                note=self.query_one("#note", Entry).read() or "",
                botanical=self.query_one("#botanical", Entry).read() or "",
            ),
        ).lot_id
