"""What people and programs read: a Diagnosis in, text out.

`words` says results, causes and probabilities; `page` lays the answer out once, `text` (rich) and `markdown` show it;
`order` is for the repair order, `why` for one question, `json_` for programs.
"""
