"""The cautions, each in one place, in the words every screen, label and page uses."""

import re

_NOT_STATED_NOT = r"(?<!not )(?<!non )(?<!non-)(?<!sin )(?<!nicht )(?<!never )"
_DENATURED_WORDS = (
    r"d[eé]s?nat\w*|vergällt\w*|ska[żz]on\w*|bitrex|denatonium|methylated|meths|isopropyl|methanol"
)
_DENATURED = re.compile(rf"{_NOT_STATED_NOT}\b(?:{_DENATURED_WORDS})\b", re.IGNORECASE)
_UNFIT = re.compile(
    rf"{_NOT_STATED_NOT}\b(?:{_DENATURED_WORDS}|isopropanol|propanol|ipa|rubbing|methyl alcohol"
    r"|wood (?:alcohol|spirits?)|white spirits?|industrial|ims|sda|surgical|saniti[sz]er|fuel|e85"
    r"|bio-?[eé]th?anol|brennspiritus|alco[oh]l [àa] br[ûu]ler|lamp|stove|burner|antifreeze)\b",
    re.IGNORECASE,
)


def is_unfit(spirit: str, *remarks: str) -> bool:
    """Whether a name, or a remark about it, is of a spirit that must never be drunk.

    >>> is_unfit("Rubbing alcohol 70 %"), is_unfit("Ethanol, not denatured"), is_unfit("Vodka")
    (True, False, False)
    >>> is_unfit("Ethanol 96", "denatured with bitrex"), is_unfit("Rum", "above the stove")
    (True, False)
    """
    return bool(_UNFIT.search(spirit)) or any(_DENATURED.search(text) for text in remarks)


_DEADLY = re.compile(
    r"\b(?:digitalis|foxgloves?|fingerhut|aconit\w*|monk ?s ?hood|wolf ?s ?bane|larkspur|delphinium"
    r"|atropa|belladonna|deadly nightshade|conium|hemlock(?! (?:spruce|fir|pine))|cicuta|cowbane"
    r"|oenanthe|water dropwort|colchicum|meadow saffron|autumn crocus|convallaria|lily of the "
    r"valley|datura|thorn ?apple|jimson ?weed|brugmansia|angel ?s trumpets?|hyoscyamus|henbane"
    r"|mandragora|mandrake|taxus|yew|nerium|oleander|veratrum|helleborus|hellebore|strychnos|strychnine"
    r"|nux vomica|ricinus|castor (?:oil )?beans?|abrus|aristolochia|birthwort|gelsemium|physostigma"
    r"|calabar beans?|mezereon|mezereum|laburnum|strophanthus)\b",
    re.IGNORECASE,
)
"""Plants of which little kills or maims. Most are kept from free sale as medicines in the list of
banned and restricted herbal ingredients (MHRA 2014, after the UK Human Medicines Regulations 2012,
schedule 20); which of them are named here is a choice from memory, and no list is complete."""


def deadly_name(*names: str) -> str:
    """The first of a plant's names by which it is known to be deadly; else blank."""
    return next((each for each in names if _DEADLY.search(re.sub(r"['’‘-]", " ", each))), "")


def deadly_warning(*names: str) -> str:
    """What to say of a plant known to be deadly by its common or botanical name; else blank.

    >>> deadly_warning("Foxglove")[:28], deadly_warning("Sage", "Salvia officinalis")
    ('Foxglove is poisonous: deadl', '')
    """
    name = deadly_name(*names)
    if not name:
        return ""
    return (
        f"{name} is poisonous: deadly even in small amounts. Never use it in a tincture made at "
        "home."
    )


CERTAIN = "Know the plant with certainty before it goes into a jar."

IDENTIFY = f"{CERTAIN} Leaves sold as comfrey have turned out to be foxglove."
"""BMJ Case Reports 2016: foxglove poisoning from leaf taken for comfrey."""

FOOD_GRADE = (
    "Use food-grade ethanol only: never denatured, surgical or methylated spirit, isopropyl "
    "alcohol or methanol."
)

FIRE = (
    "Spirit vapour can catch fire at room temperature: 40 % from about 26 °C (79 °F), 60 % from "
    "22 °C (72 °F), 96 % from 17 °C (63 °F). Keep flames, hobs and sparks away, and air the room."
)
"""Flash points as published by volume; a second table gives the same figures by weight, so this is
the safer reading."""

COOL_FIRST = (
    "Let the decoction cool to room temperature, off the stove, before any spirit goes near it."
)

HEALTH = (
    "Unless a licensed practitioner agrees, don't take a tincture in pregnancy, while "
    "breast-feeding, with liver disease, epilepsy or alcohol dependence, or together with "
    "medicines, and don't give one to a child. Don't drive after taking one."
)

NO_DOSE = "This is arithmetic. It recommends no dose, and no amount is shown to be safe."

NOT_ADVICE = "This program keeps records and does sums. It is not medical advice."

LAW = (
    "Laws on spirits, food and medicine differ by country: distilling, selling and giving to "
    "others may need a licence."
)

NO_HYDROMETER = (
    "An alcoholometer can't read a finished tincture: dissolved extract makes the liquid heavier, "
    "so it reads too weak. Use it on spirit and water only."
)
"""27 CFR 30.32: 100 mg of solids in 100 mL hides 0.4 degree of US proof."""

ALL = (IDENTIFY, FOOD_GRADE, FIRE, COOL_FIRST, HEALTH, LAW, NOT_ADVICE)
"""What a first start and the help show, in reading order."""
