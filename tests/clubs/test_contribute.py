"""`rules contribute`: one anonymous row, shown before it is written, appended whole, never twice the same."""

import csv
import json
import re
from concurrent.futures import ThreadPoolExecutor

import pytest
import yaml
from click.testing import CliRunner
from club_kit import FIRST, HEADER, proven_bow, table_of

import shaftwright
from shaftwright.answers.contribute import contribution
from shaftwright.cli.main import cli
from shaftwright.errors import InputError, NoAnswer
from shaftwright.files.tuned import append_tuned, load_tuned
from shaftwright.inference.rig_facts import rig_facts

pytestmark = pytest.mark.slow


def run(*args, **more):
    return CliRunner().invoke(cli, ["rules", "contribute", *map(str, args)], **more)


def rows_of(path):
    with open(path, encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_a_row_says_nothing_of_whose_it_is(tmp_path):
    bow = proven_bow(tmp_path)
    assert run(bow, "--yes").exit_code == 0
    text = (bow / "tuned_rigs.csv").read_text(encoding="utf-8").lower()
    rig = yaml.safe_load((bow / "rig.yaml").read_text())
    for told in (
        "john",
        "secret",
        "p175",
        "i25",
        "windy",
        "2026",
        "heron",
        "marsh",
        str(rig["bow"]["limbs_id"]).lower(),
    ):
        assert told not in text, told
    assert not re.search(r"\d{4}-\d\d-\d\d", text)
    assert not re.search(r"hand|purpose|note|remark|price", text)


def test_the_row_is_the_bow_and_the_arrow_as_they_are(tmp_path):
    bow = proven_bow(tmp_path)
    run(bow, "--yes")
    (arrow,) = load_tuned(bow / "tuned_rigs.csv").arrows
    assert (arrow.reads, arrow.seen_with) == ("straight", "bare_shaft")
    assert (arrow.build.spine_mils, arrow.build.length_in, arrow.build.front_gr) == (500, 29.5, 200)
    assert arrow.build.tail_gr == 17
    asked = shaftwright.open(bow).scenario
    ours, theirs = rig_facts(asked.rig), rig_facts(arrow.rig)
    assert {k for k in ours if ours[k] != theirs[k]} <= {
        "draw_length_in",
        "brace_beyond_usual_in",
        "string_mass_gr",
    }
    assert theirs["draw_length_in"] == pytest.approx(ours["draw_length_in"], abs=1 / 16)
    assert rows_of(bow / "tuned_rigs.csv")[0]["source"] == "proven: 3 ends"


def test_the_row_can_be_fitted_and_scored(tmp_path):
    bow = proven_bow(tmp_path)
    run(bow, "--yes")
    for command in ("fit", "score"):
        said = CliRunner().invoke(cli, ["rules", command, str(bow / "tuned_rigs.csv")])
        assert said.exit_code == 0, said.output
        assert "1 arrow" in said.stdout


def test_it_is_shown_whole_and_nothing_is_written_unless_asked_for(tmp_path):
    bow = proven_bow(tmp_path)
    table = bow / "tuned_rigs.csv"
    said = run(bow, input="n\n")
    assert said.exit_code == 0
    assert "Nothing was written." in said.stdout
    assert not table.exists()
    said = run(bow, input="y\n")
    assert table.exists()
    shown = dict(re.findall(r"^  (\S+) +(.+)$", said.stdout.split("Add this row")[0], re.MULTILINE))
    written = {k: v for k, v in rows_of(table)[0].items() if v}
    assert written == shown
    assert run(bow, input="").exit_code in (
        0,
        1,
    )  # nobody there: click gives up, or it is there already
    assert len(rows_of(table)) == 1


def test_nobody_to_ask_writes_nothing(tmp_path):
    bow = proven_bow(tmp_path)
    assert run(bow, input="").exit_code == 1
    assert not (bow / "tuned_rigs.csv").exists()


def test_never_twice_the_same(tmp_path):
    bow = proven_bow(tmp_path)
    table = bow / "tuned_rigs.csv"
    assert "1 row added" in run(bow, "--yes").stdout
    before = table.read_bytes()
    again = run(bow, "--yes")
    assert again.exit_code == 0
    assert "there already" in again.stdout
    assert table.read_bytes() == before
    found = json.loads(run(bow, "--yes", "--json").stdout)
    assert (found["written"], found["there"], found["line"]) == (False, True, 2)


def test_many_at_once_write_one_row(tmp_path):
    cells = contribution(shaftwright.open(proven_bow(tmp_path)).scenario)
    table = tmp_path / "club.csv"
    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(lambda _: append_tuned(table, cells), range(16)))
    assert sum(not one.there for one in found) == 1
    assert len(rows_of(table)) == 1
    assert [p.name for p in tmp_path.iterdir() if p.name.startswith(".")] == []


