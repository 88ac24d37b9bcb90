"""Write the made parts of the documents anew: pictures in docs/, blocks between markers in pages. `make pages` runs it.

    .venv/bin/python scripts/make_pictures.py            writes what has changed, and names it
    .venv/bin/python scripts/make_pictures.py --check    writes nothing; status 1 where something has changed

All of it comes from the program as it is: answers for the shipped demo cases, and docs/worked.yaml followed through
the flow. tests/test_docs.py compares what the pages say (`gist`) with the program: commands, headings, leading causes.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from html import escape
from io import StringIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Final

from worked_sheet import ROOT, worked_block

if TYPE_CHECKING:
    from oilpath.flow import Diagnosis

DEMO: Final = "cases/demo/pump-1-slow.yaml"
DRIFT: Final = "cases/demo/boom-drift.yaml"
CUT: Final = "[…]"
ANSWER: Final = "docs/answer.md"
PAGES: Final = (
    "README.md", "docs/commands.md", "docs/files.md", "docs/how-sure.md", "docs/worked-example.md", "kb/README.md",
    ANSWER,
)  # fmt: skip
"""pages with parts that the program makes"""
BLOCK: Final = re.compile(r"(<!-- made: (?P<name>[a-z-]+) -->\n).*?(<!-- end -->)", re.DOTALL)


# --- what the program says ------------------------------------------------------------


@cache
def said(*arguments: str, folder: str | Path = ROOT, typed: str = "") -> str:
    """What `oilpath` prints for these arguments, run as a command from the checkout, or from another folder."""
    done = subprocess.run(
        [sys.executable, "-c", "from oilpath.cli import main; main()", *arguments],
        cwd=folder,
        input=typed,
        env={**os.environ, "PYTHONPATH": str(ROOT / "engine"), "PYTHONUTF8": "1", "NO_COLOR": "1", "COLUMNS": "80"},
        capture_output=True,
        encoding="utf-8",
        timeout=120,
        check=True,
    )
    return done.stdout


@cache
def coloured(sheet_name: str) -> str:
    """The answer for a sheet as a terminal of 80 columns gets it, with its colours as escapes."""
    from rich.console import Console

    from oilpath import diagnose, load_sheet
    from oilpath.knowledge.compile import load_knowledge
    from oilpath.reports.page import lay_out
    from oilpath.reports.text import WIDTH, render
    from oilpath.reports.words import Words

    sheet = load_sheet(ROOT / sheet_name)
    answer = _named(diagnose(sheet), sheet_name)
    console = Console(file=StringIO(), width=WIDTH, color_system="truecolor", force_terminal=True, _environ={})
    return render(lay_out(answer, Words(load_knowledge(), sheet.machine)), console)


def _named(answer: Diagnosis, name: str) -> Diagnosis:
    from dataclasses import replace

    return replace(answer, sheet=name)


def plain(text: str) -> str:
    """Text without its escapes."""
    return re.sub(r"\x1b\[[0-9;]*m", "", text)


def part(text: str, start: str | None = None, end: str | None = None) -> str:
    """The lines from the one that begins with `start` up to the one that begins with `end`."""
    lines = text.splitlines()
    bare = [plain(line) for line in lines]
    first = 0 if start is None else next(n for n, line in enumerate(bare) if line.startswith(start))
    last = len(lines) if end is None else next(n for n, line in enumerate(bare) if n > first and line.startswith(end))
    while last > first and not bare[last - 1].strip():
        last -= 1
    return "\n".join(lines[first:last])


def up_to_second_step(text: str) -> str:
    """An answer up to its first next check; the cautions of the second one are left out with it."""
    lines = part(text, None, "2. ").splitlines()
    first = next(n for n, line in enumerate(lines) if line.startswith("1. "))
    ends = (n for n in range(first, len(lines)) if not lines[n].strip() or lines[n].startswith("   CAUTION"))
    return "\n".join(lines[: next(ends, len(lines))])


def fenced(text: str, *command: str) -> str:
    """A code block, with the command above the text."""
    return "\n".join(["```text", f"$ oilpath {' '.join(command)}", text.rstrip("\n"), "```"])


# --- blocks of the documents ----------------------------------------------------------


def screen_block() -> str:
    """The first screen for the first demo case."""
    return fenced(said("diagnose", DEMO, "--short"), "diagnose", DEMO, "--short")


MACHINE_ANSWERS: Final = (
    "Digger 3", "1900", "112", "112", "", "120 85 1260 2", "g boom raise", "4.2 4.9", "g stall pressure",
    "34.3 33.3 35.3", "",
)  # fmt: skip
SHEET_ANSWERS: Final = (
    "D3", "4500", "2026-05-14", "", "Boom slow to raise", "", "55", "1900", "e", "off", "full", "", "", "g boom raise",
    "5.8 .9 .8", "g stall pressure", "3.41", "34.1", "q",
)  # fmt: skip


@cache
def first_way() -> tuple[str, str, str]:
    """What a new user types and reads: a machine file, a sheet, the first screen of its answer."""
    machine, sheet = "my-machine.yaml", "sheet.yaml"
    with TemporaryDirectory() as folder:
        made = typed(folder, MACHINE_ANSWERS, "machine", "new", "two-pump-excavator", "--ask", "-o", machine)
        filled_in = typed(folder, SHEET_ANSWERS, "sheet", "fill", machine, "-o", sheet)
        return made, filled_in, typed(folder, (), "diagnose", sheet, "--short")


def typed(folder: str, lines: Sequence[str], *arguments: str) -> str:
    """A conversation in a folder, with what is typed behind each prompt, as a terminal shows it."""
    text = said(*arguments, folder=folder, typed="".join(f"{line}\n" for line in lines))
    first, *rest = re.split(r"(?m)^> ", text)
    answers = [*lines, *[""] * len(rest)]
    return first + "".join(f"> {answer}\n{piece}" for answer, piece in zip(answers, rest, strict=False))


def first_machine_block() -> str:
    """A machine file made by question and answer."""
    text = first_way()[0]
    return fenced(text, "machine", "new", "two-pump-excavator", "--ask", "-o", "my-machine.yaml")


def first_sheet_block() -> str:
    """A sheet filled in: the head, two readings."""
    lines = first_way()[1].splitlines()
    head = next(n for n, line in enumerate(lines) if "Number of the machine" in line)
    found = next(n for n, line in enumerate(lines) if line.startswith("═══ Before"))
    jump = next(n for n, line in enumerate(lines) if line == "> g boom raise")
    text = "\n".join([CUT, "", *lines[head:found], CUT, *lines[jump:]])
    return fenced(text, "sheet", "fill", "my-machine.yaml", "-o", "sheet.yaml")


def first_answer_block() -> str:
    """The first screen for that sheet."""
    return fenced(first_way()[2], "diagnose", "sheet.yaml", "--short")


def next_block() -> str:
    """The next step of the drifting boom."""
    return fenced(f"{part(said('next', DRIFT), None, 'TO RECORD')}\n\n{CUT}", "next", DRIFT)


def practice_block() -> str:
    """A session of practice up to its first reading."""
    text = said("practice", "--seed", "7", typed="worn pump 1\ntravel time\n1\nslow\n")
    lines = text.rstrip().splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith("The customer says"))
    end = next(n for n, line in enumerate(lines) if line.startswith("Paid: "))
    return fenced("\n".join([CUT, *lines[start : end + 1], CUT]), "practice", "--seed", "7")


def why_block() -> str:
    """Why the reading that is out in the demo case of a drifting boom is judged as it is."""
    topic = "drift/boom-cylinder"
    return fenced(f"{part(said('why', DRIFT, topic), None, 'Rules it')}\n\n{CUT}", "why", DRIFT, topic)


def order_block() -> str:
    """The demo case for a repair order in its short form, and as the customer gets it."""
    short = fenced(said("order", DEMO, "--short"), "order", DEMO, "--short")
    return f"{short}\n\n{fenced(said('order', DEMO, '--for', 'customer'), 'order', DEMO, '--for', 'customer')}"


def no_limits_block() -> str:
    """The demo case of a drifting boom on a machine that states no limit: headline, reading that is out, its note."""
    from dataclasses import replace

    from oilpath import diagnose, load_sheet
    from oilpath.knowledge.compile import load_knowledge
    from oilpath.reports.text import to_text
    from oilpath.reports.words import Words

    sheet = load_sheet(ROOT / DRIFT)
    sheet = replace(sheet, machine=sheet.machine.model_copy(update={"limits": ()}))
    text = to_text(diagnose(sheet), Words(load_knowledge(), sheet.machine))
    headline = part(text, "Cause ", "Next ")
    row = part(text, "Test  ", "Cylinder drift, arm")
    note = part(text, "- Cylinder drift, boom", "- Cylinder drift, arm")
    return f"```text\n{headline}\n\n{CUT}\n{row}\n{CUT}\n{note}\n```"


def sure_block() -> str:
    """The words for how sure, with their figures."""
    from oilpath.reports.words import SURE

    lines = ["| words | share |", "|---|---|"]
    upper: float | None = None
    for lowest, words in SURE:
        low, high = f"{100 * lowest:g} %", None if upper is None else f"{100 * upper:g} %"
        lines.append(f"| {words} | {f'from {low}' if high is None else f'{low} up to {high}'} |")
        upper = lowest
    return "\n".join(lines)


def strength_block() -> str:
    """The words for how strongly a reading speaks."""
    from oilpath.reports.words import STRENGTH

    lines = ["| words | weight | that is |", "|---|---|---|"]
    for lowest, words in STRENGTH:
        lines.append(f"| {words} | from {lowest:g} dB | {10 ** (lowest / 10):.1f} times as probable, or more |")
    return "\n".join(lines)


def parameters_block() -> str:
    """The register of parameters as a table."""
    from oilpath.knowledge.parameters import PARAMETERS, parameter_words

    rows = ["| parameter | is | in | sound | works at |", "|---|---|---|---|---|"]
    for name, words in parameter_words().items():
        sound = f"{PARAMETERS[name].sound:g}"  # type: ignore[index]
        rows.append(f"| `{name}` | {words.says} | {words.quantity} | {sound} | {words.at} |")
    return "\n".join(rows)


BLOCKS: Final[Mapping[str, Callable[[], str]]] = {
    "screen": screen_block,
    "first-machine": first_machine_block,
    "first-sheet": first_sheet_block,
    "first-answer": first_answer_block,
    "next": next_block,
    "practice": practice_block,
    "why": why_block,
    "order": order_block,
    "no-limits": no_limits_block,
    "sure": sure_block,
    "strength": strength_block,
    "worked": worked_block,
    "parameters": parameters_block,
}


def filled(text: str) -> str:
    """A document with the blocks between its markers made anew. Raises KeyError for a block not in `BLOCKS`."""
    return BLOCK.sub(lambda found: f"{found[1]}{BLOCKS[found['name']]()}\n{found[3]}", text)


def documents() -> dict[str, str]:
    """Path → text of the documents that hold made blocks, and of those that are made wholly."""
    made = {name: filled((ROOT / name).read_text(encoding="utf-8")) for name in PAGES if name != ANSWER}
    notice = (
        "<!-- Written by scripts/make_pictures.py: the whole answer of `oilpath diagnose --format markdown`. -->\n\n"
    )
    answer = said("diagnose", DEMO, "--format", "markdown")
    return {**made, ANSWER: notice + re.sub(r"(?m)^.*sha256:.*\n", "", answer).rstrip() + "\n"}


_HEADINGS: Final = re.compile(r"^(?:#+ .*|[A-Z][A-Z ,:]{3,}[A-Z]|\$ oilpath .*)$", re.MULTILINE)


def gist(text: str) -> list[str]:
    """What must not lag behind in a page: its headings, its commands, and the causes that lead its answers."""
    lines = [re.sub(r"\s+", " ", found[0]).strip() for found in re.finditer(_HEADINGS, text)]
    leading = re.search(r"(?m)(?:Most probable:|^Cause|\*\*Cause:\*\*)\s+(?:\*\*)?([^(]+) \(", text)
    return lines + ([re.sub(r"\s+", " ", leading[1])] if leading else [])


# --- pictures -------------------------------------------------------------------------

# A plain frame of our own: no window to look like, and no fonts but those that the reader has.
TERMINAL: Final = """<svg class="rich-terminal" viewBox="0 0 {width} {height}" xmlns="http://www.w3.org/2000/svg">
<!-- Written by scripts/make_pictures.py -->
<style>
.{unique_id}-matrix {{ font-family: "DejaVu Sans Mono", Menlo, Consolas, monospace; font-size: {char_height}px;
  line-height: {line_height}px; font-variant-east-asian: full-width; }}
