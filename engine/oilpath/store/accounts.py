"""Who may come in: accounts with passwords, sessions of browsers, tokens of programs and to pair a device.

Of a password its argon2 hash is kept, of a token its SHA-256: a token is 32 random bytes, which nobody can guess. What
a copy of the database gives away opens nothing.
"""

from __future__ import annotations

import datetime
import secrets
from collections.abc import Sequence
from functools import cache
from typing import TYPE_CHECKING, Any, Final, Literal, get_args

import sqlalchemy as sql

from oilpath.documents.writing import digest
from oilpath.problems import Problem, UnusableInput, shorten
from oilpath.records import dataclass
from oilpath.store import tables
from oilpath.store.opening import Database, stamp

if TYPE_CHECKING:
    from argon2 import PasswordHasher

Role = Literal["read", "write", "admin"]
ROLES: Final = get_args(Role)
"""each may do what those before it may do"""
LEAST, MOST = 12, 128
"""characters of a password: OWASP ASVS 4.0.3, 2.1.1 and 2.1.2"""
_LONGEST_NAME: Final = 60


@dataclass(frozen=True, slots=True)
class Account:
    """A person who may sign in; active: False locks the account."""

    id: int
    name: str
    role: Role
    active: bool
    made_at: str


@dataclass(frozen=True, slots=True)
class Session:
    """Somebody who is let in: author is written to what they save; account is None for a paired device."""

    account: int | None
    author: str
    role: Role
    ends_at: str


@dataclass(frozen=True, slots=True)
class Script:
    """A program that is let in by a token until some day; its name is written to what it saves."""

    name: str
    role: Role
    made_at: str
    ends_at: str


