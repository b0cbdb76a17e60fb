"""The check digit of 49 CFR 565.15(c), against the rule's own examples and another library."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from vininfo import Vin

from builds.engineering.errors import OutOfRange
from builds.engineering.vin import check_digit, model_years, read_vin

VALUES = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ"
WHOLE = [
    "1M8GDM9AXKP042788",  # well-known example (from memory)
    "11111111111111111",
    "1G4AH59H45G118341",  # 49 CFR 565.15(c), Table V
    "1J9RP1A36A1644345",  # NHTSA outline for new manufacturers, p. 18
    "5GZCZ43D13S812715",
]
vins = st.text(alphabet=VALUES, min_size=17, max_size=17)


@pytest.mark.parametrize("vin", WHOLE)
def test_numbers_from_the_rule_fit(vin: str) -> None:
    assert check_digit(vin) == vin[8]
    assert read_vin(vin).fits


# The second differs from a whole number by S for 5 in the first place: by the table 384, remainder 10, hence X.
@pytest.mark.parametrize(("vin", "digit"), [("1M8GDM9A0KP042788", "X"), ("SGZCZ43D13S812715", "X")])
def test_numbers_with_an_error_do_not_fit(vin: str, digit: str) -> None:
    reading = read_vin(vin)

    assert not reading.fits
    assert reading.computed == digit
    assert [message.code for message in reading.messages] == ["vin-check-digit"]


@given(vins)
def test_another_library_agrees_on_the_check_digit(vin: str) -> None:
    # "111" is no maker it knows, so that it judges the digits alone; it would refuse year codes of its own accord
    number = "111" + vin[3:]

    assert (check_digit(number) == number[8]) is Vin(number).verify_checksum(check_year=False)


@given(vins, st.integers(0, 16), st.sampled_from(VALUES))
def test_one_wrong_character_of_another_value_is_caught(vin: str, at: int, other: str) -> None:
    whole = vin[:8] + check_digit(vin) + vin[9:]
    changed = whole[:at] + other + whole[at + 1 :]

    same_value = check_digit("1" * 16 + other) == check_digit("1" * 16 + whole[at])
    if at == 8:
        assert read_vin(changed).fits is (other == whole[8])
    elif same_value:
        assert read_vin(changed).fits  # A, J and 1 count the same: the digit cannot see it
    else:
        assert not read_vin(changed).fits


def test_small_letters_and_spaces_are_put_right() -> None:
    assert read_vin(" 1g4ah59h4 5g118341 ").vin == "1G4AH59H45G118341"


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        ("1G4AH59H45G11834", ["vin-length"]),
        ("1G4AH59H45G11834O", ["vin-characters"]),
        ("1G4AH59H45G11834-1", ["vin-length", "vin-characters"]),
        ("", ["vin-length"]),
    ],
)
def test_what_is_no_vin_is_said_in_words(text: str, codes: list[str]) -> None:
    reading = read_vin(text)

    assert [message.code for message in reading.messages] == codes
    assert not reading.fits and reading.computed == "" and reading.model_years == ()


def test_a_position_ten_that_is_no_year_is_said() -> None:
    vin = "1G4AH59H4UG118341"
    whole = vin[:8] + check_digit(vin) + vin[9:]

    assert [message.code for message in read_vin(whole).messages] == ["vin-model-year"]


# 49 CFR 565.15(d): A is 1980 and 2010, Y 2000 and 2030, 1 is 2001 and 2031; position 7 tells the cycle.
@pytest.mark.parametrize(
    ("code", "seventh", "heavy", "years"),
    [
        ("A", "9", False, (1980,)),
        ("A", "A", False, (2010,)),
        ("Y", "0", False, (2000,)),
        ("1", "X", False, (2031,)),
        ("9", "5", False, (2009,)),
        ("R", "5", True, (1994, 2024)),
        ("U", "5", False, ()),
        ("Z", "5", False, ()),
        ("0", "5", False, ()),
    ],
)
def test_model_year_by_code_and_cycle(code: str, seventh: str, heavy: bool, years: tuple[int, ...]) -> None:
    assert model_years(f"111111{seventh}11{code}1111111", heavy=heavy) == years


def test_too_short_for_a_year_is_out_of_range() -> None:
    with pytest.raises(OutOfRange):
        model_years("1G4AH59H4")


def test_a_check_digit_of_something_else_is_out_of_range() -> None:
    with pytest.raises(OutOfRange):
        check_digit("1G4AH59H45G11834I")
