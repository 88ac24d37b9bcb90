"""Sheets made from what the model predicts, as the tests of the ranking have them."""

from tests.ranking.conftest import SheetOf, find, knowledge, machine, model, sheet_of

__all__ = ["SheetOf", "find", "knowledge", "machine", "model", "sheet_of"]
