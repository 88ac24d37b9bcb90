"""A workshop's own database: machines and sheets with all their versions, photos, drafts, accounts, answers, jobs.

It stands outside the flow, needs the extra `page`, and is opened by :func:`oilpath.store.opening.open_store`. Nothing
here is imported by the flow, and SQLAlchemy is loaded only by the modules of this room.
"""
