"""The text of labels for the cupboard: spirits, other liquids and lots of herb."""

from stillroom.errors import Refused
from stillroom.keeping.cupboard.cupboard import spirits
from stillroom.keeping.cupboard.liquids import LiquidView, liquids
from stillroom.keeping.cupboard.lot_reading import herb_lots
from stillroom.keeping.cupboard.lot_views import HerbLotView
from stillroom.keeping.cupboard_views import SpiritView
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.label_text import PlainLabel, Role, lines_of, scanned
from stillroom.keeping.label_words import LabelWords
from stillroom.keeping.settings import Settings, settings_of
from stillroom.keeping.wording import Wording
from stillroom.reckoning.cautions import deadly_name
from stillroom.reckoning.states import HerbCame


def label_of_spirit(keeper: Keeper, name: str, settings: Settings | None = None) -> PlainLabel:
    """The label of the spirit or other liquid of this name or code, the newest where several have
    the name; Refused if there is none."""
    wanted = " ".join(name.split()).casefold()
    settings = settings or settings_of(keeper)
    cupboard: tuple[SpiritView | LiquidView, ...] = (*spirits(keeper), *liquids(keeper))
    for one in cupboard:
        if wanted and wanted in (one.name.casefold(), one.code.casefold()):
            if isinstance(one, SpiritView):
                return spirit_label(one, settings)
            return liquid_label(one, settings)
    raise Refused(f"There is no spirit called {' '.join(name.split())[:40]} in the cupboard.")


def label_of_lot(keeper: Keeper, code: str, settings: Settings | None = None) -> PlainLabel | None:
    """The label of the lot of herb with this code; None if there is no such lot."""
    wanted = code.strip().casefold()
    for lot in herb_lots(keeper):
        if lot.code.casefold() == wanted:
            cautions = keeper.rows("SELECT cautions FROM herb WHERE id = ?", lot.herb_id)[0][0]
            return lot_label(lot, settings or settings_of(keeper), cautions)
    return None


def spirit_label(spirit: SpiritView, settings: Settings) -> PlainLabel:
    """The label of a spirit, with its code where it has one."""
    code = spirit.code
    said, words = Wording.of_shelf(settings), LabelWords(settings.label_language)
    strength = said.strength(spirit.strength_abv).replace("v/v", words("by volume"))
    day = words.day(spirit.bought_on, said.day_form)
    bought = words("bought", day=day) if day else ""
    return PlainLabel(
        spirit.name,
        code,
        lines_of(
            (Role.NAME, spirit.name),
            (Role.STRENGTH, words("alcohol", strength=strength)),
            (Role.VOLUME, said.volume(spirit.bought_ml)),
            (Role.DATE, bought),
            (Role.CODE, code),
            (Role.ORIGIN, _origin(spirit, words)),
            (Role.CAUTION, words("keep from")),
        ),
        scanned(code, spirit.name, strength, bought),
    )


def liquid_label(liquid: LiquidView, settings: Settings) -> PlainLabel:
    """The label of a liquid that is no spirit, with its code where it has one."""
    said, words = Wording.of_shelf(settings), LabelWords(settings.label_language)
    day = words.day(liquid.bought_on, said.day_form)
    bought = words("bought", day=day) if day else ""
    return PlainLabel(
        liquid.name,
        liquid.code,
        lines_of(
            (Role.NAME, liquid.name),
            (Role.VOLUME, said.volume(liquid.bought_ml)),
            (Role.DATE, bought),
            (Role.CODE, liquid.code),
            (Role.ORIGIN, _origin(liquid, words)),
        ),
        scanned(liquid.code, liquid.name, bought),
    )


def _origin(bought: SpiritView | LiquidView, words: LabelWords) -> str:
    where = ", ".join(filter(None, (bought.origin, bought.lot)))
    return words("origin", where=where) if where else ""


def lot_label(lot: HerbLotView, settings: Settings, cautions: str = "") -> PlainLabel:
    """The label of a lot of herb, with what the user has written of the herb's dangers."""
    said, words = Wording.of_shelf(settings), LabelWords(settings.label_language)
    day = words.day(lot.got_on, said.day_form)
    came = words("gathered" if lot.came is HerbCame.GATHERED else "bought", day=day)
    condition = words("drying") if lot.is_drying else words(lot.condition)
    deadly = deadly_name(lot.herb, lot.botanical)
    warning = words("deadly", name=deadly) if deadly else ""
    herb = f"{words(lot.part)}, {condition}"
    return PlainLabel(
        lot.herb,
        lot.code,
        lines_of(
            (Role.NAME, lot.herb),
            (Role.BOTANICAL, lot.botanical),
            (Role.HERB, herb),
            (Role.VOLUME, said.mass(lot.left_g)),
            (Role.DATE, came),
            (Role.CODE, lot.code),
            (Role.ORIGIN, words("origin", where=lot.where_from) if lot.where_from else ""),
            (Role.CAUTION, " ".join(filter(None, (warning, " ".join(cautions.split()))))),
        ),
        scanned(lot.code, lot.herb, herb, came),
    )
