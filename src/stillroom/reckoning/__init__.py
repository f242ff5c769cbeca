"""Pure arithmetic of the trade, on floats, with the standard library alone.

Everything here is in millilitres, grams, degrees Celsius and % v/v at 20 °C; names carry the unit.
"""