.{unique_id}-title {{ font-size: 18px; font-weight: bold; font-family: sans-serif; }}
{styles}
</style>
<defs>
<clipPath id="{unique_id}-clip-terminal">
<rect x="0" y="0" width="{terminal_width}" height="{terminal_height}" />
</clipPath>
{lines}
</defs>
<rect width="{width}" height="{height}" rx="6" fill="#292929" />
<text class="{unique_id}-title" x="{terminal_x}" y="28" fill="#c5c8c6">TITLE</text>
<g transform="translate({terminal_x}, {terminal_y})" clip-path="url(#{unique_id}-clip-terminal)">
{backgrounds}
<g class="{unique_id}-matrix">
{matrix}
</g>
</g>
</svg>
"""


def terminal(text: str, title: str, name: str) -> str:
    """A terminal showing this text (with its escapes), as SVG by rich."""
    from rich.console import Console
    from rich.text import Text

    console = Console(
        file=StringIO(), width=80, record=True, force_terminal=True, color_system="truecolor", _environ={}
    )
    console.print(Text.from_ansi(text), highlight=False, soft_wrap=False)
    frame = TERMINAL.replace("TITLE", escape(title, quote=False).replace("{", "{{").replace("}", "}}"))
    return _INDENTED.sub(_moved, _EMPTY.sub("", console.export_svg(code_format=frame, unique_id=name)))


_EMPTY: Final = re.compile(r"<text[^>]*>\s*</text>")
_INDENTED: Final = re.compile(
    r'x="(?P<x>[\d.]+)" (?P<y>y="[\d.]+") textLength="(?P<long>[\d.]+)"(?P<clip>[^>]*)>(?P<gap>(?:&#160;)+)'
)
_COLUMN: Final = 12.2
"""width of one column in rich's pictures"""


