"""Content packages: what goes out comes back, and is built as the standard says.

Where XSD_DIR names a folder with the standard's schemas (`imsqti_v2p2.xsd` and
`imsqti_asiv3p0_v1p0.xsd`, with what they include), the items are validated against them too.
"""

import os
import xml.etree.ElementTree as ET
import zipfile
from io import BytesIO
from pathlib import Path

import pytest
from hypothesis import given, settings

from banks.exporters.qti_writer import VERSION_2_2, VERSION_3_0, Version, to_package
from banks.importers.qti.reader import parse
from domain.errors import InputError
from domain.questions import Bank, Chapter, Figure, Kind, Option, Question, Subject
from tests.banks.exporters.made_banks import banks, expected, found
from tests.banks.exporters.strict_qti import problems_of

VERSIONS = [VERSION_2_2, VERSION_3_0]
SCHEMAS = {"2.2": "imsqti_v2p2.xsd", "3.0": "imsqti_asiv3p0_v1p0.xsd"}
each_version = pytest.mark.parametrize("version", VERSIONS, ids=lambda version: version.name)

PICTURE = b"\x89PNG\r\n\x1a\nnot really"
CLOUD = Question(
    id="w/clouds/1",
    chapter="clouds",
    number=1,
    stem="Which genus is this? [figure: a grey layer]",
    options=(
        Option("a", "Nimbostratus", explanation="It would rain."),
        Option("b", "Altostratus"),
        Option("c", "None of these", fixed=True),
    ),
    answer_key=("b",),
    credit={"b": 1.0, "a": 0.25},
    explanation="The sun is seen as through ground glass.",
    reference="p. 12",
    tags=("genera",),
    figures=(Figure("layer.png", "a grey layer"),),
)
EVERY_KIND = (
    CLOUD,
    Question(id="w/clouds/2", chapter="clouds", number=2),
    Question(id="w/clouds/3", chapter="clouds", number=3, answer_key=("b",)),
    Question(
        id="w/clouds/4",
        chapter="clouds",
        number=4,
        kind=Kind.NUMERIC,
        stem="0 °C in kelvin?",
        answer_key=("273.15",),
        tolerance=0.5,
    ),
    Question(
        id="w/clouds/5",
        chapter="clouds",
        number=5,
        kind=Kind.TEXT,
        stem="SI unit of pressure?",
        answer_key=("pascal", "Pa"),
    ),
)


def bank_of(*questions: Question) -> Bank:
    subject = Subject("sky", "Sky", (Chapter("clouds", "Clouds & layers"),))
    held = {question.id: question for question in questions}
    return Bank(id="w", title="Observer's Question Book", subjects=(subject,), questions=held)


def members(package: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(BytesIO(package)) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


@each_version
@settings(max_examples=60, deadline=None)
@given(bank=banks())
def test_what_is_exported_comes_back_as_it_was(version: Version, bank: Bank) -> None:
    parsed = parse(to_package(bank, version))

    assert found(parsed.drafts) == expected(bank)
    assert parsed.title == bank.title
    assert parsed.format == f"QTI {version.name}"
    assert parsed.skipped == []


@each_version
@settings(max_examples=40, deadline=None)
@given(bank=banks())
def test_every_document_is_built_as_the_standard_says(version: Version, bank: Bank) -> None:
    package = members(to_package(bank, version))

    assert problems_of(package, hyphens=version.hyphens) == []


@each_version
def test_a_figure_travels_with_its_question_and_stands_in_its_place(version: Version) -> None:
    package = to_package(bank_of(CLOUD), version, {"layer.png": PICTURE})

    [draft] = parse(package).drafts

    assert draft.stem == CLOUD.stem
    assert draft.figures == (("layer.png", "a grey layer", PICTURE),)
    assert members(package)["images/layer.png"] == PICTURE


def test_a_figure_that_is_not_at_hand_stays_in_words() -> None:
    [draft] = parse(to_package(bank_of(CLOUD))).drafts

    assert draft.stem == CLOUD.stem
    assert draft.figures == ()


def test_the_same_bank_gives_the_same_bytes() -> None:
    assert to_package(bank_of(*EVERY_KIND)) == to_package(bank_of(*EVERY_KIND))


def test_a_control_is_taken_out_and_a_sign_that_xml_cannot_hold_replaced() -> None:
    question = Question(
        id="w/clouds/1", chapter="clouds", number=1, stem="a\x07b\ufffe", answer_key=("a",)
    )

    [draft] = parse(to_package(bank_of(question))).drafts

    assert draft.stem == "ab\N{REPLACEMENT CHARACTER}"


def test_an_empty_choice_is_no_package() -> None:
    with pytest.raises(InputError, match="nothing to export"):
        to_package(bank_of())


def test_one_subject_alone_can_be_exported() -> None:
    with pytest.raises(InputError, match="nothing to export"):
        to_package(bank_of(CLOUD), subjects=["sea"])
    assert len(parse(to_package(bank_of(CLOUD), subjects=["sky"])).drafts) == 1


@each_version
def test_the_items_are_valid_under_the_published_schemas(version: Version) -> None:
    if "XSD_DIR" not in os.environ:
        pytest.skip("no schemas at hand (XSD_DIR): validated by our own strict reader only")
    from lxml import etree

    schema = etree.XMLSchema(file=str(Path(os.environ["XSD_DIR"]) / SCHEMAS[version.name]))
    package = members(to_package(bank_of(*EVERY_KIND), version, {"layer.png": PICTURE}))
    documents = [content for name, content in package.items() if name.startswith(("items", "test"))]

    for document in documents:
        schema.assertValid(etree.fromstring(document))


def test_the_strict_reader_does_see_a_fault() -> None:
    package = members(to_package(bank_of(CLOUD)))
    [name] = [name for name in package if name.startswith("items/")]
    root = ET.fromstring(package[name])
    del root.attrib["timeDependent"]
    ET.SubElement(root, "{http://www.imsglobal.org/xsd/imsqti_v2p2}itemBody")
    damaged = package | {name: ET.tostring(root)}

    assert len(problems_of(damaged, hyphens=False)) >= 2
