"""Items of our own in the standard's three versions, built from one description."""

import re
import zipfile
from io import BytesIO
from string import ascii_uppercase

SPACES = {
    "2.1": "http://www.imsglobal.org/xsd/imsqti_v2p1",
    "2.2": "http://www.imsglobal.org/xsd/imsqti_v2p2",
    "3.0": "http://www.imsglobal.org/xsd/imsqtiasi_v3p0",
}
_PAGE = "p|pre|img|div|b|i|ul|ol|li|table|tr|td|th|br|sub|sup|ruby|rt|rp|object|q|a|span|em|strong"


def item(
    body: str,
    *,
    key: str = "<value>B</value>",
    cardinality: str = "single",
    base: str = "identifier",
    more: str = "",
    after: str = "",
    version: str = "2.1",
) -> bytes:
    """An item with one response, in names of 2.x; `version` 3.0 respells them."""
    correct = f"<correctResponse>{key}</correctResponse>" if key else ""
    text = (
        f'<assessmentItem xmlns="{SPACES[version]}" identifier="i" title="t" adaptive="false"'
        f' timeDependent="false"><responseDeclaration identifier="RESPONSE"'
        f' cardinality="{cardinality}" baseType="{base}">{correct}{more}</responseDeclaration>'
        f"<itemBody>{body}</itemBody>{after}</assessmentItem>"
    )
    return (respelled(text) if version == "3.0" else text).encode()


_LETTERS = [*ascii_uppercase, "AA"]


def choices(*options: str, prompt: str = "", tail: str = "", attributes: str = "") -> str:
    """A choice interaction with options A, B, C …; an option may bring its own element."""
    held = "".join(
        option
        if option.startswith("<simpleChoice")
        else f'<simpleChoice identifier="{letter}">{option}</simpleChoice>'
        for letter, option in zip(_LETTERS, options, strict=False)
    )
    asked = f"<prompt>{prompt}</prompt>" if prompt else ""
    return (
        f'<choiceInteraction responseIdentifier="RESPONSE" {attributes}>'
        f"{asked}{held}</choiceInteraction>{tail}"
    )


def respelled(text: str) -> str:
    """Names of 2.x as 3.0 spells them: `qti-` before elements, hyphens for capitals."""

    def tag(match: re.Match[str]) -> str:
        slash, name, rest = match.groups()
        if re.fullmatch(_PAGE, name):
            return match[0]
        rest = re.sub(r'( \w+)(?==")', lambda attribute: hyphened(attribute[0]), rest)
        return f"<{slash}qti-{hyphened(name)}{rest}>"

    return re.sub(r"<(/?)([A-Za-z]+)((?:\s[^>]*)?)>", tag, text)


def hyphened(name: str) -> str:
    return re.sub("[A-Z]", lambda match: "-" + match[0].lower(), name)


def zipped(files: dict[str, bytes | str]) -> bytes:
    stream = BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as packed:
        for path, content in files.items():
            packed.writestr(path, content)
    return stream.getvalue()


def manifest(*resources: str) -> str:
    return f'<manifest xmlns="m"><resources>{"".join(resources)}</resources></manifest>'


def resource(href: str, kind: str = "imsqti_item_xmlv2p1", inside: str = "") -> str:
    return f'<resource identifier="r" type="{kind}" href="{href}">{inside}</resource>'
