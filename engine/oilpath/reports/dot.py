"""Pictures for Graphviz: the DOT source by the library `graphviz`, and SVG by the program `dot` where there is one."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path
from textwrap import wrap
from typing import Final

from oilpath.problems import Problem, UnusableInput
from oilpath.reports.pictures import Picture

SECONDS: Final = 10
_ROW: Final = 26  # characters of a line in a box
#: They differ in frame and dash as well as in colour, so that they hold in grey and for colour-blind eyes.
_STYLES: Final = {
    "plain": {"style": "rounded", "color": "#5b6770"},
    "way": {"style": "rounded,filled", "fillcolor": "#dfe9f2", "color": "#1f4e79", "penwidth": "1.6"},
    "suspect": {"style": "rounded,filled,bold", "fillcolor": "#f6d9b8", "color": "#7a3b00", "penwidth": "2.6"},
    "cause": {"style": "rounded,filled", "fillcolor": "#f6d9b8", "color": "#7a3b00"},
    "check": {"shape": "box", "style": "filled", "fillcolor": "#e8f0e2", "color": "#33691e"},
    "end": {"style": "rounded,dashed", "color": "#5b6770"},
}
_WANTED: Final = "Graphviz on the system, or pip install 'oilpath[pictures]'; --format dot works without"


def to_dot(picture: Picture, *, across: bool = False) -> str:
    """The DOT source of a picture, top to bottom or from left to right."""
    from graphviz import Digraph, escape

    graph = Digraph(
        comment="oilpath",
        graph_attr={"rankdir": "LR" if across else "TB", "label": escape(picture.title), "labelloc": "t",
                    "fontname": "sans-serif", "bgcolor": "#ffffff", "nodesep": "0.25", "ranksep": "0.35"},
        node_attr={"shape": "box", "fontname": "sans-serif", "fontsize": "11", "fontcolor": "#111111"},
        edge_attr={"fontname": "sans-serif", "fontsize": "9", "color": "#333333"},
    )  # fmt: skip
    for box in picture.boxes:
        graph.node(box.id, label=escape("\n".join(_wrapped(box.lines))).replace("\n", "\\n"), **_STYLES[box.kind])
    for edge in picture.edges:
        style = {"style": "dashed", "dir": "none"} if edge.beside else {}
        graph.edge(edge.tail, edge.head, label=escape("\n".join(wrap(edge.label, 30))).replace("\n", "\\n"), **style)
    source: str = graph.source
    return source


def _wrapped(lines: tuple[str, ...]) -> list[str]:
    return [row for line in lines for row in wrap(line, _ROW) or [""]]


def dot_program() -> str | None:
    """The program that lays out graphs: `dot`, else the one of the extra `pictures` beside this Python; None."""
    beside = Path(sys.executable).parent / "graphviz-pure"
    return shutil.which("dot") or (str(beside) if beside.is_file() else None)


def to_svg(source: str) -> str:
    """DOT as SVG. Raises UnusableInput where the program is missing, fails or does not return within ten seconds."""
    program = dot_program()
    if program is None:
        raise UnusableInput([Problem("-", 1, "--format", "svg needs the program dot, which is not there", _WANTED)])
    try:
        done = subprocess.run(
            [program, "-Tsvg"], input=source.encode(), capture_output=True, timeout=SECONDS, check=True
        )
    except subprocess.TimeoutExpired:
        reason = f"dot did not return within {SECONDS} s"
    except (OSError, subprocess.CalledProcessError):
        reason = "dot failed"
    else:
        return done.stdout.decode("utf-8", "replace")
    raise UnusableInput([Problem("-", 1, "--format", reason, "--format dot, and another program for it")])