def _moved(found: re.Match[str]) -> str:
    """A text that begins with spaces, begun further right instead: some readers of SVG drop such spaces."""
    by = found["gap"].count(";") * _COLUMN
    x, long = float(found["x"]) + by, float(found["long"]) - by
    return f'x="{x:g}" {found["y"]} textLength="{long:g}"{found["clip"]}>'


INK: Final = "#1f2933"
_HEAD: Final = (
    '<svg viewBox="0 0 {w} {h}" width="{w}" height="{h}" xmlns="http://www.w3.org/2000/svg" font-family="sans-serif"'
    ' font-size="14">\n<!-- Written by scripts/make_pictures.py -->\n'
    '<defs><marker id="tip" viewBox="0 0 8 8" refX="8" refY="4" markerWidth="8" markerHeight="8" orient="auto">'
    f'<path d="M0 0L8 4L0 8z" fill="{INK}"/></marker></defs>\n'
    '<rect width="{w}" height="{h}" fill="#ffffff"/>\n'
)


def _box(x: float, y: float, w: float, h: float, lines: Sequence[str], fill: str) -> str:
    made = [f'<rect x="{x}" y="{y}" width="{w}" height="{h}" rx="6" fill="{fill}" stroke="{INK}"/>']
    top = y + h / 2 - 9 * (len(lines) - 1) + 5
    for number, line in enumerate(lines):
        weight = ' font-weight="bold"' if number == 0 else ' font-size="12"'
        made.append(
            f'<text x="{x + w / 2}" y="{top + 18 * number}" text-anchor="middle" fill="{INK}"{weight}>'
            f"{escape(line, quote=False)}</text>"
        )
    return "\n".join(made) + "\n"


