"""Whatever the bytes, the importer ends with drafts, findings or one plain sentence."""

from hypothesis import given, settings
from hypothesis import strategies as st

from banks.importers.qti.reader import parse
from domain.errors import InputError
from tests.banks.importers.qti.made_items import zipped

NAMES = [
    *("assessmentItem", "itemBody", "choiceInteraction", "simpleChoice", "responseDeclaration"),
    *("correctResponse", "value", "mapping", "mapEntry", "textEntryInteraction", "prompt", "p"),
    *("table", "tr", "td", "ul", "li", "math", "mfrac", "msup", "mi", "ruby", "rt", "img", "pre"),
    *("responseProcessing", "equal", "and", "gte", "lte", "variable", "baseValue", "object"),
    *("modalFeedback", "feedbackInline", "rubricBlock", "manifest", "resources", "resource"),
    *("assessmentTest", "testPart", "assessmentSection", "assessmentItemRef", "qti-item-body"),
]
ATTRIBUTES = {
    "identifier": ["RESPONSE", "A", "B", ""],
    "responseIdentifier": ["RESPONSE", "x"],
    "cardinality": ["single", "multiple", "ordered"],
    "baseType": ["identifier", "float", "string"],
    "href": ["a.xml", "../a.xml", "", "t.xml"],
    "type": ["imsqti_item_xmlv2p1", "imsqti_test_xmlv2p1"],
    "tolerance": ["1 2", "x", "-1", "nan 1e999"],
    "toleranceMode": ["absolute", "relative"],
    "mapKey": ["A", "B"],
    "mappedValue": ["1", "-0,5", "x", "1e400"],
    "label": ["1", "0", "٣", "999999999999"],
    "class": ["reference true-false", ""],
    "view": ["author", "candidate"],
}
attributes = st.dictionaries(st.sampled_from(list(ATTRIBUTES)), st.integers(0, 3), max_size=4)
words = st.text("aB1 \n<&>é\u202e\x1b[0m", max_size=8)


def element(name: str, held: dict[str, int], inside: list[str]) -> str:
    chosen = {key: ATTRIBUTES[key][at % len(ATTRIBUTES[key])] for key, at in held.items()}
    given = "".join(f' {key}="{value}"' for key, value in chosen.items())
    return f"<{name}{given}>{''.join(inside)}</{name}>"


escaped = words.map(lambda text: text.replace("&", "&amp;").replace("<", "&lt;"))
trees = st.recursive(
    escaped,
    lambda inner: st.builds(
        element, st.sampled_from(NAMES), attributes, st.lists(inner, max_size=4)
    ),
    max_leaves=30,
)
items = st.lists(trees, max_size=5).map(
    lambda parts: f"<assessmentItem>{''.join(parts)}</assessmentItem>"
)


def ends_well(data: bytes) -> None:
    try:
        parsed = parse(data)
    except InputError as refusal:
        sentence = str(refusal)
    else:
        sentence = ""
        assert parsed.drafts or parsed.skipped
        assert all(len(draft.options) <= 8 for draft in parsed.drafts)
    assert "\n" not in sentence


@settings(max_examples=150, deadline=None)
@given(data=st.one_of(st.binary(max_size=300), st.binary(max_size=300).map(b"PK\x03\x04".__add__)))
def test_any_bytes_end_in_drafts_or_a_sentence(data: bytes) -> None:
    ends_well(data)


@settings(max_examples=250, deadline=None)
@given(item=items)
def test_any_tree_of_known_names_ends_well(item: str) -> None:
    ends_well(item.encode())


@settings(max_examples=60, deadline=None)
@given(files=st.dictionaries(st.sampled_from(["a.xml", "t.xml", "imsmanifest.xml"]), items))
def test_any_package_of_such_trees_ends_well(files: dict[str, str]) -> None:
    ends_well(zipped(files))


@settings(max_examples=80, deadline=None)
@given(at=st.integers(0, 4000), byte=st.integers(0, 255), item=items)
def test_a_package_with_one_byte_changed_ends_well(at: int, byte: int, item: str) -> None:
    whole = bytearray(zipped({"a.xml": item}))
    whole[at % len(whole)] = byte

    ends_well(bytes(whole))
