"""Single items of the interchange standard, in its three versions."""

import pytest

from banks.importers.common import Draft, DraftOption, Finding
from banks.importers.qti.reader import parse
from domain.errors import InputError
from domain.questions import Kind
from tests.banks.importers.qti.made_items import choices, item

TWO = choices("Cirrus", "Stratus", prompt="Which is low?")
TYPED = '<p>The unit is <textEntryInteraction responseIdentifier="RESPONSE"/>.</p>'


def only(data: bytes) -> Draft:
    parsed = parse(data)
    assert parsed.skipped == []
    [draft] = parsed.drafts
    return draft


def mapping(**scores: float) -> str:
    entries = "".join(
        f'<mapEntry mapKey="{value}" mappedValue="{score}"/>' for value, score in scores.items()
    )
    return f'<mapping defaultValue="0">{entries}</mapping>'


def reason(data: bytes) -> str:
    parsed = parse(data)
    assert parsed.drafts == []
    [finding] = parsed.skipped
    return finding.reason


@pytest.mark.parametrize("version", ["2.1", "2.2", "3.0"])
def test_one_reader_reads_the_three_versions(version: str) -> None:
    data = item("<p>Clouds.</p>" + TWO, version=version)

    draft = only(data)

    assert parse(data).format == f"QTI {version}"
    assert draft.stem == "Clouds.\nWhich is low?"
    assert draft.options == (DraftOption("Cirrus"), DraftOption("Stratus"))
    assert (draft.kind, draft.key) == (Kind.BEST, (1,))


def test_a_prefix_before_every_name_changes_nothing() -> None:
    plain = item(TWO, version="2.2").decode()
    prefixed = plain.replace("</", "</q:").replace("<", "<q:").replace("<q:/q:", "</q:")
    prefixed = prefixed.replace("xmlns=", "xmlns:q=")

    parsed = parse(prefixed.encode())

    assert parsed.format == "QTI 2.2"
    assert parsed.drafts == parse(plain.encode()).drafts


@pytest.mark.parametrize(
    ("cardinality", "most", "kind"),
    [("single", 0, Kind.BEST), ("single", 3, Kind.BEST), ("multiple", 1, Kind.MULTIPLE)],
)
def test_cardinality_decides_and_not_how_many_may_be_chosen(
    cardinality: str, most: int, kind: Kind
) -> None:
    body = choices("one", "two", "three", attributes=f'maxChoices="{most}"')

    assert only(item(body, cardinality=cardinality)).kind is kind


def test_true_and_false_as_the_only_options_make_a_true_false_question() -> None:
    assert only(item(choices("True", "False"))).kind is Kind.TRUE_FALSE


def test_feedback_inside_an_option_is_its_explanation_and_never_its_text() -> None:
    feedback = '<feedbackInline identifier="x" outcomeIdentifier="F">Too high.</feedbackInline>'

    [cirrus, _] = only(item(choices(f"Cirrus{feedback}", "Stratus"))).options

    assert cirrus == DraftOption("Cirrus", explanation="Too high.")


def test_feedback_shown_for_an_option_explains_it_and_other_feedback_the_question() -> None:
    after = (
        '<modalFeedback identifier="A" outcomeIdentifier="F"><p>Too high.</p></modalFeedback>'
        '<modalFeedback identifier="why" outcomeIdentifier="F">Layers are low.</modalFeedback>'
    )

    draft = only(item(TWO, after=after))

    assert [option.explanation for option in draft.options] == ["Too high.", ""]
    assert draft.explanation == "Layers are low."


def test_fixed_options_keep_their_place_and_shuffling_is_as_the_file_says() -> None:
    fixed = '<simpleChoice identifier="B" fixed="true">None of these</simpleChoice>'

    draft = only(item(choices("one", fixed, attributes='shuffle="true"')))

    assert [option.fixed for option in draft.options] == [False, True]
    assert draft.shuffle
    assert not only(item(TWO)).shuffle


def test_mapped_scores_are_kept_as_credit() -> None:
    more = mapping(B=2, A=-0.5)

    draft = only(item(TWO, more=more))

    assert (draft.key, draft.credit) == ((1,), ((1, 2.0), (0, -0.5)))


def test_without_a_declared_key_the_best_scored_option_is_the_key() -> None:
    more = mapping(A=2, B=1)

    assert only(item(TWO, key="", more=more)).key == (0,)


def test_an_item_without_a_key_comes_in_and_is_told() -> None:
    parsed = parse(item(TWO, key=""))

    assert parsed.drafts[0].key == ()
    assert parsed.warnings == [Finding(1, "the file says no key")]


def test_a_gap_to_fill_stands_in_the_stem() -> None:
    draft = only(item(TYPED, key="<value>pascal</value>", base="string"))

    assert draft.stem == "The unit is ____."
    assert (draft.kind, draft.key) == (Kind.TEXT, ("pascal",))