def test_json_shows_and_writes_only_with_yes(tmp_path):
    bow = proven_bow(tmp_path)
    found = json.loads(run(bow, "--json").stdout)
    assert (found["written"], found["line"]) == (False, None)
    assert found["row"]["spine"] == "500"
    assert not (bow / "tuned_rigs.csv").exists()
    found = json.loads(run(bow, "--json", "--yes").stdout)
    assert (found["written"], found["line"]) == (True, 2)
    assert rows_of(bow / "tuned_rigs.csv")[0]["rig"] == found["row"]["rig"]


def test_rows_of_one_rig_share_its_name_and_others_do_not(tmp_path):
    cells = contribution(shaftwright.open(proven_bow(tmp_path)).scenario)
    table = tmp_path / "club.csv"
    append_tuned(table, cells)
    append_tuned(table, cells | {"spine": "400"})
    append_tuned(table, cells | {"bow.draw_weight.lb": "52"})
    names = [row["rig"] for row in rows_of(table)]
    assert names[0] == names[1] != names[2]
    assert all(re.fullmatch(r"r-[0-9a-f]{8}", name) for name in names)


def test_a_table_with_other_columns_keeps_its_rows(tmp_path):
    table = table_of(tmp_path, [FIRST, FIRST | {"rig": "b", "spine": "550"}])
    before = rows_of(table)
    cells = contribution(shaftwright.open(proven_bow(tmp_path)).scenario)
    assert append_tuned(table, cells).line == 4
    after = rows_of(table)
    assert [{k: row[k] for k in HEADER} for row in after[:2]] == before
    assert {k: v for k, v in after[2].items() if v and k != "rig"} == cells
    assert len(load_tuned(table).arrows) == 3


@pytest.mark.parametrize("text", ["item,kind\nA,shaft\n", "rig,spine\n", "kind: x\n", ""])
def test_a_file_that_is_no_table_is_left_alone(tmp_path, text):
    bow = proven_bow(tmp_path)
    other = tmp_path / "other.csv"
    other.write_text(text)
    said = run(bow, "--to", other, "--yes")
    assert said.exit_code == 2
    assert "other.csv" in said.stderr
    assert other.read_text() == text


def test_a_folder_that_is_not_there_and_a_web_address(tmp_path):
    bow = proven_bow(tmp_path)
    for where in (tmp_path / "no" / "club.csv", "https://example.org/club.csv"):
        said = run(bow, "--to", where, "--yes")
        assert said.exit_code == 2
        assert len(said.stderr.strip().splitlines()) == 1


def test_nothing_proven_has_no_row_and_says_what_comes_first(tmp_path):
    bow = proven_bow(tmp_path, ends=2)
    said = run(bow, "--yes")
    assert said.exit_code == 1
    assert "no arrow of this bow is proven yet" in said.stderr
    assert not (bow / "tuned_rigs.csv").exists()
    with pytest.raises(NoAnswer):
        contribution(shaftwright.open("examples/heron_marsh").scenario)


def test_a_draw_curve_becomes_a_weight_at_the_own_draw(tmp_path):
    bow = proven_bow(tmp_path)
    rig = yaml.safe_load((bow / "rig.yaml").read_text())
    rig["bow"]["draw_weight"] = {"curve": [[10, 5], [20, 30], [28, 47]]}
    rig["archer"]["draw_length"] = "28 in"
    (bow / "rig.yaml").write_text(yaml.safe_dump(rig))
    cells = contribution(shaftwright.open(bow).scenario)
    assert (cells["bow.draw_weight.lb"], cells["bow.draw_weight.at"]) == ("47", "own_draw")


def test_a_killed_write_leaves_the_table_as_it_was(tmp_path, monkeypatch):
    table = table_of(tmp_path, [FIRST])
    before = table.read_bytes()
    cells = contribution(shaftwright.open(proven_bow(tmp_path)).scenario)
    monkeypatch.setattr(
        "os.replace", lambda *_: (_ for _ in ()).throw(OSError(28, "No space left"))
    )
    with pytest.raises((OSError, InputError)):
        append_tuned(table, cells)
    assert table.read_bytes() == before
