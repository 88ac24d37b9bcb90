"""Where the knowledge base and the cases are: in the installed package, or in the checkout it runs from."""

from pathlib import Path
from typing import Literal

Kind = Literal["kb", "cases"]

# Each data folder is known by this file, so that some other folder of the same name is not taken for it.
_MARKER = "README.md"
_PACKAGE = Path(__file__).resolve().parent


class DataNotFound(FileNotFoundError):
    """The package has lost its data: neither place holds it."""


def data_folder(kind: Kind) -> Path:
    """The folder of the knowledge base (`kb`) or of the cases (`cases`) that belong to this package.

    A wheel holds them inside the package; in a checkout they lie beside `engine/`.
    Raises DataNotFound, naming both places, where neither holds the folder's README.md.
    """
    # Plain paths, not importlib.resources: durable-rules is compiled code, so the package never runs from a zip file.
    inside, beside = _PACKAGE / kind, _PACKAGE.parents[1] / kind
    for folder in (inside, beside):
        if (folder / _MARKER).is_file():
            return folder
    raise DataNotFound(
        f"oilpath's own data folder '{kind}' is missing: there is no {inside / _MARKER} (as installed)"
        f" and no {beside / _MARKER} (as in a checkout); install oilpath again"
    )
