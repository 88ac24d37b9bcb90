"""The files of a layer's `closed/`, `oilpath: closed/1`: jobs whose cause was found, as a workshop keeps them."""

from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field

from oilpath.knowledge.fields import Entry, Id, NonnegativeNumber, Text

Grade = Literal["torn-down", "retested", "symptom-gone", "unknown"]
"""how it is known that the cause was there: seen in the opened part, proved by tests made again, no longer felt, not"""


class Found(Entry):
    """One cause that was found, and what was done."""

    called: ClassVar[str] = "a cause that was found"

    cause: Annotated[str, Field(pattern=r"^([a-z0-9-]+\.[a-z0-9-]+|none|unknown)$")]
    part: Id
    how: Text | None = None


class Closed(Entry):
    """One closed job: what was found, how sure that is, and the whole sheet as it was."""

    called: ClassVar[str] = "a closed job"

    oilpath: Literal["closed/1"]
    id: Id
    circuit: Id
    """the kind of machine: jobs count for machines of their own kind"""
    found: Annotated[tuple[Found, ...], Field(min_length=1)]
    grade: Grade
    minutes: NonnegativeNumber | None = None
    """what the whole job took"""
    pattern: dict[str, Text] = {}
    """by result of the sheet one word of how it came out (`slow`, `in-order`, `seen`), see `learning.pattern`"""
    values: dict[str, Annotated[tuple[Text, ...], Field(min_length=1, max_length=2)]] = {}
    """of what was out: its value, and that after the repair, where it was measured again"""
    content: Text | None = None
    """hash of the sheet's readings, by which the sheet is known again: a job never counts for its own sheet"""
    sheet: dict[str, Any]
    """the sheet, `sheet/1`, with its machine as the path of a file or whole"""
    after: dict[str, Any] | None = None
    """the sheet of the tests made again after the repair"""
    note: Text | None = None

    def stated(self, key: str) -> str | None:
        """What the head of the sheet states (`unit-number`, `date` …), as text; None if it states nothing."""
        value = self.sheet.get(key)
        return None if value is None or isinstance(value, dict | list) else str(value)
