"""The command that prints a cutting plan as JSON, and what it says to a job it cannot use."""

import io
import json
from copy import deepcopy
from decimal import Decimal

import defusedxml.ElementTree as ET
import pytest
from django.core.management import call_command

from catalogue.calc.cutting.check import check_plan
from catalogue.sheet_plans.job_files import read_job
from maker.calc.strict_json import LARGEST_FILE, WrongJson

JOB = {
    "unit": "in",
    "gap": "0",
    "rounds": 3,
    "time_limit_s": 5,
    "sheets": [
        {
            "name": "striped",
            "width": "12",
            "height": 12,
            "price": "0.3192",
            "available": None,
            "trim": "0",
        }
    ],
    "pieces": [
        {
            "name": "handle",
            "width": "11",
            "height": 0.75,
            "count": 126,
            "may_turn": False,
            "sheet": None,
        },
        {
            "name": "tag",
            "width": "1.5",
            "height": "2.5",
            "count": 63,
            "may_turn": False,
            "sheet": "striped",
        },
    ],
}


def run(path, *arguments):
    out = io.StringIO()
    code = 0
    try:
        call_command("cutting_plan", str(path), *arguments, stdout=out)
    except SystemExit as stop:
        code = stop.code
    return code, json.loads(out.getvalue())


@pytest.fixture
def job_file(tmp_path):
    def write(job):
        path = tmp_path / "job.json"
        path.write_text(job if isinstance(job, str) else json.dumps(job), encoding="utf-8")
        return path

    return write


def test_the_plan_is_printed_with_exact_numbers(job_file):
    code, plan = run(job_file(JOB))
    assert code == 0
    assert list(plan) == [
        "sheet_count",
        "cost",
        "lower_bound",
        "proven",
        "reason",
        "seconds",
        "layouts",
        "cut_count",
    ]
    assert (plan["sheet_count"], plan["lower_bound"], plan["proven"]) == (10, 10, True)
    assert plan["cost"] == "3.1920"
    layout = plan["layouts"][0]
    assert list(layout) == ["sheet", "times", "placements", "offcuts", "slack", "cuts"]
    assert list(layout["placements"][0]) == ["piece", "x", "y", "width", "height", "turned"]
    assert plan["cut_count"] == sum(
        layout["times"] * len(layout["cuts"]) for layout in plan["layouts"]
    )
    assert list(layout["cuts"][0]) == [
        "round",
        "is_vertical",
        "at",
        "x",
        "y",
        "width",
        "height",
        "is_trim",
    ]
    made = sum(
        layout["times"] * sum(placed["piece"] == "handle" for placed in layout["placements"])
        for layout in plan["layouts"]
    )
    assert made == 126
    for placed in layout["placements"]:
        assert all(isinstance(placed[key], str) for key in ("x", "y", "width", "height"))
        assert Decimal(placed["x"]) + Decimal(placed["width"]) <= 12


def test_what_may_be_left_out(job_file):
    code, plan = run(
        job_file(
            {
                "sheets": [{"name": "a", "width": 10, "height": 10}],
                "pieces": [{"name": "b", "width": 4, "height": 6, "count": 3}],
            }
        )
    )
    assert (code, plan["sheet_count"], plan["cost"]) == (0, 2, "0")


def test_cost_is_bounded_when_there_are_several_kinds_of_sheet(job_file):
    job = deepcopy(JOB)
    job["sheets"].append({"name": "plain", "width": "9", "height": "6", "price": "0.10"})
    code, plan = run(job_file(job))
    assert code == 0
    assert isinstance(plan["lower_bound"], str)
    assert Decimal(plan["lower_bound"]) <= Decimal(plan["cost"])


def test_nothing_but_the_plan_reaches_standard_output(job_file, capfd):
    job = deepcopy(JOB)
    job["sheets"].append({"name": "plain", "width": "9", "height": "6", "price": "0.10"})
    call_command("cutting_plan", str(job_file(job)))
    assert json.loads(capfd.readouterr().out)["sheet_count"]


def test_layouts_are_drawn_one_file_each(job_file, tmp_path):
    folder = tmp_path / "drawings" / "new"
    code, plan = run(job_file(JOB), "--svg", str(folder))
    assert code == 0
    files = sorted(folder.iterdir())
    assert len(files) == len(plan["layouts"])
    space = "{http://www.w3.org/2000/svg}"
    for path, layout in zip(files, plan["layouts"], strict=True):
        root = ET.fromstring(path.read_text(encoding="utf-8"))
        assert root.find(f"{space}title").text
        assert "handle" in root.find(f"{space}desc").text or "tag" in root.find(f"{space}desc").text
        rects = root.findall(f"{space}rect")
        assert len(rects) == 1 + len(layout["offcuts"]) + len(layout["placements"])
        assert all(rect.get("stroke-dasharray") is None for rect in rects)
        assert not any(node.get("style") for node in root.iter())


def changed(change):
    job = deepcopy(JOB)
    change(job)
    return job


