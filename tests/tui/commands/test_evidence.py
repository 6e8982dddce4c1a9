"""`report`, `sweep` and `mock` as programs and people call them."""

import json

import pytest
from msgspec.structs import replace

from domain.marking.blueprint import ExamBlueprint
from tests.banks.studied import studied
from tests.builders import bank, bares, library
from tui.cli import main

DAY = "2026-05-01"


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    folder = tmp_path_factory.mktemp("store")
    opened = studied(folder)
    opened.save_settings(replace(opened.settings, exam=ExamBlueprint(scheme="+4/−1")))
    opened.close()
    return folder


@pytest.fixture
def run(store, capsys):
    def call(*words: str) -> tuple[int, str, str]:
        status = main(["--store", str(store), "--today", DAY, *words])
        out, err = capsys.readouterr()
        return status, out, err

    return call


def test_the_report_is_told_in_words(run):
    status, out, err = run("report")

    assert (status, err) == (0, "")
    for words in ("120 of 124 questions tried", "90 % range", "a per-tier rate",
                  "waiting 0 · settled", "marks expected", "break-even 20%",
                  "one more hour: "):  # fmt: skip
        assert words in out
    subjects = {line.split()[0] for line in out.splitlines() if "one more hour" in line}
    assert subjects == {"Maps", "Wind", "Clouds"}


def test_the_report_as_json_has_every_part(run):
    _, out, _ = run("report", "--json")
    document = json.loads(out)

    assert list(document) == [
        "predicted", "predicted_reason", "today", "exam", "questions", "tried", "elsewhere",
        "responses", "forecast", "if_today", "score", "guessing", "waiting", "subjects", "chapters",
        "calibration", "memory", "first_study", "rounds", "sweeps", "weeks", "papers", "diary",
        "mixed_up",
    ]  # fmt: skip
    assert document["today"] == DAY
    assert document["predicted"] is None
    assert (
        document["predicted_reason"] == "Not enough yet for a single score: 2 more sample papers."
    )
    assert set(document["calibration"]["levels"]) == {"sure", "unsure", "guess"}
    for part in ("subjects", "chapters"):
        assert {"expected", "best", "waiting", "settled"} <= set(document[part][0]["ready"])


def test_the_report_as_a_page_is_a_file_and_nothing_else(run, tmp_path):
    status, out, _ = run("report", "--html", str(tmp_path / "report.html"))

    assert (status, out) == (0, "")
    assert (tmp_path / "report.html").read_text(encoding="utf-8").startswith("<!doctype html>")


def test_a_page_that_cannot_be_written_is_one_line(run, tmp_path):
    status, out, err = run("report", "--html", str(tmp_path / "no" / "report.html"))

    assert (status, out) == (1, "")
    assert len(err.splitlines()) == 1
    assert "nothing was written" in err


def test_a_sweep_as_json_tells_where_each_stands_and_what_is_left_out(run):
    _, out, _ = run("sweep", "--minutes", "15", "--json")
    document = json.loads(out)

    assert document["seconds"] <= 900
    assert list(document["questions"][0]) == [
        "bank", "subject", "chapter", "number", "tier", "signs", "settled", "days", "seconds",
    ]  # fmt: skip
    left = sum(entry["questions"] for entry in document["left_out"].values())
    assert left + len(document["questions"]) == document["pool"]


def test_a_sweep_of_one_subject_and_tier_and_its_sheet(run, tmp_path):
    status, out, _ = run(
        "sweep", "--minutes", "10", "--subject", "wind", "--tier", "hardest",
        "--sheet", str(tmp_path / "sheet.md"),
    )  # fmt: skip

    assert status == 0
    picks = [line for line in out.splitlines() if " · Chapter" in line]
    assert len(picks) == 10
    assert all(line.startswith("Wind · ") and ": hardest · " in line for line in picks)
    assert "Wind" in (tmp_path / "sheet.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--minutes", "0"), "more than 0"),
        (("--minutes", "5", "--tier", "hardly"), "not a tier"),
        (("--minutes", "5", "--subject", "tides"), "not found"),
    ],
)
def test_a_sweep_put_together_wrongly_is_one_line(run, words, message):
    status, out, err = run("sweep", *words)

    assert status in (1, 2)
    assert out == ""
    assert message in err


@pytest.fixture
def fresh(tmp_path, capsys):
    studied(tmp_path, days=3).close()

    def call(*words: str, day: str = "2026-03-05") -> tuple[int, str, str]:
        status = main(["--store", str(tmp_path), "--today", day, "mock", *words])
        out, err = capsys.readouterr()
        return status, out, err

    return call


