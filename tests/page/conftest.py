"""The pages over a database of their own, asked as a browser would; without the extra `page` they are left out."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from oilpath.knowledge.compile import load_knowledge

if TYPE_CHECKING:
    from oilpath.page.access import Kind
    from oilpath.store.opening import Store

LIBRARIES = ("starlette", "uvicorn", "python_multipart", "PIL", "sqlalchemy", "alembic", "psycopg", "argon2", "httpx2")
MISSING = [one for one in LIBRARIES if find_spec(one) is None]
collect_ignore_glob = ["test_*.py"] if MISSING else []


class Browser:
    """Asks for pages, and sends forms with the token that their page carries."""

    def __init__(self, app: Any, base: str) -> None:
        from starlette.testclient import TestClient

        self.client = TestClient(app, base_url=base, follow_redirects=True)
        self.base = base

    def get(self, path: str, **more: Any) -> Any:
        return self.client.get(path, **more)

    def token(self, page: str) -> str:
        found = re.search(r'name="token" value="([^"]+)"', self.get(page).text)
        assert found is not None, page
        return found[1]

    def send(self, page: str, to: Any = None, files: Any = None, **fields: Any) -> Any:
        """Send a form that stands on `page`."""
        data = {"token": self.token(page), **{name.replace("__", "-"): value for name, value in fields.items()}}
        return self.client.post(to or page, data=data, files=files, headers={"origin": self.base})

    def script(self, page: str, data: Any) -> Any:
        """Send what the page's script would."""
        headers = {"x-oilpath-token": self.token(page), "accept": "application/json", "origin": self.base}
        return self.client.post(page, json=data, headers=headers)


@pytest.fixture(scope="module", autouse=True)
def quick_hashes() -> Iterator[Callable[[], Any]]:
    """Passwords hashed the same way with little work; gives what makes the hashes of the program itself."""
    from argon2 import PasswordHasher

    from oilpath.store import accounts

    own, quick = accounts._hasher, PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(accounts, "_hasher", lambda: quick)
        yield own


@pytest.fixture(scope="session")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database with the invented machines and sheets, made once and copied for each test."""
    from oilpath.page.demo import put_demo
    from oilpath.store.opening import open_store

    path = tmp_path_factory.mktemp("filled") / "workshop.db"
    made = open_store(path)
    put_demo(made)
    made.close()
    return path


@pytest.fixture
def store(filled: Path, tmp_path: Path) -> Iterator[Store]:
    from oilpath.store.opening import open_store

    made = open_store(shutil.copy(filled, tmp_path / "workshop.db"))
    yield made
    made.close()


@pytest.fixture
def door(store: Store) -> Callable[..., Browser]:
    """A browser before a door of some kind."""
    from oilpath.page.access import Access
    from oilpath.page.app import create_app
    from oilpath.page.guard import Rate
    from oilpath.page.workshop import Workshop

    workshop = Workshop(store, load_knowledge())

    def made(kind: Kind = "here", rate: Rate | None = None) -> Browser:
        return Browser(
            create_app(workshop, Access(store, kind), ["127.0.0.1:8074"], rate=rate), "http://127.0.0.1:8074"
        )

    return made


@pytest.fixture
def browser(door: Callable[..., Browser]) -> Browser:
    return door()
