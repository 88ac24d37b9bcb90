"""The door: signing in and out, pairing a device, units, accounts; and the files that pages load."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from starlette.responses import PlainTextResponse, Response

from oilpath.page.access import HOURS
from oilpath.page.visit import UNITS, Refused, Visit, own_address
from oilpath.problems import Problem, UnusableInput

_YEAR = 365 * 24 * 3600
_DAYS, _MOST_DAYS = 90, 366  # that a program's token lasts


def sign_in(visit: Visit) -> Response:
    """Name and password."""
    to = own_address(visit.sent.one("to") or visit.query("to"))
    if visit.access.kind == "here":
        return visit.to(to)
    if visit.access.kind == "paired":
        raise Refused(404, "Nobody signs in here: scan the code that the laptop shows.")
    if visit.request.method == "GET":
        return visit.show("sign_in.html", to=to, says="")
    name, password = visit.sent.one("name")[:200], visit.sent.one("password")[:1000]
    if not visit.access.may_try(visit.request, name):
        raise Refused(429, "Too many tries. Wait a minute.")
    account = visit.workshop.store.accounts.check(name, password)
    if account is None:
        return visit.show("sign_in.html", 401, to=to, says="There is no account with this name and password.")
    accounts = visit.workshop.store.accounts
    accounts.end(visit.session)
    response = visit.to(to)
    token = accounts.begin(author=account.name, role=account.role, hours=HOURS, account=account.id)
    visit.access.set_cookie(response, token)
    return response


def sign_out(visit: Visit) -> Response:
    """The session ends, here and on the server."""
    visit.workshop.store.accounts.end(visit.session)
    response = visit.show("signed_out.html")
    visit.access.forget(response)
    return response


def pair(visit: Visit) -> Response:
    """A device with the one-time token of the code on the laptop's screen."""
    if visit.access.kind != "paired":
        raise Refused(404, "There is no such page.")
    if visit.request.method == "GET":
        code = visit.path.get("code", "")[:200]
        return visit.show("pair.html", code=code, fingerprint=visit.access.fingerprint)
    if not visit.access.may_try(visit.request):
        raise Refused(429, "Too many tries. Wait a minute.")
    accounts = visit.workshop.store.accounts
    role = accounts.use(visit.sent.one("code")[:200])
    if role is None:
        raise Refused(401, "This code is used up or too old. Scan the one that the laptop shows now.")
    name = visit.sent.one("name").strip()[:60] or "paired device"
    response = visit.to("/")
    accounts.end(visit.session)
    visit.access.set_cookie(response, accounts.begin(author=name, role=role, hours=HOURS))
    return response


def settings(visit: Visit) -> Response:
    """Units for this browser; accounts for those who may change them."""
    accounts = visit.workshop.store.accounts
    if visit.request.method == "GET":
        return _settings_page(visit)
    what = visit.sent.one("what")
    if what == "units":
        response = visit.to(own_address(visit.sent.one("to"), "/settings"))
        units = "us" if visit.sent.one("units") == "us" else "si"
        response.set_cookie(
            UNITS, units, max_age=_YEAR, path="/", httponly=True, samesite="strict", secure=visit.access.secure
        )
        return response
    if what == "own-password":
        return _own_password(visit)
    visit.need("admin")
    try:
        if what == "add":
            accounts.add(visit.sent.one("name"), visit.sent.one("password"), visit.sent.one("role"))  # type: ignore[arg-type]
        elif what == "role":
            role = visit.sent.one("role")
            if role not in ("read", "write", "admin"):
                raise Refused(422, "There is no such role.")
            active = visit.sent.one("active") != "no"
            accounts.change(visit.number("account", 0), role=role, active=active)  # type: ignore[arg-type]
        elif what == "password":
            accounts.set_password(visit.number("account", 0), visit.sent.one("password"))
        elif what == "script":
            days = visit.number("days", _DAYS, 1, _MOST_DAYS)
            token = accounts.issue(visit.sent.one("name"), visit.sent.one("role"), days=days)  # type: ignore[arg-type]
            return _settings_page(visit, token=token)
        elif what == "revoke":
            accounts.revoke(visit.sent.one("name"))
        elif what == "invite":
            return _invited(visit)
        elif what == "devices":
            accounts.end_devices()
        elif what == "rank":
            visit.workshop.ranker.start()
        elif what == "rank-stop":
            visit.workshop.ranker.stop()
        else:
            raise Refused(400, "There is nothing of this kind to change.")
    except UnusableInput as error:
        return _settings_page(visit, 422, says=error.problems)
    return visit.to("/settings")


def _own_password(visit: Visit) -> Response:
    """Another password for who is signed in, who must know the present one; then everybody signs in anew with it."""
    accounts, person = visit.workshop.store.accounts, visit.person
    if person.account is None:
        raise Refused(409, "Nobody is signed in with a password here.")
    if not visit.access.may_try(visit.request, person.name):
        raise Refused(429, "Too many tries. Wait a minute.")
    if accounts.check(person.name, visit.sent.one("present")[:1000]) is None:
        raise Refused(403, "The present password is another one. Nothing was changed.")
    try:
        accounts.set_password(person.account, visit.sent.one("password"))
    except UnusableInput as error:
        return _settings_page(visit, 422, says=error.problems)
    return visit.to("/sign-in?to=/settings")


def _invited(visit: Visit) -> Response:
    """A code for one more phone, on the laptop's own screen."""
    from oilpath.page.access import PAIR_MINUTES
    from oilpath.page.pairing import drawn_in_svg

    pairing = visit.access.pairing
    if pairing is None:
        raise Refused(409, "Phones are let in while the pages were started with --pair.")
    address = pairing.invite()
    return visit.show(
        "invited.html", code=drawn_in_svg(address), fingerprint=pairing.fingerprint, minutes=round(PAIR_MINUTES)
    )


def _settings_page(visit: Visit, status: int = 200, *, says: tuple[Problem, ...] = (), token: str = "") -> Response:
    accounts, admin = visit.workshop.store.accounts, visit.person.role == "admin"
    return visit.show(
        "settings.html", status, says=says, token=token, people=accounts.all() if admin else (),
        scripts=accounts.scripts() if admin else (), devices=accounts.devices() if admin else (), days=_DAYS,
        ranking=_ranking(visit) if admin else None,
    )  # fmt: skip


def _ranking(visit: Visit) -> Mapping[str, Any]:
    """How far ranking all sheets is."""
    workshop = visit.workshop
    jobs, left = workshop.store.jobs, workshop.store.jobs.count_left(workshop.knowledge)
    job = jobs.latest()
    begun = job is not None and job.state == "running"
    return {
        "running": workshop.ranker.running, "left": left, "sheets": workshop.store.search.count(),
        "done": job.done if job is not None and begun else 0, "total": job.total if job is not None and begun else left,
    }  # fmt: skip


def static(visit: Visit) -> Response:
    """A file that pages load; its address changes with it."""
    found = visit.workshop.templates.assets.get(visit.path["name"])
    if found is None:
        return PlainTextResponse("not found\n", 404)
    etag = f'"{found.mark}"'
    headers = {"etag": etag, "cache-control": "public, max-age=31536000, immutable"}
    if visit.request.headers.get("if-none-match") == etag:
        return Response(status_code=304, headers=headers)
    return Response(found.content, media_type=found.media_type, headers=headers)


def worker(visit: Visit) -> Response:
    """The script that keeps entry pages for times without a signal; it stands at the top, so it serves all pages."""
    found = visit.workshop.templates.assets["worker.js"]
    return Response(found.content, media_type=found.media_type, headers={"cache-control": "no-cache"})