def test_a_paper_from_the_book_by_the_command_line(fresh):
    fresh("--questions", "6", "--minutes", "6", "--scheme", "+3/-1")
    _, out, _ = fresh("begin", "--seed", "5", "--json")
    drawn = [entry for entry in json.loads(out)["questions"] if entry["chapter"] != "Signs"]
    assert len(drawn) == 6
    letters = "".join("abcd"[entry["number"] % 4] for entry in drawn[:4])

    assert fresh("answer", "--responses", letters)[1] == "4 answers recorded, 2 left\n"
    assert "in progress" in fresh("begin")[2]
    result = json.loads(fresh("hand-in", "--json")[1])

    assert (result["marks"], result["best"]) == (12, 18)
    assert sum(entry["blank"] for entry in result["subjects"]) == 2
    assert json.loads(fresh("--json")[1])["papers"][0]["marks"] == 12


def test_the_same_seed_draws_the_same_paper(fresh):
    first = fresh("begin", "--seed", "9", "--json")[1]
    fresh("hand-in")

    assert fresh("begin", "--seed", "9", "--json")[1] == first


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("answer", "--responses", "a"), "no mock paper in progress"),
        (("hand-in",), "no mock paper in progress"),
        (("--scheme", "+1/+2"), "right must be worth most"),
        (("--questions", "500"), "too few for a paper of 500"),
        (("--hard-share", "2"), "0 to 1"),
    ],
)
def test_what_cannot_be_is_one_line_and_changes_nothing(fresh, words, message):
    before = fresh("--json")[1]
    status, out, err = fresh(*words)

    assert (status, out) == (1, "")
    assert message in err
    assert fresh("--json")[1] == before


@pytest.fixture
def from_book(tmp_path, capsys):
    """`paper` on two chapters of ten bare numbers."""
    library(tmp_path, bank("Bare", {"Wind": {"Force": bares(10), "Gusts": bares(10)}})).close()

    def call(*words: str) -> tuple[int, str, str]:
        status = main(["--store", str(tmp_path), "--today", "2026-03-05", "paper", *words])
        out, err = capsys.readouterr()
        return status, out, err

    return call


def test_a_sample_paper_is_printed_entered_by_letter_and_keyed(from_book, tmp_path):
    sheet = str(tmp_path / "paper.md")
    drawn = json.loads(
        from_book("sample", "--questions", "10", "--seed", "2", "--sheet", sheet, "--json")[1]
    )
    chapters = [entry["chapter"] for entry in drawn["questions"]]
    assert (drawn["kind"], drawn["minutes"]) == ("sample paper", 10)
    assert chapters == ["Force"] * 5 + ["Gusts"] * 5
    assert "no. 10" in (tmp_path / "paper.md").read_text(encoding="utf-8")

    status, out, _ = from_book("enter", "--responses", "abcD abcd")
    assert (status, out) == (0, "8 without an answer key: resieve paper enter --key …\n")
    status, _, err = from_book("enter", "--key", "1 a 2 b 3 d 4 d", "--wrong", "6-8")
    assert (status, err) == (0, "resieve: 9 has no answer key yet\n")
    result = json.loads(from_book("enter", "--right", "9", "--json")[1])

    assert (result["marks"], result["best"], result["awaiting_key"]) == (4, 10, 0)
    assert result["confidence"]["blank"] == {"questions": 2, "right": 0, "marks": 0}
    assert [entry["answer_key"] for entry in result["questions"]] == [*"abdd", *[""] * 6]
    assert json.loads(from_book("list", "--json")[1])["papers"][0]["blank"] == 2
    assert "no paper to enter" in from_book("enter", "--key", "a")[2]


def test_a_rehearsal_without_letters_or_key_is_entered_as_right_and_wrong(from_book):
    _, out, _ = from_book("rehearsal", "--seed", "2")
    assert out.splitlines()[0] == "Rehearsal, 20 questions, 20 min, +1/0"
    assert len(out.splitlines()) == 21

    status, out, _ = from_book("enter", "--wrong", "3,7", "--blank", "20", "--rest", "right")

    assert (status, out.splitlines()[0]) == (0, "17 of 20 marks")
    assert [line.split()[:2] for line in out.splitlines()[1:]] == [
        ["3", "wrong"], ["7", "wrong"], ["20", "blank"],
    ]  # fmt: skip
    assert from_book("result")[1] == out
    assert from_book("list")[1].startswith("2026-03-05  17 of 20  Rehearsal")