@pytest.mark.parametrize(
    ("job", "where"),
    [
        ("", "line 1, column 1"),
        ("{", "line 1, column 2"),
        ("[]", "file"),
        ("null", "file"),
        ('{"unit": "in", "unit": "mm"}', "unit"),
        ("[" * 100_000, "file"),
        ('{"gap": NaN}', "gap"),
        ('{"gap": 1e99999999999999999999}', "gap"),
        ("{}", "sheets"),
        (changed(lambda job: job.update(unit="ell")), "unit"),
        (changed(lambda job: job.update(unit=3)), "unit"),
        (changed(lambda job: job.update(kerf="0")), "kerf"),
        (changed(lambda job: job.update(gap="-1")), "gap"),
        (changed(lambda job: job.update(gap=None)), "gap"),
        (changed(lambda job: job.update(gap="9" * 100)), "gap"),
        (changed(lambda job: job.update(rounds=0)), "rounds"),
        (changed(lambda job: job.update(rounds=2.5)), "rounds"),
        (changed(lambda job: job.update(rounds=True)), "rounds"),
        (changed(lambda job: job.update(time_limit_s="soon")), "time_limit_s"),
        (changed(lambda job: job.update(sheets={})), "sheets"),
        (changed(lambda job: job.update(sheets=[])), "sheets"),
        (changed(lambda job: job.update(pieces=[])), "pieces"),
        (changed(lambda job: job["sheets"].append(7)), "sheets[1]"),
        (changed(lambda job: job["sheets"][0].pop("width")), "sheets[0].width"),
        (changed(lambda job: job["sheets"][0].update(width="wide")), "sheets[0].width"),
        (changed(lambda job: job["sheets"][0].update(width="NaN")), "sheets[0].width"),
        (changed(lambda job: job["sheets"][0].update(available="x")), "sheets[0].available"),
        (changed(lambda job: job["sheets"][0].update(colour="x")), "sheets[0].colour"),
        (changed(lambda job: job["pieces"][1].update(count=None)), "pieces[1].count"),
        (changed(lambda job: job["pieces"][1].update(count="1.5")), "pieces[1].count"),
        (changed(lambda job: job["pieces"][1].update(count="1E+59")), "tag"),
        (changed(lambda job: job["pieces"][1].update(may_turn="no")), "pieces[1].may_turn"),
        (changed(lambda job: job["pieces"][1].update(sheet="felt")), "tag"),
        (changed(lambda job: job["pieces"][1].update(sheet=3)), "pieces[1].sheet"),
        (changed(lambda job: job["pieces"][0].update(width="12.1")), "handle"),
        (changed(lambda job: job["sheets"][0].update(available=9)), "striped"),
    ],
)
def test_an_unusable_job_is_answered_with_the_place_and_code_1(job_file, job, where):
    code, answer = run(job_file(job))
    assert code == 1
    assert list(answer) == ["error"]
    assert answer["error"]["where"] == where
    assert answer["error"]["message"]


def test_a_missing_file_is_answered_with_code_1(tmp_path):
    code, answer = run(tmp_path / "none.json")
    assert code == 1
    assert answer["error"]["where"].endswith("none.json")


def test_bytes_that_are_no_text_are_answered_with_code_1(tmp_path):
    path = tmp_path / "job.json"
    path.write_bytes(b"\xff\xfe\x00{")
    assert run(path)[0] == 1


def test_a_folder_that_cannot_be_made_is_answered_with_code_1(job_file, tmp_path):
    path = job_file(JOB)
    code, answer = run(path, "--svg", str(path / "drawings"))
    assert code == 1
    assert answer["error"]["where"].endswith("drawings")


def test_numbers_are_read_exactly():
    job, unit = read_job(json.dumps(JOB).replace("0.75", "0.1000000001"))
    assert job.pieces[0].height == Decimal("0.1000000001")
    assert unit == "in"


def test_the_plan_read_back_stands_up_to_the_checker():
    from catalogue.calc.cutting.planning import plan_cuts

    job, _ = read_job(json.dumps(JOB))
    check_plan(plan_cuts(job), job)


def test_refusals_of_reading_are_refusals():
    with pytest.raises(WrongJson):
        read_job("{}")


@pytest.mark.parametrize("words", [(), ("job.json", "--colour", "red"), ("a.json", "b.json")])
def test_words_that_are_no_arguments_are_refused_as_json_too(capsys, words):
    with pytest.raises(SystemExit) as stop:
        call_command("cutting_plan", *words)
    assert stop.value.code == 1
    assert json.loads(capsys.readouterr().out)["error"]["where"] == "command"


@pytest.mark.parametrize("encoding", ["ascii", "utf-8"])
def test_a_name_the_terminal_cannot_show_is_escaped(job_file, encoding):
    job = deepcopy(JOB)
    job["pieces"][0]["name"] = "Rüsche “hoch”"
    raw = io.BytesIO()
    out = io.TextIOWrapper(raw, encoding=encoding, write_through=True)
    call_command("cutting_plan", str(job_file(job)), stdout=out)
    plan = json.loads(raw.getvalue().decode(encoding))
    names = {placed["piece"] for layout in plan["layouts"] for placed in layout["placements"]}
    assert "Rüsche “hoch”" in names


def test_a_name_of_half_characters_is_refused(job_file):
    job = deepcopy(JOB)
    job["pieces"][0]["name"] = "half a letter \ud800"
    code, answer = run(job_file(job))
    assert (code, answer["error"]["where"]) == (1, "pieces[0].name")


def test_a_job_comes_from_standard_input_too(monkeypatch):
    job = json.dumps(JOB).encode("utf-8-sig")
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(job)))
    code, plan = run("-")
    assert (code, plan["sheet_count"]) == (0, 10)


@pytest.mark.parametrize("name", ["a\0b", "."])
def test_a_name_that_is_no_file_is_answered_with_code_1(name):
    code, answer = run(name)
    assert (code, answer["error"]["where"]) == (1, name)
    assert "cannot be read" in answer["error"]["message"]


def test_a_file_too_large_to_be_a_job_is_not_read(tmp_path):
    path = tmp_path / "job.json"
    with path.open("wb") as file:
        file.truncate(LARGEST_FILE + 1)
    code, answer = run(path)
    assert (code, answer["error"]["where"]) == (1, "file")
    assert "larger than 64 MB" in answer["error"]["message"]
