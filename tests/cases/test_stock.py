"""A shop's own stock list: headings, units, decimal signs, encodings; what is wrong is named by line."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.cases.stock import StockSource, read_stock, remember, remembered
from diagnose.cases.stock_sizes import decimal_sign, plain_number, size_given, size_of
from diagnose.errors import InputError, StoppedClockError, UsageError
from diagnose.model.reading import read_knowledge
from diagnose.settings import demo_folder

PARTS = read_knowledge(check=False).parts
SPRING = PARTS["suspension-spring"]
THICKNESS = next(each for each in SPRING.dimensions if each.short == "thickness")
MASS = PARTS["weight"].dimensions[0]
GERMAN = {"thickness": "Dicke", "width": "Breite", "item": "Artikel"}


def written(tmp_path, text, encoding="utf-8", **how):
    path = tmp_path / "stock.csv"
    path.write_bytes(text.encode(encoding))
    return read_stock(StockSource(str(path), **how), SPRING)


def thicknesses(listed):
    return {item.name: round(item.sizes["thickness"].value, 4) for item in listed.items}


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize(
    "text",
    [
        "Artikel;Dicke;Breite;Länge\nA;0,10;10,0;25\nB;0,15;12,0;25\n",
        "Artikel\tDicke\tBreite\tLänge\r\nA\t0.10\t10.0\t25\r\nB\t0.15\t12.0\t25\r\n",
        'Artikel,Dicke,Breite,Länge\nA,"0,10","10,0",25\nB,"0,15","12,0",25\n',
        "Artikel|Dicke|Breite|Länge\n\nA|0.10|10.0|25\n|||\nB|0.15|12.0|25",
    ],
)
def test_a_list_is_read_however_it_was_saved(tmp_path, text, encoding):
    listed = written(tmp_path, text, encoding, columns=GERMAN)
    assert thicknesses(listed) == {"A": 0.10, "B": 0.15}
    assert listed.items[1].sizes["width"].value == 12
    assert listed.skipped == ()
    assert listed.unread == ("Länge",)


def test_headings_that_are_called_as_the_sizes_need_no_mapping(tmp_path):
    listed = written(tmp_path, "item,Leaf thickness (thou),width [mm],Length in mm\nA,4,10,25\n")
    assert thicknesses(listed) == {"A": pytest.approx(0.1016)}
    assert listed.items[0].sizes["free-length"].value == 25
    assert listed.items[0].sizes["thickness"].half_width == pytest.approx(0.0127)


@pytest.mark.parametrize(
    ("cell", "unit", "sign", "value", "half"),
    [
        ("0.10", "mm", ".", 0.10, 0.005),
        ("0,10 mm", "mm", ",", 0.10, 0.005),
        (".1", "mm", None, 0.1, 0.05),
        ("4 thou", "mm", None, 0.1016, 0.0127),
        ("0.004 in", "mm", ".", 0.1016, 0.0127),
        ('1/64"', "mm", None, 0.396875, 0.1984375),
        ("5/64", "in", None, 1.984375, 0.1984375),
        ("0.10 ± 0.01", "mm", ".", 0.10, 0.01),
        ("0.10 +/- 0.01 mm", "in", ".", 0.10, 0.01),
        ("0,09..0,11", "mm", ",", 0.10, 0.01),
        ("0.09 - 0.11 mm", "in", ".", 0.10, 0.01),
    ],
)
def test_a_size_is_read_with_its_unit_and_its_printed_tolerance(cell, unit, sign, value, half):
    free = THICKNESS.model_copy(update={"usual_from": None, "usual_to": None})
    size = size_of(cell, free, unit, sign)
    assert size.value == pytest.approx(value)
    assert size.half_width == pytest.approx(half)


def test_a_tolerance_in_a_column_of_its_own_is_taken():
    assert size_of("0.10", THICKNESS, "mm", ".", "± 0.02").half_width == pytest.approx(0.02)


def test_masses_are_read_in_grams_and_pounds():
    assert size_of("3500 g", MASS, "kg", ".").value == pytest.approx(3.5)
    # The international pound is 0.45359237 kg exactly (NIST Handbook 44, appendix C, from memory).
    assert size_given("10 lb", MASS)[0] == pytest.approx(4.5359237)


@pytest.mark.parametrize(
    ("text", "sign", "plain"),
    [("1.250,5", None, "1250.5"), ("1,250.5", None, "1250.5"), ("2.500", ".", "2.500"), ("2.500", ",", "2500"),
     ("1.250.000", None, "1250000"), ("0,125", None, "0.125"), ("12,5", None, "12.5")],
)  # fmt: skip
def test_thousands_and_decimals_are_told_apart(text, sign, plain):
    assert plain_number(text, sign) == plain


def test_a_number_that_may_be_read_in_two_ways_is_not_guessed():
    with pytest.raises(InputError, match="'2,500' may be thousands or decimals"):
        plain_number("2,500", None)


def test_the_decimal_sign_of_a_list_follows_from_its_numbers():
    assert decimal_sign(["2,500", "0,35"], ";") == ","
    assert decimal_sign(["2.500", "17.25"], ";") == "."
    assert decimal_sign(["2.500"], ";") is None
    assert decimal_sign(["1,5", "1.5"], ";") is None
    assert decimal_sign(["2.500"], ",") == "."


def test_a_bad_row_is_named_with_its_line_and_all_others_stay(tmp_path):
    text = "Artikel;Dicke;Breite\nA;0,10;10,0\nB;thin;10,0\nC;;\nD;-0,1;10,0\nE;0,15 km;10,0\nF;0,12;11,0\nG;4,5;10,0\n"
    listed = written(tmp_path, text, columns=GERMAN)
    assert thicknesses(listed) == {"A": 0.10, "F": 0.12}
    assert [row.partition(": ")[0] for row in listed.skipped] == [f"stock.csv:{line}" for line in (3, 4, 5, 6, 8)]
    assert "thickness: 'thin' is no size" in listed.skipped[0]
    assert "no size stands in this row" in listed.skipped[1]
    assert "'km' is no unit" in listed.skipped[3]
    assert "far from the usual 0.05 to 0.2 mm" in listed.skipped[4]


def test_a_line_inside_quotes_does_not_put_the_lines_out(tmp_path):
    text = 'Artikel;Dicke;Breite;Note\nA;0,10;10,0;"one\ntwo"\nB;thin;10,0;\n'
    listed = written(tmp_path, text, columns=GERMAN)
    assert listed.items[0].note == "one\ntwo"
    assert listed.skipped[0].startswith("stock.csv:4: ")


def test_a_size_that_is_left_out_leaves_the_rest_of_its_row(tmp_path):
    (item,) = written(tmp_path, "Artikel;Dicke;Breite\nA;0,10;\n", columns=GERMAN).items
    assert set(item.sizes) == {"thickness"}


def test_only_the_rows_of_this_part_are_taken(tmp_path):
    text = "Artikel;Art;Dicke;Breite\nA;Feder;0,10;10\nB;Kabel;1,2;0\n"
    listed = written(tmp_path, text, columns=GERMAN, rows="Art=Feder")
    assert [item.name for item in listed.items] == ["A"]
    assert listed.skipped == ()


@pytest.mark.parametrize(
    ("how", "error", "said"),
    [
        ({"columns": {"thickness": "Dike"}}, UsageError, "no heading 'Dike'; did you mean Dicke"),
        (
            {"columns": {"thicknes": "Dicke"}},
            UsageError,
            "'thicknes' is no dimension of this part; did you mean thickness",
        ),
        ({}, InputError, "no heading names a size of this part: Artikel, Dicke, Breite"),
        ({"columns": GERMAN, "unit": "km"}, UsageError, "'km' is no unit"),
        ({"columns": GERMAN, "rows": "Feder"}, UsageError, "'Feder' is no choice of rows"),
    ],
)
def test_a_wrong_mapping_says_what_there_is(tmp_path, how, error, said):
    with pytest.raises(error, match=r".") as caught:
        written(tmp_path, "Artikel;Dicke;Breite\nA;0,10;10,0\n", **how)
    assert said in str(caught.value)


@pytest.mark.parametrize("data", [b"", b"a;b\n", b"PK\x03\x04\x00\x00binary", b"\xff\xfe"])
def test_what_is_no_list_is_refused_with_what_to_do(tmp_path, data):
    path = tmp_path / "stock.csv"
    path.write_bytes(data)
    with pytest.raises(InputError, match="Save the list as CSV"):
        read_stock(StockSource(str(path)), SPRING)


def test_a_list_that_is_not_there_is_named(tmp_path):
    with pytest.raises(InputError, match=r"nowhere\.csv"):
        read_stock(StockSource(str(tmp_path / "nowhere.csv")), SPRING)


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=30))
def test_whatever_stands_in_a_cell_is_a_size_or_one_sentence(text):
    try:
        size = size_of(text, THICKNESS, "mm", None)
    except StoppedClockError as error:
        assert str(error)
    else:
        assert size.value > 0
        assert size.half_width >= 0


def test_how_a_list_is_read_is_remembered_for_each_part(tmp_path, monkeypatch):
    monkeypatch.setenv("STOPPED_CLOCK_DATA", str(tmp_path / "data"))
    assert remembered("suspension-spring") is None
    source = StockSource(str(tmp_path / "a.csv"), GERMAN, "thou", "Art=Feder")
    remember("suspension-spring", source)
    remember("cable", StockSource(str(tmp_path / "b.csv")))
    assert remembered("suspension-spring") == source
    (tmp_path / "data" / "stock.json").write_text("{")
    with pytest.raises(InputError, match="Delete it"):
        remembered("cable")


def test_the_demo_list_of_hazel_row_is_read_whole_but_for_two_rows():
    columns = {"thickness": "Dicke (mm)", "width": "Breite (mm)", "item": "Artikel", "block": "Block (mm)"}
    listed = read_stock(StockSource(str(demo_folder() / "hazel-row-springs.csv"), columns), SPRING)
    assert len(listed.items) == 8
    assert [row.partition(": ")[0] for row in listed.skipped] == [f"hazel-row-springs.csv:{line}" for line in (10, 11)]
