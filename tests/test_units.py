"""Quantities as text. Factors: NIST SP 811 (2008), appendix B.8, unless a line says otherwise."""

from __future__ import annotations

import math
import re
import subprocess
import sys
from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.unit_table import ATOMS
from oilpath.units import (
    QUANTITIES,
    UNITS,
    QuantityError,
    figure,
    from_unit,
    parse,
    show,
    to_unit,
    unit_of,
)


@pytest.mark.parametrize(
    ("text", "quantity", "expected"),
    [
        ("3.4 s", "time", 3.4),
        ("5 min", "time", 300.0),
        ("34.3 MPa", "pressure", 34.3e6),
        ("34.3MPa", "pressure", 34.3e6),
        ("343 bar", "pressure", 34.3e6),
        ("4975 psi", "pressure", 4975 * 6.894757e3),
        ("350 kgf/cm2", "pressure", 350 * 9.80665e4),
        ("12 mm", "length", 0.012),
        ("0.5 in", "length", 0.0127),
        ("20 m", "distance", 20.0),
        ("54 °C", "temperature", 327.15),
        ("54°C", "temperature", 327.15),
        ("54 degC", "temperature", 327.15),
        ("131 degF", "temperature", 328.15),
        ("131 °F", "temperature", 328.15),
        ("-40 °C", "temperature", 233.15),
        ("-40 °F", "temperature", 233.15),
        ("300 K", "temperature", 300.0),
        ("9 °F", "temperature-difference", 5.0),
        ("1900 rpm", "rotation", 1900 / 60),
        ("1900 rev/min", "rotation", 1900 / 60),
        ("1900 r/min", "rotation", 1900 / 60),
        ("1900 1/min", "rotation", 1900 / 60),
        ("1900 min-1", "rotation", 1900 / 60),
        ("1900 min^-1", "rotation", 1900 / 60),
        ("1900 min⁻¹", "rotation", 1900 / 60),
        ("10 Hz", "rotation", 10.0),
        ("6.283185307179586 rad/s", "rotation", 1.0),
        ("112 cm3/rev", "displacement", 112e-6),
        ("112 cm³/rev", "displacement", 112e-6),
        ("112 cc/rev", "displacement", 112e-6),
        ("112 mL/rev", "displacement", 112e-6),
        ("6.83 in3/rev", "displacement", 6.83 * 1.638706e-5),
        ("24 L/min", "flow", 0.4e-3),
        ("24 l / min", "flow", 0.4e-3),
        ("24 lpm", "flow", 0.4e-3),
        ("6.3 gpm", "flow", 6.3 * 6.309020e-5),
        ("1 m3/h", "flow", 1 / 3600),
        ("2 %", "ratio", 0.02),
        ("2%", "ratio", 0.02),
        ("3 m/km", "ratio", 0.003),
        ("180 deg", "angle", math.pi),
        ("180°", "angle", math.pi),
        ("2 rad", "angle", 2.0),
        ("22 t", "mass", 22000.0),
        ("150 kN", "force", 150e3),
        ("100 hp", "power", 100 * 7.456999e2),
        ("500 N·m", "torque", 500.0),
        ("369 lbf*ft", "torque", 369 * 1.355818),
        ("1 kWh", "energy", 3.6e6),
        ("5.4 km/h", "speed", 1.5),
        ("10 mph", "speed", 4.4704),
        ("10 gal", "volume", 10 * 3.785412e-3),
        ("46 mm²/s", "viscosity-kinematic", 46e-6),
        ("46 cSt", "viscosity-kinematic", 46e-6),
        # how people and programs type it
        ("−3 mm", "length", -0.003),
        ("+3 mm", "length", 0.003),
        ("3\u202fmm", "length", 0.003),
        ("3\xa0mm", "length", 0.003),
        ("  3   mm ", "length", 0.003),
        ("1e3 mm", "length", 1.0),
        ("1e-3mm", "length", 1e-6),
        ("100 µm", "length", 1e-4),  # U+00B5
        ("100 μm", "length", 1e-4),  # U+03BC
        ("54 ºC", "temperature", 327.15),  # the ordinal sign next to it on the keyboard
        ("54 ℃", "temperature", 327.15),
        ("54 ° C", "temperature", 327.15),
        # not in the table: from pint
        ("1 fortnight", "time", 14 * 86400.0),
        ("2 hectare*m", "volume", 2e4),
        ("1 dbar", "pressure", 1e4),
        ("60 arcminute", "angle", math.pi / 180),
    ],
)
def test_reads(text: str, quantity: str, expected: float) -> None:
    assert parse(text, quantity) == pytest.approx(expected, rel=1e-6, abs=1e-12)