def _line(x: float, y: float, to_x: float, to_y: float, *, dashed: bool = False, width: float = 1.5) -> str:
    dash = ' stroke-dasharray="5 4"' if dashed else ""
    return (
        f'<path d="M{x} {y}L{to_x} {to_y}" stroke="{INK}" stroke-width="{width}" fill="none"{dash}'
        ' marker-end="url(#tip)"/>\n'
    )


STEPS: Final = (
    ("read", "YAML with lines", "to frozen models"),
    ("judge", "is it really out?", "Result"),
    ("relate", "what do they share?", "Fact"),
    ("suspect", "what could it be?", "Suspicion"),
    ("rank", "how well does it fit?", "RankedCause"),
    ("plan", "what to check next?", "NextCheck, Plan"),
    ("report", "for people, programs", "text, JSON …"),
)


def flow_picture() -> str:
    """The steps of the flow, what goes in and what each hands on."""
    w, gap, top = 152, 24, 110
    width = 20 + len(STEPS) * (w + gap)
    made = _HEAD.format(w=width, h=190)
    for x, name in ((20, "sheet"), (118, "machine")):
        made += _box(x, 20, 76, 36, [name], "#ffffff")
    made += _box(20 + 2 * (w + gap), 20, 3 * w + 2 * gap, 36, ["kb/: what the trade knows, as data"], "#fdf3d8")
    made += _line(58, 56, 80, top) + _line(156, 56, 120, top)
    for number, words in enumerate(STEPS):
        x = 20 + number * (w + gap)
        made += _box(x, top, w, 64, words, "#e3eef8")
        if number:
            made += _line(x - gap, top + 32, x, top + 32)
        if 2 <= number <= 4:
            made += _line(x + w / 2, 56, x + w / 2, top, dashed=True)
    made += _line(20 + 2 * (w + gap), 50, 20 + w + gap + w - 20, top, dashed=True)
    made += _line(20 + 5 * (w + gap) - gap, 50, 20 + 5 * (w + gap) + 20, top, dashed=True)
    return made + "</svg>\n"


