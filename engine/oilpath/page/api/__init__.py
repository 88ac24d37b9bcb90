"""The interface for programs: the JSON that the shell gives, the same problems with pointers to fields.

`operations.py` is the one table of what can be asked; routes, the checks of what is sent and the OpenAPI description
are made from it and from the models of `models.py`.
"""