REFUSED: list[tuple[object, str, str, str]] = [
    ("3,5 s", "time", "comma", "decimal point"),
    ("1,900 rpm", "rotation", "comma", "decimal point"),
    ("54 C", "temperature", "`C` alone is not a temperature", "°C"),
    ("5 F", "temperature", "`F` alone is not a temperature", "°F"),
    ("54 C", "time", "not a unit of time", "s, min"),
    ("54 °", "temperature", "unit of angle", "°C"),
    ("54 deg", "temperature", "unit of angle", "°C"),
    ("9**9**9 s", "time", "expression", "one number"),
    ("3*4 s", "time", "expression", "one number"),
    ("2^3 s", "time", "expression", "one number"),
    ("3+4 s", "time", "expression", "one number"),
    ("3/4 in", "length", "expression", "one number"),
    ("3 s**9", "time", "expression", "one number"),
    ("(3) s", "time", "start with a number", "4.8 s"),
    ("__import__('os').getcwd() s", "time", "start with a number", "4.8 s"),
    ("3 __import__('os')", "time", "expression", "one number"),
    ("4.8", "time", "no unit", "number and a unit"),
    (" 4.8 ", "time", "no unit", "number and a unit"),
    (4.8, "time", "no unit", "number and a unit"),
    (5, "time", "no unit", "number and a unit"),
    (10**400, "time", "no unit", "number and a unit"),
    (None, "time", "nothing", "4.8 s"),
    (True, "time", "true or false", "4.8 s"),
    (["4 s"], "time", "a list", "4.8 s"),
    ({"value": 4}, "time", "a mapping", "4.8 s"),
    (b"4 s", "time", "as text", "4.8 s"),
    (math.nan, "time", "NaN", "4.8 s"),
    (math.inf, "pressure", "NaN", "34.3 MPa"),
    ("nan s", "time", "NaN", "4.8 s"),
    ("-inf MPa", "pressure", "NaN", "34.3 MPa"),
    (".nan", "pressure", "NaN", "34.3 MPa"),
    ("∞ MPa", "pressure", "NaN", "34.3 MPa"),
    ("5 s", "pressure", "unit of time; a pressure is expected", "34.3 MPa"),
    ("5 MPa", "time", "unit of pressure; a time is expected", "4.8 s"),
    ("5 °C", "time", "unit of temperature", "4.8 s"),
    ("112 cm3", "displacement", "not one per revolution", "cm3/rev"),
    ("5 kg/cm2", "pressure", "not a unit of pressure", "MPa"),
    ("5 kV", "pressure", "not a unit of pressure", "MPa"),
    ("34 mpa", "pressure", "did you mean `MPa`", "MPa"),
    ("5 Sec", "time", "did you mean `sec`", "s, min"),
    ("5 xyzzy", "time", "`xyzzy` is not a unit", "s, min"),
    ("5 dBm", "power", "not a unit", "kW"),
    ("5 kJ/°C", "energy", "not a unit", "kJ"),
    ("2 pi", "ratio", "not a unit", "%"),
    ("", "time", "empty", "4.8 s"),
    (" \xa0", "time", "empty", "4.8 s"),
    ("s", "time", "start with a number", "4.8 s"),
    ("~3 s", "time", "start with a number", "4.8 s"),
    ("٣ s", "time", "start with a number", "4.8 s"),
    ("½ in", "length", "start with a number", "12 mm"),
    ("1½ in", "length", "not a unit", "12 mm"),
    ("10² s", "time", "not a unit", "4.8 s"),
    ("0x10 s", "time", "not a unit", "4.8 s"),
    (".5 s", "time", "decimal point", "0.5"),
    ("5. s", "time", "decimal point", "0.5"),
    ("1e400 s", "time", "bounds", "4.8 s"),
    ("1e31 s", "time", "bounds", "4.8 s"),
    ("1e-31 s", "time", "bounds", "4.8 s"),
    ("1e" + "9" * 50 + " s", "time", "bounds", "4.8 s"),
    ("9" * 60 + " s", "time", "bounds", "4.8 s"),
    ("9" * 5000 + " s", "time", "5,002 characters", "4.8 s"),
    ("3-4 s", "time", "range", "one value"),
    ("3 – 4 s", "time", "range", "one value"),
    ("3 to 4 s", "time", "range", "one value"),
    ("3.4 ± 0.1 s", "time", "tolerance", "one value"),
    ("3.4 +/- 0.1 s", "time", "tolerance", "one value"),
    ("5 min 30 s", "time", "second number", "one number"),
    ("1 900 rpm", "rotation", "second number", "1900 rpm"),
    ("3:20 min", "time", "colon", "4.8 s"),
    ("-300 °C", "temperature", "absolute zero", "above"),
    ("3 s^99", "time", "not a unit", "4.8 s"),
    ("3 s0", "time", "not a unit", "4.8 s"),
    ("3 m*m*m*m/m/m/m", "length", "not a unit", "12 mm"),
    ("3 " + "m*" * 30 + "m", "length", "not a unit", "12 mm"),
    ("3 s/", "time", "not a unit", "4.8 s"),
    ("3 1/1/min", "rotation", "not a unit", "1900 rpm"),
    ("3 s\nx: y", "time", "not a unit", "4.8 s"),
    ("3 \ud800", "time", "not a unit", "4.8 s"),
]


