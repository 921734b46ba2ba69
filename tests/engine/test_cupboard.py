"""Cupboards: every row kept, none guessed."""

from __future__ import annotations

import csv
import io
import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spotplate import datasets
from spotplate.datasets import load_substances
from spotplate.engine import FaultyInputError, find_substance
from spotplate.engine.files.cupboards import cupboard_from_text, read_cupboard
from spotplate.engine.sets import CupboardItem, make_item, parse_amount

DEMO = Path(datasets.__file__).parent / "demo"


def read(text: str) -> list[CupboardItem]:
    return list(cupboard_from_text(text, "cupboard.csv").items)


# --- names ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "meant"),  # CAS numbers and formulas as printed on suppliers' labels
    [
        ("sodium chloride", "sodium chloride"),
        ("Table  Salt", "sodium chloride"),
        ("7647-14-5", "sodium chloride"),
        ("7647–14–5", "sodium chloride"),  # dashes as a word processor makes them
        ("NaCl", "sodium chloride"),
        ("CuSO₄·5H₂O", "copper(II) sulfate pentahydrate"),
        ("CuSO4.5H2O", "copper(II) sulfate pentahydrate"),
        ("CuSO4⋅5H2O", "copper(II) sulfate pentahydrate"),
        ("Epsom salts", "magnesium sulfate heptahydrate"),
    ],
)
def test_a_row_means_the_substance_of_its_name_formula_or_number(written: str, meant: str) -> None:
    item = make_item(written)
    assert item.substance == meant
    assert (item.says, item.suggestions) == ("", ())


@pytest.mark.parametrize(
    ("written", "suggested"),
    [
        ("sodium chlorid", {"sodium chloride"}),
        ("napthalene", {"naphthalene"}),
        ("coper sulphate", {"copper(II) sulfate pentahydrate", "anhydrous copper(II) sulfate"}),
        ("MgSO4", {"magnesium sulfate heptahydrate"}),  # the table has it with crystal water only
        ("sodium nitrite", {"sodium nitrate"}),  # another substance, and poisonous: only ever asked about
        ("deionised water", {"water"}),
        ("silver nitrate solution", {"silver nitrate"}),
    ],
)
def test_a_near_miss_gets_suggestions_and_no_substance(written: str, suggested: set[str]) -> None:
    item = make_item(written)
    assert item.substance == ""
    assert suggested <= {find_substance(name).name for name in item.suggestions}
    assert "did you mean" in item.says


@pytest.mark.parametrize("written", ["chalk", "lime", "polythene", "SiO2"])
def test_a_name_of_several_substances_lists_them_all(written: str) -> None:
    item = make_item(written)
    assert item.substance == ""
    assert len(item.suggestions) >= 2
    assert all(repr(name) in item.says for name in item.suggestions)


@pytest.mark.parametrize("letters", range(3))
def test_no_name_with_a_wrong_letter_is_taken_for_a_substance_unless_it_is_anothers_name(letters: int) -> None:
    every = {name.casefold() for substance in load_substances() for name in substance.names()}
    for substance in load_substances():
        place = (letters + 1) * len(substance.name) // 4
        wrong = f"{substance.name[:place]}q{substance.name[place + 1 :]}"
        if wrong not in every:
            assert make_item(wrong).substance == ""


def test_a_slip_of_one_letter_in_a_long_name_suggests_it() -> None:
    for substance in load_substances():
        if len(substance.name) >= 10:
            place = len(substance.name) // 2
            item = make_item(substance.name[:place] + substance.name[place + 1 :])
            suggested = {find_substance(name).name for name in item.suggestions}
            # Without the blank it is still its name; copper(II) oxide without an I is another substance.
            assert substance.name in suggested or item.substance in (substance.name, "copper(I) oxide"), substance.name


def test_every_suggestion_leads_to_one_substance() -> None:
    for written in ("copper sulphate", "chalk", "chlorid", "candel wax", "soda", "acid", "oxide", "glas", "polythen"):
        for name in make_item(written).suggestions:
            find_substance(name)


def test_a_cas_number_with_a_wrong_digit_is_told_as_such() -> None:
    assert "not a CAS number" in make_item("7647-14-6").says
    assert "not a CAS number" not in make_item("13397-24-5").says  # mineral gypsum: a right number that the table lacks


def test_what_is_only_the_main_part_of_a_product_is_noted() -> None:
    (note,) = make_item("methylated spirits").notes
    assert "main part" in note
    assert "ethanol" in note


def test_a_salt_that_also_comes_with_crystal_water_is_noted() -> None:
    assert any("sodium carbonate decahydrate" in note for note in make_item("sodium carbonate").notes)
    assert not make_item("anhydrous sodium carbonate").notes
    assert not make_item("sucrose").notes  # lactose monohydrate has its formula, with water


