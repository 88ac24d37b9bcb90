"""The pages of `oilpath serve`: the same engine in a browser, for one workshop, over the workshop's own database.

It stands outside the flow, needs the extra `page`, and nothing of the flow imports it. A view takes a
:class:`oilpath.page.visit.Visit` and gives a response; what every visit must pass first is in `guard.py`.
"""
