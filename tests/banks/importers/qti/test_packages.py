"""Content packages: manifest, headings, figures, shared texts, and packages that mean harm."""

import zipfile
from io import BytesIO

import pytest

from banks.importers import archive
from banks.importers.common import Finding, Hints
from banks.importers.qti.reader import parse
from domain.errors import InputError
from tests.banks.importers.qti.made_items import choices, item, manifest, resource, zipped

CIRRUS = item(choices("Cirrus", "Stratus", prompt="Which is low?"))
HAIL = item(choices("Rain", "Hail", prompt="Which is solid?"))
TEST = """
<assessmentTest identifier="t" title="Observer's Question Book"><testPart identifier="p">
  <assessmentSection identifier="s" title="Sky" visible="true">
    <assessmentSection identifier="c" title="Water" visible="true">
      <assessmentItemRef identifier="h" href="items/hail.xml"/>
    </assessmentSection>
    <assessmentItemRef identifier="c" href="items/cirrus.xml"/>
  </assessmentSection></testPart></assessmentTest>"""


PNG = b"\x89PNG\r\n\x1a\n..."


def package(**more: bytes | str) -> dict[str, bytes | str]:
    listed = manifest(
        resource("items/cirrus.xml"),
        resource("items/hail.xml", inside="<lom><keyword><string>ice</string></keyword></lom>"),
        resource("test.xml", kind="imsqti_test_xmlv2p1"),
    )
    files = {"items/cirrus.xml": CIRRUS, "items/hail.xml": HAIL, "test.xml": TEST}
    return {"imsmanifest.xml": listed} | files | more


def test_items_come_in_the_order_and_under_the_headings_of_the_test() -> None:
    parsed = parse(zipped(package()))

    hail, cirrus = parsed.drafts
    assert parsed.title == "Observer's Question Book"
    assert (hail.stem, hail.subject, hail.chapter) == ("Which is solid?", "Sky", "Water")
    assert (cirrus.stem, cirrus.subject, cirrus.chapter) == ("Which is low?", "", "Sky")
    assert hail.tags == ("ice",)
    assert [hail.line, cirrus.line] == [1, 2]


def test_nothing_that_is_shown_can_turn_the_direction_of_writing() -> None:
    files = package() | {"test.xml": TEST.replace('title="Sky"', 'title="\u202eSky\x9b"')}
    files["items/hail.xml"] = "<assessmentItem title='\u202e'><oops\u202e>"

    parsed = parse(zipped(files))

    shown = [parsed.drafts[0].chapter, *(finding.reason for finding in parsed.skipped)]
    assert not any(sign in "\u202e\x9b" for text in shown for sign in text)
    assert parsed.drafts[0].chapter == "Sky›"


def test_without_a_manifest_every_item_in_the_zip_is_read_and_that_is_told() -> None:
    parsed = parse(zipped({"b.xml": HAIL, "readme.txt": "hello", "a.xml": CIRRUS}))

    assert [draft.stem for draft in parsed.drafts] == ["Which is solid?", "Which is low?"]
    assert parsed.warnings == [Finding(0, "imsmanifest.xml is not in the package.")]


def test_a_broken_item_is_skipped_by_name_and_the_others_come_in() -> None:
    parsed = parse(zipped(package() | {"items/hail.xml": b"<assessmentItem>\n<oops>"}))

    assert [draft.stem for draft in parsed.drafts] == ["Which is low?"]
    [finding] = parsed.skipped
    assert finding.line == 1
    assert finding.reason.startswith("items/hail.xml: line 2: this is not XML")


def test_an_item_that_the_manifest_names_but_is_not_packed_is_told() -> None:
    files = package()
    del files["items/hail.xml"]

    assert parse(zipped(files)).skipped == [
        Finding(1, "items/hail.xml: items/hail.xml is not in the package.")
    ]


def test_a_picture_is_carried_along_and_found_relative_to_its_item() -> None:
    shown = item('<p><img src="../img/halo%201.png" alt="a halo"/></p>' + choices("a", "b"))
    files = {"q/i.xml": shown, "img/halo 1.png": PNG}

    [draft] = parse(zipped(files | {"imsmanifest.xml": manifest(resource("q/i.xml"))})).drafts

    assert draft.stem == "[figure: a halo]"
    assert draft.figures == (("halo-1.png", "a halo", PNG),)


@pytest.mark.parametrize(
    "content",
    [
        b"<html><script>alert(1)</script></html>",
        b"MZ\x90\x00",
        b"[Desktop Entry]",
        b"",
        b"#!/bin/sh",
    ],
)
def test_what_calls_itself_a_picture_but_is_none_is_left_out(content: bytes) -> None:
    shown = item('<p><img src="a.png" alt="a halo"/></p>' + choices("a", "b"))

    parsed = parse(zipped({"i.xml": shown, "a.png": content}))

    assert parsed.drafts[0].figures == ()
    assert any("is no picture" in finding.reason for finding in parsed.warnings)


def test_a_picture_is_named_by_what_it_is_and_not_by_what_it_says() -> None:
    shown = item('<p><img src="run%20me.exe" alt="x"/></p>' + choices("a", "b"))

    [draft] = parse(zipped({"i.xml": shown, "run me.exe": PNG})).drafts

    assert draft.figures == (("run-me.png", "x", PNG),)