@pytest.mark.parametrize(
    ("name", "amount", "remark", "noted"),
    [
        ("sodium hydroxide", "500 mL", "", True),  # a solid by volume
        ("sodium hydroxide", "500 g", "1 mol/L", True),
        ("ammonia", "1 L", "", True),
        ("sodium hydroxide", "500 g", "pellets", False),
        ("ethanol", "1 L", "96 %", False),
        ("glycerol", "500 g", "", False),
        ("sodium chloride", "1 kg", "soluble, Mars brand", False),
    ],
)
def test_a_row_that_reads_like_a_solution_is_noted(name: str, amount: str, remark: str, noted: bool) -> None:
    assert any("solution" in note for note in make_item(name, amount, remark).notes) == noted


# --- amounts -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("250 g", 250, "g"), ("250g", 250, "g"), ("0.5 kg", 500, "g"), ("2,5 L", 2500, "mL"), ("500 mL", 500, "mL"),
        ("500 ML", 500, "mL"), ("2 x 100 g", 200, "g"), ("3×50 mL", 150, "mL"), ("250 cm³", 250, "mL"), ("750 mg", 0.75, "g"),
        ("1 dm3", 1000, "mL"), ("0.250 kg", 250, "g"),
    ],
)  # fmt: skip
def test_masses_and_volumes_are_reckoned_with(text: str, value: float, unit: str) -> None:
    amount = parse_amount(text)
    assert amount is not None
    assert (amount.value, amount.unit) == (pytest.approx(value), unit)


@pytest.mark.parametrize(
    "text",
    ["", "12 pieces", "half a jar", "g", "250", "-5 g", "0 g", "1,500 g", "1e9 g", "5 g 3", "١ kg?", "nan g", "9" * 400 + " g"],
)
def test_what_is_no_clear_mass_or_volume_is_not_guessed(text: str) -> None:
    assert parse_amount(text) is None


def test_an_amount_that_cannot_be_reckoned_with_is_kept_and_noted() -> None:
    item = make_item("graphite", "10 pieces")
    assert item.amount == "10 pieces"
    assert any("'10 pieces'" in note for note in item.notes)


# --- tables --------------------------------------------------------------------------------------

ROWS = [("Substance", "Amount", "Remarks", "shelf"), ("table salt", "1 kg", "dry", "A"), ("fish", "3", "", "B")]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"], ids=["plain", "byte-order mark"])
def test_separators_line_ends_and_byte_order_mark_do_not_matter(
    tmp_path: Path, separator: str, line_end: str, mark: bytes
) -> None:
    path = tmp_path / "cupboard.csv"
    path.write_bytes(mark + line_end.join(separator.join(row) for row in ROWS).encode())
    cupboard = read_cupboard(path)
    salt, fish = cupboard.items
    assert (salt.line, salt.substance, salt.amount, salt.remark, salt.others) == (2, "sodium chloride", "1 kg", "dry", ("A",))
    assert (fish.line, fish.written, fish.substance, fish.others) == (3, "fish", "", ("B",))
    assert cupboard.other_columns == ("shelf",)
    assert cupboard.unmatched() == (fish,)


@pytest.mark.parametrize(
    "header", ["chemical,quantity,notes", "NAME,Stock,Comments", "formula,mass,remark", "CAS,amount,remarks"]
)
def test_columns_go_by_several_names(header: str) -> None:
    (item,) = read(f"{header}\n7647-14-5,5 g,x\n")
    assert (item.substance, item.amount, item.remark) == ("sodium chloride", "5 g", "x")


def test_a_second_column_for_the_substance_is_kept_as_a_further_one() -> None:
    cupboard = cupboard_from_text("formula,substance,amount\nNaCl,table salt,5 g\n", "c.csv")
    assert cupboard.items[0].written == "table salt"
    assert (cupboard.other_columns, cupboard.items[0].others) == (("formula",), ("NaCl",))


def test_doubled_substances_are_told_with_their_rows() -> None:
    cupboard = cupboard_from_text("substance\nwashing soda\nsand\nNa2CO3.10H2O\n", "c.csv")
    assert {name: [item.line for item in items] for name, items in cupboard.doubled().items()} == {
        "sodium carbonate decahydrate": [2, 4]
    }
    assert cupboard.substances() == ("sodium carbonate decahydrate", "sand")


def test_blank_rows_and_empty_ends_of_rows_do_no_harm() -> None:
    first, second = read("substance,amount,remarks,,\nsand\n,,,,\n\n,5 g,label lost\n")
    assert (first.substance, first.amount) == ("sand", "")
    assert (second.line, second.substance, second.says) == (5, "", "no substance is named.")


def test_a_cell_with_line_breaks_or_control_signs_becomes_one_line() -> None:
    (item,) = read('substance,remark\nsand,"two\nlines \x1b[31m and \u202e more"\n')
    assert item.remark == "two lines [31m and more"


@pytest.mark.parametrize("name", ['=HYPERLINK("http://x";"y")', "'=1+1", "<script>alert(1)</script>", "@SUM(A1)", "[bold]x[/]"])
def test_formulas_and_scripts_are_names_that_nothing_is_found_for(name: str) -> None:
    text = io.StringIO()
    csv.writer(text).writerows([["substance"], [name]])
    (item,) = read(text.getvalue())
    assert item.written == name.removeprefix("'")
    assert item.substance == ""


