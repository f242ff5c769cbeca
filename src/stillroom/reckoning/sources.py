"""The published sources named beside more than one result."""

R22 = "OIML R 22, International Alcoholometric Tables (1975); Directive 76/766/EEC, annex."
MASS_BALANCE = "Conservation of mass and of ethanol; densities from " + R22
SR28 = "USDA National Nutrient Database for Standard Reference, release 28."
PH_EUR_TINCTURES = "European Pharmacopoeia, Tinctures: usually 1:5 or 1:10."
USP_1890_FRESH = "United States Pharmacopoeia 1890: fresh herbs 500 g to 1000 mL (1:2)."
UNITS = (
    "UK Units of Measurement Regulations 1995; US gallon of 231 cubic inches, inch of 25.4 mm; "
    "pound of 0.45359237 kg."
)
OBSCURATION = "27 CFR 30.32 and 30.41, US Gauging Manual: solids hide proof."
EU_2003_LABEL = (
    "European Commission, Excipients in the label and package leaflet of medicinal products (2003)."
)
AMWARNV = "Germany, Arzneimittel-Warnhinweisverordnung (AMWarnV), section 2."
BATCH_RECORD = "21 CFR 111.260(f) and 211.188(b)(7): actual yield and percentage of theoretical."