def test_a_passage_shared_by_items_comes_before_the_stem() -> None:
    asked = item(choices("a", "b", prompt="What does the log say?"), version="3.0").decode()
    asked = asked.replace(
        "<qti-item-body>",
        '<qti-assessment-stimulus-ref identifier="s" href="s.xml"/><qti-item-body>',
    )
    passage = (
        "<qti-assessment-stimulus><qti-stimulus-body><p>Wind 5.</p></qti-stimulus-body>"
        "</qti-assessment-stimulus>"
    )
    files = {"i.xml": asked, "s.xml": passage, "imsmanifest.xml": manifest(resource("i.xml"))}

    [draft] = parse(zipped(files)).drafts

    assert draft.stem == "Wind 5.\nWhat does the log say?"


def test_progress_is_told_and_may_stop_the_import() -> None:
    files = {f"{number}.xml": CIRRUS for number in range(250)}
    shares: list[float] = []

    parse(zipped(files), Hints(progress=shares.append))

    assert shares == [0.4, 0.8]


@pytest.mark.parametrize(
    "href", ["../../etc/passwd", "/etc/passwd", "..\\..\\x.xml", "C:/x.xml", "%2e%2e/%2e%2e/x.xml"]
)
def test_no_reference_leads_out_of_the_package(href: str) -> None:
    shown = item(f'<p><img src="{href}" alt="x"/></p>' + choices("a", "b"))
    files = package() | {"items/cirrus.xml": shown, "etc/passwd": "secret", "x.xml": HAIL}

    parsed = parse(zipped(files))

    assert all(draft.figures == () for draft in parsed.drafts)
    assert any("is not in the file" in finding.reason for finding in parsed.warnings)


def test_a_test_that_points_outside_is_told_and_read_without_it() -> None:
    parsed = parse(zipped(package() | {"test.xml": TEST.replace("items/hail", "../../hail")}))

    assert [draft.stem for draft in parsed.drafts] == ["Which is low?", "Which is solid?"]
    assert "leads outside" in parsed.warnings[0].reason


def test_a_member_with_a_climbing_name_is_never_looked_at() -> None:
    with pytest.raises(InputError, match="no assessmentItem"):
        parse(zipped({"../../up.xml": CIRRUS}))


def test_a_bomb_is_refused_before_it_is_unpacked() -> None:
    bomb = b"<assessmentItem>" + b" " * (80 * 2**20)

    parsed = parse(zipped(package() | {"items/hail.xml": bomb}))

    assert len(parsed.drafts) == 1
    assert "unpacks to more than" in parsed.skipped[0].reason


def test_all_members_together_have_a_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archive, "MOST_BYTES", 2000)
    files = {f"{number}.xml": CIRRUS for number in range(10)}

    parsed = parse(zipped(files))

    assert len(parsed.drafts) < 10
    assert len(parsed.drafts) + len(parsed.skipped) == 10


def test_too_many_members_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archive, "MOST_MEMBERS", 3)

    with pytest.raises(InputError, match="more than 3 members"):
        parse(zipped({f"{number}.xml": CIRRUS for number in range(4)}))


def test_a_locked_or_damaged_zip_is_a_plain_message() -> None:
    whole = zipped({"a.xml": CIRRUS})
    locked = bytearray(whole)
    for header, flags in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        locked[whole.index(header) + flags] |= 1

    with pytest.raises(InputError, match="zip is damaged"):
        parse(whole[:40])
    assert "can't be unpacked" in parse(bytes(locked)).skipped[0].reason


def test_entities_in_an_item_of_a_package_are_not_expanded() -> None:
    entities = b'<!DOCTYPE a [<!ENTITY b "ha"><!ENTITY c "&b;&b;&b;">]>'
    laughs = entities + b"<assessmentItem>&c;</assessmentItem>"

    parsed = parse(zipped(package() | {"items/hail.xml": laughs}))

    assert "own entities" in parsed.skipped[0].reason


def test_a_test_that_contains_itself_comes_to_an_end() -> None:
    loop = TEST.replace(
        '<assessmentItemRef identifier="c" href="items/cirrus.xml"/>',
        '<assessmentSectionRef href="loop.xml"/>',
    )
    section = (
        '<assessmentSection title="x"><assessmentSectionRef href="loop.xml"/></assessmentSection>'
    )

    parsed = parse(zipped(package() | {"test.xml": loop, "loop.xml": section}))

    assert len(parsed.drafts) == 2


def test_a_zip_inside_a_zip_is_not_opened() -> None:
    inner = zipped({"a.xml": CIRRUS})

    with pytest.raises(InputError, match="no assessmentItem"):
        parse(zipped({"inner.zip": inner}))


def test_a_member_that_lies_about_its_size_is_cut_off() -> None:
    whole = bytearray(zipped({"a.xml": b"<a>" + b" " * 3_000_000}))
    with zipfile.ZipFile(BytesIO(bytes(whole))) as packed:
        assert packed.infolist()[0].file_size > 1_000_000
    at = whole.index(b"PK\x01\x02")
    whole[at + 24 : at + 28] = (10).to_bytes(4, "little")

    parsed = parse(bytes(whole))

    assert parsed.drafts == []
    assert len(parsed.skipped) == 1