def test_every_spelling_with_full_marks_is_accepted() -> None:
    more = mapping(pascal=1, Pa=1, paskal=0.5)

    parsed = parse(item(TYPED, key="<value>pascal</value>", base="string", more=more))

    assert parsed.drafts[0].key == ("pascal", "Pa")
    assert "partial credit" in parsed.warnings[0].reason


def test_a_gap_with_a_menu_is_a_choice() -> None:
    menu = (
        '<p>Stratus is <inlineChoiceInteraction responseIdentifier="RESPONSE">'
        '<inlineChoice identifier="A">high</inlineChoice>'
        '<inlineChoice identifier="B">low</inlineChoice></inlineChoiceInteraction>.</p>'
    )

    draft = only(item(menu))

    assert draft.stem == "Stratus is ____."
    assert [option.text for option in draft.options] == ["high", "low"]
    assert draft.key == (1,)


def processing(rule: str) -> str:
    condition = f"<responseCondition><responseIf>{rule}</responseIf></responseCondition>"
    return f"<responseProcessing>{condition}</responseProcessing>"


def equal(mode: str, tolerance: str = "") -> str:
    return (
        f'<equal toleranceMode="{mode}" tolerance="{tolerance}">'
        f'{VARIABLE}<correct identifier="RESPONSE"/></equal>'
    )


VARIABLE = '<variable identifier="RESPONSE"/>'


@pytest.mark.parametrize(
    ("rule", "middle", "tolerance"),
    [
        (equal("absolute", "0.5 0.5"), "100", 0.5),
        (equal("absolute", "2"), "100", 2.0),
        (equal("relative", "3 3"), "100", 3.0),
        (equal("absolute", "1 3"), "101", 2.0),
        (equal("exact"), "100", 0.0),
        (
            f'<and><gte>{VARIABLE}<baseValue baseType="float">98</baseValue></gte>'
            f'<lte>{VARIABLE}<baseValue baseType="float">103</baseValue></lte></and>',
            "100.5",
            2.5,
        ),
        (
            f'<and><lte><baseValue baseType="float">98</baseValue>{VARIABLE}</lte>'
            f'<gte><baseValue baseType="float">103</baseValue>{VARIABLE}</gte></and>',
            "100.5",
            2.5,
        ),
    ],
)
def test_what_the_rules_accept_around_a_number_is_its_tolerance(
    rule: str, middle: str, tolerance: float
) -> None:
    draft = only(item(TYPED, key="<value>100</value>", base="float", after=processing(rule)))

    assert draft.kind is Kind.NUMERIC
    assert draft.key == (middle,)
    assert draft.tolerance == pytest.approx(tolerance)


def test_a_picture_becomes_words_and_is_missed_when_it_is_not_in_the_file() -> None:
    parsed = parse(item('<p>See <img src="a.png" alt="a halo"/></p>' + TWO))

    assert parsed.drafts[0].stem == "See [figure: a halo]\nWhich is low?"
    assert parsed.warnings == [Finding(1, "the figure a.png is not in the file")]


def test_options_that_are_pictures_are_told_apart_or_refused() -> None:
    drawn = [f'<img src="img/{name}.png" alt=""/>' for name in ("halo", "dew", "fog")]
    draft = only(item(choices(*drawn)))
    assert [option.text for option in draft.options] == [
        "[figure: halo.png]", "[figure: dew.png]", "[figure: fog.png]",
    ]  # fmt: skip
    same = item(choices(*['<img src="a.png" alt="a cloud"/>'] * 3))
    assert "nothing tells apart" in reason(same)


def test_a_button_for_a_hint_is_no_question() -> None:
    button = '<p><endAttemptInteraction responseIdentifier="HINT" title="Hint"/></p>'
    with_button, without = only(item(TWO + button)), only(item(TWO))
    assert (with_button.stem, with_button.options) == (without.stem, without.options)


@pytest.mark.parametrize(
    ("page", "text"),
    [
        ("<p>a <b>b</b>\n  c</p><p>d</p>", "a b c\nd"),
        ("<p>one<br/>two</p>", "one\ntwo"),
        ("<p>a\u00a0b</p>", "a\u00a0b"),
        ("<pre>x\n  y  z</pre>", "x\n  y  z"),
        ("<p>H<sub>2</sub>O, 10<sup>−3</sup>, x<sup>ab</sup></p>", "H₂O, 10⁻³, x^(ab)"),
        ("<ul><li>one</li><li><p>two</p></li></ul>", "- one\n- two"),
        ("<ol><li>one</li><li>two</li></ol>", "1. one\n2. two"),
        ("<table><tr><th>k</th><td>v  w</td></tr><tr><td>1</td><td/></tr></table>", "k | v w\n1 |"),
        ("<p><ruby>雲<rp>(</rp><rt>くも</rt><rp>)</rp></ruby>だ</p>", "雲(くも)だ"),
        ("<p>She said <q>no</q></p>", "She said “no”"),
        ('<p>Hear <audio src="x.mp3"/></p>', "Hear [media: ]"),
        ("<p>a\u0085b\u2028c</p>", "a…b\nc"),
        ("<p>a &lt;b&gt; [red]c[/red]</p>", "a <b> [red]c[/red]"),
        ("<p>x\u202eyz</p>", "xyz"),
    ],
)
def test_the_page_becomes_readable_text(page: str, text: str) -> None:
    assert only(item(page + choices("a", "b"))).stem == text


