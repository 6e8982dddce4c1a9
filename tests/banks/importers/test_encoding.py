import pytest
from hypothesis import given
from hypothesis import strategies as st

from banks.importers.encoding import Text
from domain.errors import InputError
from domain.text import is_unsafe, tidy


def lines(data: bytes) -> list[str]:
    return list(Text(data).lines())


@pytest.mark.parametrize(
    "codec", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32"]
)
def test_the_same_text_comes_out_of_every_unicode_encoding(codec: str) -> None:
    text = "Café at 5 µm\nsecond line is longer\nthird"
    assert lines(text.encode(codec)) == ["Café at 5 µm\n", "second line is longer\n", "third"]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_every_line_end_counts_as_one_line(end: str) -> None:
    assert lines(f"a{end}b{end}c".encode()) == ["a\n", "b\n", "c"]


def test_signs_that_only_look_like_line_ends_stay_inside_their_line() -> None:
    text = "before\u0085after\u2028more\x0b\x0c\x1c\n"
    assert lines(text.encode()) == [text]


def test_only_lines_that_are_not_utf8_are_read_as_windows_1252_and_they_are_counted() -> None:
    data = "naïve\n".encode() + "“smart” 5 °C\n".encode("cp1252") + "Ω\n".encode()
    text = Text(data)
    assert list(text.lines()) == ["naïve\n", "“smart” 5 °C\n", "Ω\n"]
    assert text.encoding == "windows-1252"
    (finding,) = text.findings()
    assert finding.line == 2
    assert "1 line is not UTF-8" in finding.reason


@pytest.mark.parametrize(
    ("text", "encoding", "others"),
    [
        ("Où est le café né ? “Oui”, le naïf garçon l’a été.", "windows-1252", ("windows-1250",)),
        ("Où est le café né ? “Oui”, le naïf garçon l’a été.", "mac-roman", ()),
        ("Która chmura jest najwyżej położona? Żółta łódź.", "windows-1250", ()),
        ("Какое облако самое высокое?", "windows-1251", ()),
    ],
)
def test_the_encoding_is_the_one_that_makes_sense_and_others_that_do_are_told(
    text: str, encoding: str, others: tuple[str, ...]
) -> None:
    decoded = Text(text.encode(encoding))
    assert decoded.whole() == text
    assert decoded.encodings == (encoding, *others)
    reason = decoded.findings()[0].reason
    assert f"read as {encoding}" in reason
    assert ("would fit too: 'Où' or 'Oů'" in reason) == bool(others)


def test_a_byte_order_mark_before_windows_1252_text_is_no_part_of_it() -> None:
    assert lines(b"\xef\xbb\xbfcaf\xe9\n") == ["café\n"]


def test_bytes_that_are_no_text_are_refused() -> None:
    with pytest.raises(InputError, match="not a text file"):
        Text(b"\x00\x01\x02" + b"abc" * 50, "x.bin")


@given(st.binary(max_size=400))
def test_any_bytes_give_lines_or_one_plain_error(data: bytes) -> None:
    try:
        text = Text(data)
    except InputError:
        return
    assert all("\n" not in line[:-1] for line in text.lines())


@given(st.text(st.characters(codec="utf-8", exclude_characters="\0\ufeff")))
def test_text_in_utf8_comes_back_but_for_its_line_ends(text: str) -> None:
    assert "".join(lines(text.encode())) == text.replace("\r\n", "\n").replace("\r", "\n")


@pytest.mark.parametrize(
    ("raw", "kept"),
    [
        ("  plain  ", "plain"),
        ("\x1b[31mred\x1b[0m", "red"),
        ("\x1b]0;title\x07text", "text"),
        ("a\x00b\x08c\x7f", "abc"),
        ("abc\u202egnp\u2066x", "abcgnpx"),
        ("e\u0301", "é"),
        ("a\r\nb\rc", "a\nb\nc"),
        ("tab\tstays", "tab\tstays"),
        ("lone \ud800 surrogate", "lone \N{REPLACEMENT CHARACTER} surrogate"),
        ("line\u2028separator", "line\nseparator"),
    ],
)
def test_text_is_made_safe_for_a_terminal_and_kept_otherwise(raw: str, kept: str) -> None:
    assert tidy(raw) == kept


def test_a_c1_control_becomes_the_windows_1252_sign_it_was() -> None:
    # WHATWG HTML standard, "numeric character reference end state": 0x85 is U+2026, 0x92 U+2019.
    assert tidy("to create\u0085 and Boyle\u0092s") == "to create… and Boyle’s"


@given(st.text(st.characters(), max_size=60))
def test_tidying_twice_is_tidying_once_and_leaves_nothing_unsafe(text: str) -> None:
    once = tidy(text)
    assert tidy(once) == once
    assert not is_unsafe(once)


@pytest.mark.parametrize(
    ("octets", "text"),
    [
        ("41 E2 89 A2 CE 91 2E", "A\u2262\u0391."),
        ("ED 95 9C EA B5 AD EC 96 B4", "\ud55c\uad6d\uc5b4"),
        ("E6 97 A5 E6 9C AC E8 AA 9E", "\u65e5\u672c\u8a9e"),
        ("EF BB BF F0 A3 8E B4", "\U000233b4"),
    ],
)
def test_the_examples_of_rfc_3629(octets: str, text: str) -> None:
    """RFC 3629, section 7 (from memory); the last begins with a byte-order mark."""
    decoded = Text(bytes.fromhex(octets))
    assert (decoded.encoding, decoded.whole()) == ("utf-8", text)


@pytest.mark.parametrize("octets", ["C0 80", "ED A1 8C ED BE B4", "2F C0 AE 2E 2F", "F5 80 80 80"])
def test_sequences_that_rfc_3629_forbids_are_not_taken_for_utf8(octets: str) -> None:
    """RFC 3629, sections 3 and 10: overlong forms, surrogates, beyond U+10FFFF (from memory)."""
    assert Text(b"abc " + bytes.fromhex(octets)).encoding != "utf-8"


def test_windows_1252_is_that_of_the_encoding_standard() -> None:
    """WHATWG Encoding Standard, index windows-1252 (from memory)."""
    data = bytes([0x80, 0x85, 0x92, 0x93, 0x94, 0x96, 0x99, 0x9F, 0xE9])
    assert (
        Text(data, encoding="windows-1252").whole()
        == "\u20ac\u2026\u2019\u201c\u201d\u2013\u2122\u0178\u00e9"
    )
