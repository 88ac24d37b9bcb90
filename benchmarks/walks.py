"""400 ways on the family, beside the cheapest-first order, and 200 from a complaint alone; some minutes on one core.

.venv/bin/python benchmarks/walks.py [NUMBER]
"""

from __future__ import annotations

import sys

from oilpath.lab.family import KINDS
from oilpath.lab.walks import cheapest, figures, run, table


def main(arguments: list[str]) -> int:
    """Print the tables; NUMBER of ways on each kind of machine (134)."""
    count = int(arguments[0]) if arguments else 134
    own = run(count, kinds=KINDS, jobs=2)
    print(table(own, run(count, kinds=KINDS, jobs=2, order=cheapest)))
    alone = run(count // 2, kinds=KINDS, jobs=2, complaint=True)
    print(f"\nFrom a complaint alone, {len(alone)} ways: {figures(alone)}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