@pytest.mark.parametrize(("text", "quantity", "says", "wants"), REFUSED)
def test_says_what_is_wrong_and_what_is_wanted(text: object, quantity: str, says: str, wants: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse(text, quantity)
    assert says in caught.value.message
    assert wants in caught.value.accepted
    assert str(caught.value).isprintable()
    assert len(caught.value.message) < 120


def test_every_example_and_sample_reads_as_its_own_kind() -> None:
    for name, kind in QUANTITIES.items():
        assert math.isfinite(parse(kind.sample, name))
        for unit in kind.examples:
            assert parse(f"300 {unit}", name) > 0


_PINT_SPELLS = {"gpm": "gallon/min", "cc/rev": "cm3/rev", "°": "degree"}


def test_kinds_without_an_offset_agree_with_pint() -> None:
    registry: Any = pint.UnitRegistry()
    for name, si in {"time": "s", "length": "m", "pressure": "Pa", "flow": "m**3/s", "torque": "N*m", "speed": "m/s",
                     "angle": "rad", "volume": "m**3", "rotation": "revolution/s", "displacement": "m**3/revolution",
                     "temperature": "K", "power": "W", "mass": "kg", "force": "N", "energy": "J",
                     "viscosity-kinematic": "m**2/s"}.items():  # fmt: skip
        for unit in QUANTITIES[name].examples:
            if unit == "1/min":  # counts revolutions here, a plain frequency there
                continue
            expression = re.sub(r"(?<=[a-z])(?=[23])", "**", _PINT_SPELLS.get(unit, unit)).replace("rev", "revolution")
            number = registry.Quantity(7.0, registry.parse_units(expression)).to(si).magnitude
            assert parse(f"7 {unit}", name) == pytest.approx(number, rel=1e-12), (name, unit)


def test_answers_are_in_the_agreed_units() -> None:
    assert {name: unit_of(name) for name in ("time", "length", "distance", "pressure", "flow", "temperature")} == {
        "time": "s", "length": "mm", "distance": "m", "pressure": "MPa", "flow": "L/min", "temperature": "°C",
    }  # fmt: skip
    assert (unit_of("rotation"), unit_of("angle"), unit_of("ratio")) == ("rpm", "deg", "%")
    assert set(UNITS) == set(QUANTITIES)


@pytest.mark.parametrize(
    ("value", "quantity", "text"),
    [
        (4.76666, "time", "4.77 s"),
        (14.0, "time", "14 s"),
        (0.009, "length", "9 mm"),
        (-0.4, "distance", "-0.4 m"),
        (34.3e6, "pressure", "34.3 MPa"),
        (327.15, "temperature", "54 °C"),
        (1900 / 60, "rotation", "1900 rpm"),
        (5.97e-3, "flow", "358 L/min"),
        (112e-6, "displacement", "112 cm3/rev"),
        (0.06, "ratio", "6 %"),
        (math.pi / 6, "angle", "30 deg"),
        (-0.0, "time", "0 s"),
        (1e9, "time", "1000000000 s"),
        (1e-9, "time", "0.000000001 s"),
    ],
)
def test_shows(value: float, quantity: str, text: str) -> None:
    assert show(value, quantity) == text
    assert parse(text, quantity) == pytest.approx(value, rel=5e-3)


def test_shows_in_another_unit() -> None:
    assert show(34.3e6, "pressure", 4, unit="psi") == "4975 psi"
    assert show(327.15, "temperature", unit="°F") == "129 °F"
    with pytest.raises(QuantityError):
        to_unit(1.0, "xyzzy")


def test_figures() -> None:
    assert figure(0.123456789) == "0.123"
    assert figure(1234567.0) == "1230000"
    assert figure(0.1, None) == "0.1"
    assert figure(1e22, None) == "10000000000000000000000"
    assert figure(-0.00001, 1) == "-0.00001"
    for bad in (math.nan, math.inf):
        with pytest.raises(ValueError, match="finite"):
            figure(bad)


FINITE = st.floats(-1e9, 1e9, allow_subnormal=False)


@given(FINITE, st.sampled_from([(name, unit) for name, kind in QUANTITIES.items() for unit in kind.examples]))
def test_round_trip_of_every_unit(number: float, pair: tuple[str, str]) -> None:
    name, unit = pair
    if abs(number) < 1e-20 or name == "temperature":
        number = abs(number)
    si = parse(f"{figure(number, None)} {unit}"[:100], name) if abs(number) > 1e-9 else from_unit(number, unit)
    if name != "temperature-difference":  # there to_unit would take a temperature
        assert from_unit(to_unit(si, unit), unit) == pytest.approx(si, rel=1e-12, abs=1e-12)
        if abs(number) > 1e-9:
            assert to_unit(si, unit) == pytest.approx(number, rel=1e-12, abs=1e-9)


@given(FINITE, st.sampled_from(sorted(QUANTITIES)))
def test_what_is_shown_reads_back(value: float, quantity: str) -> None:
    if quantity == "temperature":
        value = abs(value)
    text = show(value, quantity, 12)
    assert len(text.split()[0]) > 40 or parse(text, quantity) == pytest.approx(value, rel=1e-9, abs=1e-6)


UNIT_LIKE = st.lists(
    st.sampled_from([*sorted(ATOMS), *"*/^·()°%0123456789.,-+eE \xa0\n", "**", "fortnight", "1/", "C", "F", "³"]),
    max_size=8,
).map("".join)


@given(
    st.one_of(
        st.text(max_size=120),
        st.builds("{} {}".format, st.floats(), UNIT_LIKE),
        st.builds("{}{}".format, st.integers(-(10**12), 10**12), UNIT_LIKE),
        UNIT_LIKE,
    ),
    st.sampled_from(sorted(QUANTITIES)),
)
def test_any_text_is_a_finite_number_or_a_quantity_error(text: str, quantity: str) -> None:
    try:
        value = parse(text, quantity)
    except QuantityError as error:
        value, said = 0.0, str(error)
    else:
        said = "a number"
    assert math.isfinite(value)
    assert said
    assert said.isprintable()


@given(st.sampled_from(sorted(QUANTITIES)), st.from_regex(r"[0-9]{1,3} [a-zA-Z]{2,8}", fullmatch=True))
def test_any_word_as_a_unit(quantity: str, text: str) -> None:
    try:
        value = parse(text, quantity)
    except QuantityError as error:
        value, wanted = 0.0, error.accepted
    else:
        wanted = "a number"
    assert math.isfinite(value)
    assert wanted


def test_importing_loads_nothing_heavy() -> None:
    program = "import sys, oilpath.units; print([m for m in ('pint', 'numpy', 'pydantic', 'yaml') if m in sys.modules])"
    loaded = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True, env=_env())
    assert loaded.stdout.strip() == "[]"


def test_common_units_need_no_pint() -> None:
    program = (
        "import sys\nfrom oilpath.units import QUANTITIES, parse\n"
        "for name, kind in QUANTITIES.items():\n    for unit in kind.examples: parse(f'300 {unit}', name)\n"
        "print('pint' in sys.modules)"
    )
    loaded = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True, env=_env())
    assert loaded.stdout.strip() == "False"


def _env() -> dict[str, str]:
    import os
    from pathlib import Path

    import oilpath

    return {**os.environ, "PYTHONPATH": str(Path(oilpath.__file__).parents[1]), "PYTHONUTF8": "1"}
