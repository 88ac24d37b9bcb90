"""oilpath diagnoses hydraulic systems of excavators and other machines from measured performance tests.

    from oilpath import diagnose, load_sheet
    print(diagnose(load_sheet("sheet.yaml")))

The names below are loaded when first used, so that `import oilpath` and `oilpath --version` stay quick.
"""

from oilpath._version import __version__

TYPE_CHECKING = False  # as type checkers know it, without the 5 ms that importing `typing` takes

if TYPE_CHECKING:
    from oilpath.diagnosis import diagnose
    from oilpath.documents.load import load_machine, load_sheet
    from oilpath.flow import Diagnosis
    from oilpath.knowledge.compile import load_knowledge
    from oilpath.problems import UnusableInput

__all__ = ["Diagnosis", "UnusableInput", "__version__", "diagnose", "load_knowledge", "load_machine", "load_sheet"]

_HOME_OF = {
    "Diagnosis": "oilpath.flow",
    "UnusableInput": "oilpath.problems",
    "diagnose": "oilpath.diagnosis",
    "load_knowledge": "oilpath.knowledge.compile",
    "load_machine": "oilpath.documents.load",
    "load_sheet": "oilpath.documents.load",
}


def __getattr__(name: str) -> object:
    if name not in _HOME_OF:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    value: object = getattr(import_module(_HOME_OF[name]), name)
    globals()[name] = value  # the next use finds it without coming here
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
