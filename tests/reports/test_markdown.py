"""The answer as Markdown."""

from collections.abc import Callable

import pytest

from oilpath.reports.markdown import escape, to_markdown
from tests.reports.sample import DIAGNOSIS, SOUND, WORDS

Golden = Callable[[str, str], None]


def test_golden(golden: Golden) -> None:
    golden("markdown-full.txt", to_markdown(DIAGNOSIS, WORDS))
    golden("markdown-sound.txt", to_markdown(SOUND, WORDS))


@pytest.mark.parametrize(
    ("text", "escaped"),
    [
        ("plain, text.", "plain, text."),
        ("<script>", "\\<script\\>"),
        ("[a](http://x.example)", "\\[a\\](http&#58;//x.example)"),
        ("a | b", "a \\| b"),
        ("*_`~", "\\*\\_\\`\\~"),
        ("- no list", "\\- no list"),
        ("1. no list", "&#49;. no list"),
        ("3.9 s", "3.9 s"),
        ("&lt;", "\\&lt;"),
        ("# no title", "\\# no title"),
        ("www.x.example, me@x.example", "www&#46;x.example, me&#64;x.example"),
    ],
)
def test_escape(text: str, escaped: str) -> None:
    # CommonMark 0.31, section 2.4: any ASCII punctuation may be escaped by a backslash; 2.5: numeric references
    assert escape(text) == escaped


def test_tables_have_as_many_cells_in_every_row() -> None:
    import re

    rows = [line for line in to_markdown(DIAGNOSIS, WORDS, all_results=True).splitlines() if line.startswith("| ")]
    assert len(rows) > 20
    assert {len(re.findall(r"(?<!\\)\|", row)) for row in rows} == {5}


def test_cautions_stand_before_their_check() -> None:
    text = to_markdown(DIAGNOSIS, WORDS)
    assert text.index("STOP USE") < text.index("## Findings")
    assert text.index("Hot oil scalds") < text.index("1. **Measure the flow")
