"""The cautions, each in one place, in the words every screen, label and page uses."""

import re

_UNFIT = re.compile(
    r"(?<!not )(?<!non )(?<!non-)\b(?:isopropyl|isopropanol|propanol|rubbing|methylated|meths"
    r"|denatured|surgical|methanol|methyl alcohol|wood (?:alcohol|spirits?)|white spirits?)\b",
    re.IGNORECASE,
)


def is_unfit(spirit: str) -> bool:
    """Whether a name tells of a spirit that must never be drunk.

    >>> is_unfit("Rubbing alcohol 70 %"), is_unfit("Ethanol, not denatured"), is_unfit("Vodka")
    (True, False, False)
    """
    return bool(_UNFIT.search(spirit))


IDENTIFY = (
    "Know the plant with certainty before it goes into a jar. Leaves sold as comfrey have turned "
    "out to be foxglove."
)
"""BMJ Case Reports 2016: foxglove poisoning from leaf taken for comfrey."""

FOOD_GRADE = (
    "Use food-grade ethanol only: never denatured, surgical or methylated spirit, isopropyl "
    "alcohol or methanol."
)

FIRE = (
    "Spirit vapour lights at room temperature: 40 % from about 26 °C, 60 % from 22 °C, 96 % from "
    "17 °C. Keep flames, hobs and sparks away and air the room."
)
"""Flash points as published by volume; a second table gives the same figures by weight, so this is
the safer reading."""

COOL_FIRST = (
    "Let the decoction cool to room temperature, off the stove, before any spirit goes near it."
)

HEALTH = (
    "Not in pregnancy or breast-feeding, for children, with liver disease, epilepsy or alcohol "
    "dependence, with medicines, or before driving, unless a licensed practitioner agrees."
)

NO_DOSE = "This is arithmetic. It recommends no dose and does not say that any amount is safe."

NOT_ADVICE = "This program keeps records and does sums. It is not medical advice."

LAW = (
    "Law on spirits, food and medicine differs by country: distilling, selling and giving to "
    "others may need a licence."
)

NO_HYDROMETER = (
    "An alcoholometer cannot read a finished tincture: dissolved extract makes the liquid heavier, "
    "so it reads too weak. Use it on spirit and water only."
)
"""27 CFR 30.32: 100 mg of solids in 100 mL hides 0.4 degree of US proof."""

ALL = (IDENTIFY, FOOD_GRADE, FIRE, COOL_FIRST, HEALTH, LAW, NOT_ADVICE)
"""What a first start and the help show, in reading order."""
