"""The table of units against pint (its own source: CODATA and NIST definitions), and the table's generator.

Run as a program (`python tests/test_unit_table.py`) to write the table anew.
"""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import Any

import pint
import pytest

from oilpath.unit_table import ATOMS

BASES = ("meter", "kilogram", "second", "kelvin", "radian")

# What the trade writes -> the same for pint, many spellings on a line.
SPELLINGS = {
    "meter": "m meter meters metre metres",
    "kilometer": "km",
    "decimeter": "dm",
    "centimeter": "cm",
    "millimeter": "mm",
    "micrometer": "um μm",
    "inch": "in inch inches",
    "foot": "ft foot feet",
    "yard": "yd yard yards",
    "mile": "mi mile miles",
    "thou": "thou mil",
    "second": "s sec secs second seconds",
    "millisecond": "ms",
    "microsecond": "us μs",
    "minute": "min mins minute minutes",
    "hour": "h hr hrs hour hours",
    "day": "d day days",
    "radian": "rad radian radians",
    "milliradian": "mrad",
    "degree": "deg ° degree degrees",
    "revolution": "rev revs revolution revolutions turn turns r",
    "revolution/minute": "rpm RPM",
    "revolution/second": "rps",
    "hertz": "Hz",
    "pascal": "Pa",
    "hectopascal": "hPa",
    "kilopascal": "kPa",
    "megapascal": "MPa",
    "gigapascal": "GPa",
    "millibar": "mbar",
    "bar": "bar bars Bar",
    "pound_force/inch**2": "psi PSI",
    "kilopound_force/inch**2": "ksi",
    "standard_atmosphere": "atm",
    "technical_atmosphere": "at",
    "millimeter_Hg": "mmHg",
    "inch_Hg": "inHg",
    "torr": "Torr torr",
    "liter": "l L liter liters litre litres",
    "centiliter": "cl cL",
    "deciliter": "dl dL",
    "milliliter": "ml mL",
    "microliter": "ul uL μl μL",
    "centimeter**3": "cc ccm",
    "gallon": "gal gallon gallons",  # the US gallon
    "imperial_gallon": "impgal",
    "quart": "qt quart quarts",
    "pint": "pt",
    "gallon/minute": "gpm GPM",
    "liter/minute": "lpm LPM",
    "foot**3/minute": "cfm CFM",
    "kilogram": "kg",
    "gram": "g",
    "milligram": "mg",
    "metric_ton": "t tonne tonnes",
    "pound": "lb lbs",
    "ounce": "oz",
    "newton": "N",
    "kilonewton": "kN",
    "meganewton": "MN",
    "decanewton": "daN",
    "pound_force": "lbf",
    "kilogram_force": "kgf kp",
    "newton*meter": "Nm",
    "kilonewton*meter": "kNm",
    "decanewton*meter": "daNm",
    "watt": "W",
    "kilowatt": "kW",
    "megawatt": "MW",
    "horsepower": "hp HP",
    "metric_horsepower": "PS",
    "joule": "J",
    "kilojoule": "kJ",
    "megajoule": "MJ",
    "watt*hour": "Wh",
    "kilowatt*hour": "kWh",
    "stokes": "St",
    "centistokes": "cSt",
    "kilometer/hour": "kph kmh",
    "mile/hour": "mph",
    "percent": "% percent pct",
    "permille": "‰",
    "ppm": "ppm",
    "kelvin": "K kelvin",
}


def in_bases(registry: Any, expression: str) -> tuple[float, tuple[int, ...]]:
    """Factor to m, kg, s, K and turns, and the exponents of those, all from pint."""
    root = registry.Quantity(Decimal(1), expression).to_root_units()
    exponents = {base: int(power) for base, power in root.unit_items()}
    grams = exponents.pop("gram", 0)  # pint's root of mass
    exponents["kilogram"] = exponents.get("kilogram", 0) + grams
    turn = registry.Quantity(Decimal(1), "revolution").to("radian").magnitude
    factor = root.magnitude * Decimal("0.001") ** grams / turn ** exponents.get("radian", 0)
    assert set(exponents) <= set(BASES), expression
    return float(factor), tuple(exponents.get(base, 0) for base in BASES)


@pytest.fixture(scope="module")
def registry() -> Any:
    return pint.UnitRegistry(non_int_type=Decimal)


def test_every_factor_and_dimension_is_that_of_pint(registry: Any) -> None:
    told = {name: expression for expression, names in SPELLINGS.items() for name in names.split()}
    assert set(ATOMS) == set(told)
    for name, expression in told.items():
        factor, dimension = in_bases(registry, expression)
        assert ATOMS[name][0] == pytest.approx(factor, rel=1e-12), name
        assert ATOMS[name][1] == dimension, name


def test_definitions_that_do_not_come_from_pint() -> None:
    # NIST SP 811 (2008), appendix B.8: exact or as printed there.
    assert ATOMS["in"][0] == 0.0254
    assert ATOMS["gal"][0] == pytest.approx(3.785412e-3, rel=1e-6)
    assert ATOMS["psi"][0] == pytest.approx(6.894757e3, rel=1e-6)
    assert ATOMS["gpm"][0] == pytest.approx(6.309020e-5, rel=1e-6)
    assert ATOMS["kgf"][0] == 9.80665
    assert ATOMS["cSt"][0] == pytest.approx(1e-6, rel=1e-12)
    assert ATOMS["hp"][0] == pytest.approx(7.456999e2, rel=1e-6)


def write() -> None:
    """Write the table into the package."""
    registry: Any = pint.UnitRegistry(non_int_type=Decimal)
    target = Path(__file__).resolve().parents[1] / "engine/oilpath/documents/unit_table.py"
    head = target.read_text(encoding="utf-8").split("ATOMS:")[0]
    rows = []
    for expression, names in SPELLINGS.items():
        factor, dimension = in_bases(registry, expression)
        rows += [f'    "{name}": ({factor!r}, {dimension}),  # {expression}\n' for name in names.split()]
    body = "ATOMS: Final[dict[str, tuple[float, tuple[int, int, int, int, int]]]] = {\n" + "".join(rows) + "}\n"
    target.write_text(head + body, encoding="utf-8")


if __name__ == "__main__":
    write()