def test_an_outside_paper_is_recorded_listed_and_gives_the_exams_score(run):
    figures = ("--questions", "100", "--right", "60", "--wrong", "30", "--met", "5")
    status, out, _ = run("paper", "outside", "--date", "2026-04-20", *figures,
                         "--by", "Clouds 12/2/1; wi=20/9")  # fmt: skip
    assert (status, out) == (0, "2026-04-20: 60 right, 30 wrong, 10 blank of 100\n")
    run("paper", "outside", "--date", "28 April 2026", *figures)

    papers = json.loads(run("paper", "list", "--json")[1])["papers"]
    document = json.loads(run("report", "--json")[1])

    assert [(paper["kind"], paper["marks"], paper["best"]) for paper in papers] == [
        ("outside paper", 210, 400)
    ] * 2
    assert papers[0]["predicted"] is None
    low, high = papers[1]["predicted"]
    assert low < 210 < high
    assert document["predicted"] == document["score"]["outside"]
    assert document["predicted"]["low"] < 210 < document["predicted"]["high"]
    gaps = {entry["subject"]: entry["questions"] for entry in document["score"]["gaps"]}
    assert gaps == {"Clouds": 15, "Wind": 29}
    assert "The exam if you stop now, from 2 outside papers" in run("report")[1]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("2026-05-02", "100", "60", "30"), "is in the future"),
        (("2026-04-20", "100", "80", "30"), "more than 100 questions"),
        (("2026-04-20", "0", "0", "0"), "at least one question"),
        (("4/5/2026", "100", "60", "30"), "2026-05-04"),
    ],
)
def test_an_outside_paper_that_cannot_be_is_one_line(run, words, message):
    names = ("--date", "--questions", "--right", "--wrong")
    options = [word for pair in zip(names, words, strict=True) for word in pair]
    status, out, err = run("paper", "outside", *options)

    assert (status in (1, 2), out) == (True, "")
    assert message in err


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ((), "name a step: sample, rehearsal, enter, outside, result"),
        (("sample", "--questions", "0"), "1 to 10,000"),
        (("sample", "--sheet", "paper.doc"), "A sheet ends in"),
        (("enter", "--key", "a"), "no paper to enter"),
    ],
)
def test_a_paper_asked_for_wrongly_is_one_line(from_book, words, message):
    status, out, err = from_book(*words)

    assert status in (1, 2)
    assert out == ""
    assert message in err


def test_answers_after_the_time_are_not_taken(fresh):
    fresh("begin", "--seed", "1")

    status, _, err = fresh("answer", "--responses", "a", day="2026-03-06")

    assert status == 1
    assert "time is up" in err
    assert fresh("hand-in", day="2026-03-06")[0] == 0


def test_the_exam_is_told_part_by_part_and_a_mock_paper_leaves_it_alone(run):
    assert run("exam", "--questions", "200", "--minutes", "180", "--hour", "9:30")[0] == 0
    run("mock", "--questions", "10", "--minutes", "5", "--scheme", "+2/-1")

    status, out, _ = run("exam", "--json")
    document = json.loads(out)

    assert (status, document["told"], document["questions"], document["minutes"]) == (
        0,
        True,
        200,
        180,
    )
    assert (document["scheme"], document["hour"]) == ("+4/−1", "09:30")
    assert sum(part["questions"] for part in document["sections"]) == 200
    assert run("exam", "--target", "640")[0] == 0
    assert run("exam")[1].startswith("200 questions, 180 minutes, +4/−1, 09:30, target 640")
    assert json.loads(run("exam", "--json")[1])["target"] == 640
    assert "Your target, 640, lies " in run("report")[1]
    run("exam", "--target", "none")
    assert json.loads(run("exam", "--json")[1])["target"] is None


def test_sections_of_the_exam_add_up_to_its_questions(run):
    assert run("exam", "--sections", "Clouds 90; Maps 60 +2/-1")[0] == 0
    assert json.loads(run("exam", "--json")[1])["questions"] == 150

    run("exam", "--questions", "100")
    sections = json.loads(run("exam", "--json")[1])["sections"]
    assert (len(sections), sum(part["questions"] for part in sections)) == (3, 100)


def test_an_exam_that_cannot_be_is_refused(run):
    status, _, err = run("exam", "--scheme", "+1/+2")
    assert (status, "right must be worth most" in err) == (1, True)