def feeds_picture() -> str:
    """Which pump feeds which movement in the demo machine's circuit, and what joins through a merge valve."""
    from oilpath import load_machine
    from oilpath.machine.graph import circuit_graph

    circuit = circuit_graph(load_machine(ROOT / "cases/machines/trainer-22t.yaml"))
    pumps = circuit.main_pumps()
    names = [name for pump in pumps for name in circuit.fed(pump)]
    step, left, right = 34, 60, 420
    height = 40 + step * len(names)
    made = _HEAD.format(w=640, h=height)
    y_of = {name: 30 + step * n for n, name in enumerate(names)}
    for pump in pumps:
        mine = [y_of[name] for name in circuit.fed(pump)]
        middle = (mine[0] + mine[-1]) / 2
        made += _box(left, middle - 22 + 10, 130, 44, [circuit.title(pump)], "#e3eef8")
        for name in circuit.fed(pump):
            made += _line(left + 130, middle + 10, right, y_of[name] + 10)
        for name in circuit.merged(pump):
            made += _line(left + 130, middle + 10, right, y_of[name] + 16, dashed=True)
    for name in names:
        made += _box(right, y_of[name] - 3, 200, 26, [circuit.functions[name].title], "#fdf3d8")
    made += f'<text x="60" y="{height - 10}" fill="{INK}" font-size="12">dashed: joins through a merge valve</text>\n'
    return made + "</svg>\n"


def screens() -> dict[str, tuple[str, str]]:
    """Pictures of the terminal: path → (title, the text with escapes)."""
    answer, drift = coloured(DEMO), coloured(DRIFT)
    return {
        "docs/answer.svg": (f"oilpath diagnose {DEMO}", part(answer, None, "NEXT CHECKS")),
        "docs/tree.svg": (f"oilpath diagnose {DRIFT}", part(drift, "TROUBLESHOOTING TREE", "NEXT CHECKS")),
        "docs/plan.svg": (f"oilpath diagnose {DRIFT}", part(drift, "PLAN", "NOT MEASURED")),
    }


def pictures() -> dict[str, str]:
    """Path → SVG of every picture."""
    shown = {
        path: terminal(text, title, f"oilpath-{Path(path).stem}") for path, (title, text) in screens().items()
    }  # fmt: skip
    return {**shown, "docs/flow.svg": flow_picture(), "docs/feeds.svg": feeds_picture()}


def main(arguments: Sequence[str]) -> int:
    """Write, or with --check only compare."""
    stale = 0
    for name, text in {**documents(), **pictures()}.items():
        path = ROOT / name
        if path.is_file() and path.read_text(encoding="utf-8") == text:
            continue
        stale += 1
        if "--check" in arguments:
            print(f"{name} has changed")
        else:
            path.write_text(text, encoding="utf-8")
            print(f"{name} written")
    return 1 if stale and "--check" in arguments else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