def test_tables_in_tables_take_no_longer_than_they_are_deep() -> None:
    deep = "<table><tbody><tr><td>x</td><td>" * 25 + "</td></tr></tbody></table>" * 25

    assert only(item(deep + choices("a", "b"))).stem.count("x") == 25


CELLS = "<mtd><mn>1</mn></mtd><mtd><mn>2</mn></mtd>"


@pytest.mark.parametrize(
    ("formula", "text"),
    [
        ("<mi>E</mi><mo>=</mo><mi>m</mi><msup><mi>c</mi><mn>2</mn></msup>", "E = mc²"),
        ("<mfrac><mrow><mi>a</mi><mo>+</mo><mi>b</mi></mrow><mn>2</mn></mfrac>", "(a+b)/2"),
        ("<mfrac><mi>a</mi><mi>b</mi></mfrac>", "a/b"),
        ("<msqrt><mi>x</mi><mo>+</mo><mn>1</mn></msqrt>", "√(x+1)"),
        ("<mroot><mi>x</mi><mn>3</mn></mroot>", "³√(x)"),
        ("<msub><mi>x</mi><mi>max</mi></msub>", "x_(max)"),
        ("<munderover><mo>∑</mo><mi>i</mi><mi>n</mi></munderover>", "∑_iⁿ"),
        ("<mfenced><mi>a</mi><mi>b</mi></mfenced>", "(a,b)"),
        ("<mi>a</mi><mo>\u2062</mo><mi>b</mi>", "ab"),
        (f"<mtable><mtr>{CELLS}</mtr><mtr>{CELLS}</mtr></mtable>", "[1, 2; 1, 2]"),
        ("<semantics><mi>x</mi><annotation>x in words</annotation></semantics>", "x"),
    ],
)
def test_a_formula_becomes_a_readable_line(formula: str, text: str) -> None:
    page = f'<p>When <m:math xmlns:m="http://www.w3.org/1998/Math/MathML">{formula}</m:math>?</p>'

    assert only(item(page + choices("a", "b"))).stem == f"When {text}?"


INTERACTION = '<{0} responseIdentifier="RESPONSE"/>'


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (item(INTERACTION.format("orderInteraction")), "orderInteraction"),
        (item(INTERACTION.format("hotspotInteraction")), "hotspotInteraction"),
        (item(TWO, cardinality="ordered"), "put in order"),
        (item(TWO + TWO), "asks 2 things at once"),
        (item(INTERACTION.format("extendedTextInteraction"), key="", base="string"), "an essay"),
        (item("<p>Just read.</p>"), "nothing is asked"),
        (item(choices(*map(str, range(27)))), "27 options"),
        (item(choices()), "0 options"),
        (item(TWO.replace("RESPONSE", "OTHER")), "not declared"),
        (item(TWO, after="<templateDeclaration/>"), "drawn at random"),
        (item(choices("x" * 100_001, "b")), "a text of more than 100,000"),
        (item(TWO).replace(b"itemBody", b"otherBody"), "no body"),
    ],
)
def test_what_cannot_be_asked_is_skipped_with_the_reason(data: bytes, why: str) -> None:
    assert why in reason(data)


def test_a_finding_points_to_the_line_where_its_item_begins() -> None:
    good, bad = item(TWO).decode(), item("<p>Just read.</p>").decode()

    parsed = parse(f"<items>\n{good}\n\n{bad}\n</items>".encode())

    assert [draft.line for draft in parsed.drafts] == [2]
    assert [finding.line for finding in parsed.skipped] == [4]


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"", "not XML"),
        (b"<a>", "line 1"),
        (b"<a/>", "no assessmentItem"),
        (b'<?xml version="1.0" encoding="klingon"?><a/>', "not XML"),
        (b'<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>', "own entities"),
        (b'<!DOCTYPE a [<!ENTITY b SYSTEM "file:///etc/passwd">]><a>&b;</a>', "own entities"),
        (b"<a>" * 5000, "nested too deep"),
    ],
)
def test_a_file_that_is_no_item_is_refused_in_one_sentence(data: bytes, why: str) -> None:
    with pytest.raises(InputError, match=why) as refusal:
        parse(data)
    assert "\n" not in str(refusal.value)