BAD = [
    ("", "empty"),
    ("   \n\n", "empty"),
    (",,,\n,,\n", "no cells"),
    ("substance,amount\n", "no row with a substance"),
    ("table salt,1 kg\nsand,2 kg\n", "no column names the substance"),
    ("substanc,amount\nsand,2 kg\n", "Did you mean 'substance'?"),
    ("substance,amount\nsand,2 kg,dry\n", "line 2: there are 3 cells; the header has 2"),
    ('substance\n"sand\n', "not valid CSV"),
    ("substance\n" + "x" * 501 + "\n", "501 characters"),
    ("substance\n" + "x" * 200_000 + "\n", "not valid CSV"),
    ("substance\n" + "sand\n" * 6000, "more than 5,000 rows"),
    ("substance," + "," * 400_000 + "\nsand\n", None),
]  # fmt: skip


@pytest.mark.parametrize(("text", "says"), BAD, ids=[str(says) for _, says in BAD])
def test_what_is_no_cupboard_gets_one_clear_error_at_once(text: str, says: str | None) -> None:
    begun = time.perf_counter()
    if says is None:
        assert len(read(text)) == 1
    else:
        with pytest.raises(FaultyInputError) as caught:
            read(text)
        (fault,) = caught.value.faults
        assert says in str(fault)
        assert str(fault).startswith("cupboard.csv")
    assert time.perf_counter() - begun < 5


def test_many_odd_rows_are_told_in_a_few_lines() -> None:
    with pytest.raises(FaultyInputError) as caught:
        read("substance,amount\n" + "a,b,c\n" * 1000)
    assert len(caught.value.faults) == 11
    assert "990 more rows" in str(caught.value)


@pytest.mark.parametrize("content", [b"\xff\xfes\0u\0b\0", bytes(range(256)), b"substance\n\0\n", b"substance\nna\xefve\n"])
def test_what_is_no_text_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "cupboard.csv"
    path.write_bytes(content)
    with pytest.raises(FaultyInputError) as caught:
        read_cupboard(path)
    assert len(caught.value.faults) == 1


def test_a_huge_file_a_folder_and_a_missing_file_are_refused(tmp_path: Path) -> None:
    huge = tmp_path / "huge.csv"
    huge.write_bytes(b"substance\n" + b"sand\n" * 300_000)
    for path in (huge, tmp_path, tmp_path / "none.csv"):
        with pytest.raises(FaultyInputError):
            read_cupboard(path)


def test_thousands_of_unknown_names_are_read_in_seconds() -> None:
    begun = time.perf_counter()
    items = read("substance\n" + "".join(f"potassium magnesium phosphate {number}\n" for number in range(2000)))
    assert len(items) == 2000
    assert time.perf_counter() - begun < 30  # about 3 s; a search through all names by all letters takes minutes


_CELLS = st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=30)


@given(st.lists(st.tuples(_CELLS.filter(str.strip), _CELLS, _CELLS), min_size=1, max_size=8))
def test_whatever_is_written_every_row_is_kept(rows: list[tuple[str, str, str]]) -> None:
    text = io.StringIO(newline="")
    writer = csv.writer(text, quoting=csv.QUOTE_ALL)
    writer.writerows([("substance", "amount", "remark"), *rows])
    items = read(text.getvalue())
    assert len(items) == len(rows)
    known = {substance.name for substance in load_substances()} | {""}
    for item in items:
        assert item.substance in known
        assert bool(item.substance) != bool(item.says)
        assert all(cell.isprintable() for cell in (item.written, item.amount, item.remark, item.says, *item.notes))


# --- the demo ------------------------------------------------------------------------------------


def test_the_demo_cupboard_is_a_real_one_with_its_oddities() -> None:
    cupboard = read_cupboard(DEMO / "cupboard.csv")
    table = {substance.name: substance for substance in load_substances()}
    assert 80 <= len(cupboard.items) <= 110
    assert len({table[name].class_ for name in cupboard.substances()}) == 5
    assert {item.written for item in cupboard.unmatched()} == {
        "potasium iodide", "copper sulphate", "sodium thiosulphat", "chalk", "limewater", "zinc granuals", "deionised water",
        "hydrochloric acid", "universal indicator", "napthalene",
    }  # fmt: skip
    assert set(cupboard.doubled()) == {"sodium carbonate decahydrate", "copper", "ethanol"}
    assert all(item.amount for item in cupboard.items)


def test_nothing_in_the_demo_cupboard_is_unfit_for_students_without_a_remark() -> None:
    table = {substance.name: substance for substance in load_substances()}
    for item in read_cupboard(DEMO / "cupboard.csv").items:
        if item.substance and table[item.substance].school_use != "students":
            assert item.remark, item.written
        if item.substance and table[item.substance].school_use == "not in school":
            assert "collection is asked for" in item.remark, item.written
