"""A person's own tables of index, sent with the question that names them."""

import pytest

TABLE = "wavelength_nm,n,k\n350,2.4,0\n800,2.2,0\n"
STACK = '"mine.csv" 45nm / Ti'


def test_a_table_is_used_where_a_stack_names_it(ask):
    own = ask("look", stack=STACK, tables={"mine.csv": TABLE})["answer"]
    flat = ask("look", stack="n=2.3 45nm / Ti")["answer"]
    assert own["reflected"]["Y"] == pytest.approx(flat["reflected"]["Y"], abs=1.0)
    assert "mine.csv" in own["stack"]


def test_a_film_may_be_a_table_when_its_thickness_is_asked(ask):
    found = ask("gauge", film='"mine.csv"', on="Ti", seen=["purple"], tables={"mine.csv": TABLE})
    assert found["answer"]["candidates"][0]["thickness_nm"] > 10


def test_a_form_and_its_command_name_the_table_as_it_was_sent(ask):
    asked = {"verb": "look", "given": {"stack": STACK}, "files": {}, "tables": {"mine.csv": TABLE}}
    found = ask("verb", **asked)
    assert found["command"] == """oxhue look -- '"mine.csv" 45nm / Ti'"""
    assert ask("verb", **asked, face="chart")["chart"].startswith("<svg")


@pytest.mark.parametrize(
    ("tables", "said"),
    [
        ({}, "a file cannot be named here"),
        ({"other.csv": TABLE}, "a file cannot be named here"),
        ({"mine.csv": "nonsense"}, "mine.csv"),
        ({"mine.csv": 7}, "must be a text"),
        ({"mine.csv": "x" * 300_000}, "at most 200,000 characters"),
        ({"../mine.csv": TABLE}, "named in letters"),
        ({f"t{i}.csv": TABLE for i in range(9)}, "at most 8"),
        ([TABLE], "must be a table"),
    ],
)
def test_what_is_no_table_is_refused(ask, tables, said):
    refused = ask("look", stack=STACK, tables=tables)["refused"]
    assert said in refused
    assert "/tmp" not in refused


def test_a_table_sent_once_is_not_there_for_others(ask):
    ask("look", stack=STACK, tables={"mine.csv": TABLE})
    assert "a file cannot be named" in ask("look", stack=STACK)["refused"]
