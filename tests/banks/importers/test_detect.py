import io
import zipfile
from pathlib import Path

import pytest

from banks.importers import detect
from banks.importers.common import EXPECTED, Hints
from domain.errors import InputError


def zipped(*names: str) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as packed:
        for name in names:
            packed.writestr(name, "x")
    return stream.getvalue()


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("number,stem,a,b,key\n1,Q?,x,y,b\n", "csv"),
        ("number\tstem\ta\tb\tkey\n1\tQ?\tx\ty\tb\n", "tsv"),
        ("number;stem;a;b;key\n1;Q?;x;y;b\n", "semicolon"),
        ("number|stem|a|b|key\n1|Q?|x|y|b\n", "pipe"),
        ("What is it?,w,x,y,z,B\nAnd this?,w,x,y,z,C\n", "csv"),
        ('[{"question": "Q?"}]', "json"),
        ('\n{"questions": []}', "json"),
        ('{"question": "Q?", "answer": "b"}\n{"question": "R?", "answer": "a"}\n', "jsonl"),
        ("1. Which, if any?\nA) x, y\nB) z, w\nAns: b\n", "text"),
        ("1. Which; if any?  A) x  B) y\n2. And?  A) x  B) y\n1-b 2-a\n", "text"),
        ("1-b, 2-c, 3-d\n4-b, 5-c, 6-d\n", "text"),
        ('<?xml version="1.0"?><assessmentItem/>', "qti"),
        ("  <qti-assessment-item/>", "qti"),
        ("%PDF-1.7 ...", "pdf"),
    ],
)
def test_the_format_is_told_by_the_content(text: str, name: str) -> None:
    assert detect.detect(text.encode()) == name
    if name not in ("pdf", "qti"):
        assert detect.detect(text.encode("utf-16")) == name


def test_zips_are_told_by_what_is_in_them() -> None:
    assert detect.detect(zipped("[Content_Types].xml", "xl/workbook.xml")) == "xlsx"
    assert detect.detect(zipped("imsmanifest.xml", "q1.xml")) == "qti"
    with pytest.raises(InputError, match="neither a spreadsheet nor a question package"):
        detect.detect(zipped("photo.jpg"))
    with pytest.raises(InputError, match="zip is damaged"):
        detect.detect(b"PK\x03\x04 but no more")


@pytest.mark.parametrize(
    "data",
    [
        zipped("[Content_Types].xml", "word/document.xml"),
        zipped("mimetype", "content.xml"),
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600),
    ],
)
def test_other_programs_documents_are_told_how_to_be_saved(data: bytes) -> None:
    with pytest.raises(InputError, match=r"book\.xls is a document .* save it .* as \.xlsx"):
        detect.detect(data, "book.xls")


@pytest.mark.parametrize("data", [b"", b" \n\n", b"Dear all,\nsee you soon.\n"])
def test_a_file_without_questions_says_what_was_expected_in_four_lines(data: bytes) -> None:
    with pytest.raises(InputError) as refused:
        detect.parse(data, Hints(name="letter.txt"))
    assert str(refused.value).startswith("letter.txt")
    assert str(refused.value).endswith(EXPECTED)
    assert len(EXPECTED.split("\n")) == 1 + 4


def test_the_example_itself_can_be_imported() -> None:
    parsed = detect.parse(EXPECTED.partition("\n")[2].encode(), Hints())
    assert [(draft.number, draft.key) for draft in parsed.drafts] == [
        (1, (1,)),
        (2, (0,)),
        (3, (2,)),
    ]


def test_a_file_of_bad_rows_only_names_the_first_of_them() -> None:
    bad = "number,stem,a,b,key\n" + "".join(f"{n},Q?,x,y,q\n" for n in range(1, 6))
    with pytest.raises(InputError, match=r"Line 2: the key 'q'.*\n.*\n.*\nAnd 2 more lines"):
        detect.parse(bad.encode(), Hints(name="bad.csv"))


def test_a_file_that_is_not_there_or_too_large_is_named(tmp_path, monkeypatch) -> None:
    with pytest.raises(InputError, match=r"nothing\.csv: can't be read"):
        detect.read_bytes(tmp_path / "nothing.csv")
    (tmp_path / "large.csv").write_bytes(b"x" * 100)
    monkeypatch.setattr(detect, "MAX_BYTES", 99)
    with pytest.raises(InputError, match=r"large\.csv"):
        detect.read_bytes(tmp_path / "large.csv")


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no such device here")
def test_a_device_without_an_end_is_read_up_to_the_limit(monkeypatch) -> None:
    monkeypatch.setattr(detect, "MAX_BYTES", 99)
    with pytest.raises(InputError, match=r"/dev/zero: at most"):
        detect.read_bytes(Path("/dev/zero"))


def test_one_ragged_row_does_not_make_a_table_text() -> None:
    rows = [f'"Which is {n}, then?",Cirrus,Stratus,Cumulus,Fog,B' for n in range(4)]
    parsed = detect.parse(
        "\n".join([*rows[:2], "ragged,x", *rows[2:]]).encode(), Hints(name="x.csv")
    )

    assert parsed.format == "csv"
    assert [draft.stem for draft in parsed.drafts] == [f"Which is {n}, then?" for n in range(4)]
    assert [finding.line for finding in parsed.skipped] == [3]