class Accounts:
    """The people and devices of one database."""

    def __init__(self, database: Database) -> None:
        self._database = database

    # --- accounts -------------------------------------------------------------------

    def add(self, name: str, password: str, role: Role) -> Account:
        """A new account. Raises UnusableInput: a name that is taken or empty, a password too short or too long."""
        wanted = name.strip()
        problems = [*_wrong_name(wanted), *_wrong_password(password, wanted)]
        if role not in ROLES:
            problems.append(Problem("-", 1, "role", "there is no such role", ", ".join(ROLES)))
        if problems:
            raise UnusableInput(problems)
        hashed, made_at = _hasher().hash(password), self._database.now()
        put = self._database.insert(tables.account).values(
            name=wanted, role=role, password=hashed, active=True, made_at=made_at
        )
        with self._database.writing() as connection:
            done = connection.execute(put.on_conflict_do_nothing().returning(tables.account.c.id)).scalar()
        if done is None:
            raise UnusableInput([Problem("-", 1, "name", f"{shorten(wanted)} is taken", "another name")])
        return Account(done, wanted, role, True, made_at)

    def all(self) -> tuple[Account, ...]:
        """All accounts by name."""
        with self._database.reading() as connection:
            rows = connection.execute(sql.select(tables.account)).all()
        return tuple(sorted(map(_account, rows), key=lambda one: one.name))

    def check(self, name: str, password: str) -> Account | None:
        """The account with this name and password; None where there is none, or it is locked.

        A wrong name takes as long as a wrong password.
        """
        from argon2.exceptions import VerificationError

        query = sql.select(tables.account).where(tables.account.c.name == name.strip())
        with self._database.reading() as connection:
            row = connection.execute(query).first()
        kept = _nobody() if row is None else row.password
        try:
            _hasher().verify(kept, password[: MOST + 1])
        except VerificationError:
            return None
        if row is None or not row.active:
            return None
        if _hasher().check_needs_rehash(kept):
            self._change(row.id, password=_hasher().hash(password))
        return _account(row)

    def set_password(self, account: int, password: str) -> None:
        """Another password; whoever is signed in with the old one is signed out. Raises UnusableInput."""
        problems = _wrong_password(password, "")
        if problems:
            raise UnusableInput(problems)
        self._change(account, password=_hasher().hash(password))

    def change(self, account: int, *, role: Role | None = None, active: bool | None = None) -> None:
        """Another role, or locked or opened again; sessions of the account end.

        Raises UnusableInput where nobody would be left who may change accounts.
        """
        wanted = {"role": role, "active": active}
        self._change(account, **{key: value for key, value in wanted.items() if value is not None})

    def _change(self, account: int, **values: Any) -> None:
        table, session = tables.account, tables.session
        with self._database.writing() as connection:
            # two who take each other's role at once: the second one waits, and sees what the first one did
            connection.execute(sql.select(table.c.id).where(table.c.role == "admin").with_for_update())
            connection.execute(sql.update(table).where(table.c.id == account).values(**values))
            if not {"role", "active"}.isdisjoint(values):
                left = sql.select(sql.func.count()).where(table.c.role == "admin", table.c.active)
                if not connection.execute(left).scalar_one():
                    raise UnusableInput(
                        [Problem("-", 1, "role", "nobody would be left who may change accounts", "another admin first")]
                    )
            connection.execute(sql.delete(session).where(session.c.account == account))

    # --- sessions -------------------------------------------------------------------

    def begin(self, *, author: str, role: Role, hours: float, account: int | None = None) -> str:
        """Let somebody in for some hours; gives the token for the browser's cookie."""
        token = secrets.token_urlsafe(32)
        with self._database.writing() as connection:
            self._forget_old(connection)
            connection.execute(
                sql.insert(tables.session).values(
                    digest=_digest(token), account=account, author=author, role=role, made_at=self._database.now(),
                    ends_at=self._in(hours),
                )
            )  # fmt: skip
        return token

    def session(self, token: str) -> Session | None:
        """Who holds this token; None where it is not known, or its time is over."""
        here = tables.session.c
        row = self._opened(tables.session, token, here.account, here.author, here.role, here.ends_at)
        return None if row is None else Session(*row)

    def end(self, token: str) -> None:
        """Sign out."""
        with self._database.writing() as connection:
            connection.execute(sql.delete(tables.session).where(tables.session.c.digest == _digest(token)))

    def devices(self) -> tuple[Session, ...]:
        """Paired devices that are let in now, by name."""
        here = tables.session.c
        query = sql.select(here.account, here.author, here.role, here.ends_at)
        query = query.where(here.account.is_(None), here.ends_at > self._database.now())
        with self._database.reading() as connection:
            rows = connection.execute(query.order_by(here.author, here.made_at)).all()
        return tuple(Session(*row) for row in rows)

    def end_devices(self) -> None:
        """Let no paired device in any more, and take back codes that are not used yet."""
        with self._database.writing() as connection:
            connection.execute(sql.delete(tables.session).where(tables.session.c.account.is_(None)))
            connection.execute(sql.delete(tables.pairing))

    # --- programs -------------------------------------------------------------------

    def issue(self, name: str, role: Role, *, days: float) -> str:
        """A token for a program, which is shown this once. Raises UnusableInput: a name that is taken or empty."""
        wanted, token = name.strip(), secrets.token_urlsafe(32)
        problems = _wrong_name(wanted)
        if role not in ROLES:
            problems.append(Problem("-", 1, "role", "there is no such role", ", ".join(ROLES)))
        if problems:
            raise UnusableInput(problems)
        put = self._database.insert(tables.script).values(
            digest=_digest(token), name=wanted, role=role, made_at=self._database.now(), ends_at=self._in(24 * days)
        )
        with self._database.writing() as connection:
            self._forget_old(connection)
            done = connection.execute(put.on_conflict_do_nothing().returning(tables.script.c.name)).scalar()
        if done is None:
            raise UnusableInput([Problem("-", 1, "name", f"{shorten(wanted)} is taken", "another name")])
        return token

    def script(self, token: str) -> Script | None:
        """The program with this token; None where it is not known, or its time is over."""
        here = tables.script.c
        row = self._opened(tables.script, token, here.name, here.role, here.made_at, here.ends_at)
        return None if row is None else Script(*row)

    def scripts(self) -> tuple[Script, ...]:
        """All programs with a token, by name."""
        here = tables.script.c
        with self._database.reading() as connection:
            rows = connection.execute(sql.select(here.name, here.role, here.made_at, here.ends_at)).all()
        return tuple(sorted((Script(*row) for row in rows), key=lambda one: one.name))

    def revoke(self, name: str) -> None:
        """A program's token opens nothing any more."""
        with self._database.writing() as connection:
            connection.execute(sql.delete(tables.script).where(tables.script.c.name == name))

    # --- pairing --------------------------------------------------------------------

    def invite(self, role: Role, *, minutes: float) -> str:
        """A token that lets one device in, once, within some minutes."""
        token = secrets.token_urlsafe(32)
        with self._database.writing() as connection:
            self._forget_old(connection)
            connection.execute(
                sql.insert(tables.pairing).values(digest=_digest(token), role=role, ends_at=self._in(minutes / 60))
            )
        return token

    def use(self, token: str) -> Role | None:
        """What the device with this token may do, and the token is used up; None: not known, used, or too late."""
        here, now = tables.pairing.c, self._database.now()
        used = (
            sql.update(tables.pairing)
            .where(here.digest == _digest(token), here.used_at.is_(None), here.ends_at > now)
            .values(used_at=now)
            .returning(here.role)
        )
        with self._database.writing() as connection:
            role: Role | None = connection.execute(used).scalar()
        return role

    def _opened(self, table: sql.Table, token: str, *columns: sql.ColumnElement[Any]) -> Sequence[Any] | None:
        """What is known of this token; None where it is not known, or its time is over."""
        query = sql.select(*columns).where(table.c.digest == _digest(token), table.c.ends_at > self._database.now())
        with self._database.reading() as connection:
            return connection.execute(query).first()

    def _in(self, hours: float) -> str:
        return stamp(self._database.moment() + datetime.timedelta(hours=hours))

    def _forget_old(self, connection: sql.Connection) -> None:
        for table in (tables.session, tables.pairing, tables.script):
            connection.execute(sql.delete(table).where(table.c.ends_at <= self._database.now()))


def _wrong_name(name: str) -> list[Problem]:
    if not name or len(name) > _LONGEST_NAME or not name.isprintable():
        return [Problem("-", 1, "name", "is no name", f"1 to {_LONGEST_NAME} characters that can be printed")]
    return []


def _wrong_password(password: str, name: str) -> list[Problem]:
    accepted = f"{LEAST} to {MOST} characters of any kind"
    if not LEAST <= len(password) <= MOST:
        return [Problem("-", 1, "password", f"has {len(password)} characters", accepted)]
    if len(set(password)) < 4 or (name and name.casefold() in password.casefold() and len(name) >= LEAST / 2):
        return [Problem("-", 1, "password", "is easily guessed", accepted)]
    return []


def _account(row: Any) -> Account:
    return Account(row.id, row.name, row.role, bool(row.active), row.made_at)


def _digest(token: str) -> str:
    return digest(token.encode("utf-8", "replace"))


@cache
def _hasher() -> PasswordHasher:
    from argon2 import PasswordHasher

    return PasswordHasher()  # argon2id with the parameters of RFC 9106 for little memory


@cache
def _nobody() -> str:
    """A hash that no password opens."""
    return _hasher().hash(secrets.token_urlsafe(32))
