"""Photos to a sheet or a reading: made anew from their pixels, so nothing but the picture is kept."""

from __future__ import annotations

import io
import warnings
from typing import Final
from urllib.parse import quote

from starlette.responses import Response

from oilpath.page.views.entry import Open
from oilpath.page.visit import Refused, Visit, address
from oilpath.records import dataclass
from oilpath.reports.check import slot_title

FORMATS: Final = ("JPEG", "PNG", "WEBP")
SIDE: Final = 1600
_PIXELS: Final = 60_000_000
_QUALITY: Final = 82
_MOST: Final = 60
"""photos of one sheet"""


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture as it is kept."""

    content: bytes
    width: int
    height: int


def picture_of(content: bytes) -> Picture:
    """A photo made anew as JPEG: at most 1600 pixels a side, no place, no camera, no preview. Raises Refused."""
    from PIL import Image, ImageOps

    no_picture = Refused(415, "This is no photo that can be read. JPEG, PNG and WebP can.")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            with Image.open(io.BytesIO(content), formats=FORMATS) as found:
                if found.width * found.height > _PIXELS:
                    raise Refused(413, "This photo has too many pixels.")
                found.draft("RGB", (SIDE, SIDE))
                turned = ImageOps.exif_transpose(found)
                turned.thumbnail((SIDE, SIDE))
                plain = Image.new("RGB", turned.size, "white")
                solid = turned.convert("RGBA")
                plain.paste(solid, mask=solid.getchannel("A"))
    except Refused:
        raise
    except Exception:  # whatever a broken or hostile file makes of the library: it is no photo
        raise no_picture from None
    made = io.BytesIO()
    plain.save(made, "JPEG", quality=_QUALITY, optimize=True)
    return Picture(made.getvalue(), *plain.size)


def photos(visit: Visit) -> Response:
    """The photos of a sheet or reading, and a form for one more."""
    name = visit.path["name"]
    reading = (visit.sent.one("reading") or visit.query("reading"))[:200]
    store = visit.workshop.store
    visit.workshop.held(name, "sheet")
    if visit.request.method == "GET":
        found = [one for one in store.photos.of(name) if not reading or one.reading == reading]
        return visit.show(
            "photos.html", name=name, reading=reading, photos=found, titles=_titles(visit, name),
            tests=visit.request.query_params.getlist("test")[:40],
        )  # fmt: skip
    upload = visit.sent.files.get("photo")
    if upload is None:
        raise Refused(422, "No photo was sent.")
    if len(store.photos.of(name)) >= _MOST:
        raise Refused(409, f"A sheet holds {_MOST} photos at most.")
    made = picture_of(upload.content)
    store.photos.add(
        name, made.content, media_type="image/jpeg", width=made.width, height=made.height, author=visit.person.name,
        reading=reading, caption=visit.sent.one("caption").strip()[:200],
    )  # fmt: skip
    known = visit.workshop.knowledge.tests
    tests = "&".join(f"test={test}" for test in visit.sent.fields.get("test", ()) if test in known)
    return visit.to(
        address("sheet", name, "entry") + (f"?{tests}" if tests else "") + (f"#at-{quote(reading)}" if reading else "")
    )


def _titles(visit: Visit, name: str) -> dict[str, str]:
    """What each reading of a sheet is called."""
    opened = Open(visit, name)
    slots = (step.slot for step in opened.fields.entry.steps if step.kind == "reading")
    return {slot.id: slot_title(slot, opened.words) for slot in slots if slot is not None}


def photo(visit: Visit) -> Response:
    """The bytes of a photo."""
    found = visit.workshop.store.photos.get(int(visit.path["number"]))
    if found is None:
        raise Refused(404, "There is no such photo.")
    about, content = found
    headers = {"content-disposition": "inline", "etag": f'"{about.digest}"', "cache-control": "private, max-age=3600"}
    return Response(content, media_type="image/jpeg", headers=headers)


def remove(visit: Visit) -> Response:
    """A photo thrown away."""
    found = visit.workshop.store.photos.get(int(visit.path["number"]))
    if found is None:
        raise Refused(404, "There is no such photo.")
    visit.workshop.store.photos.remove(found[0].id)
    return visit.to(address("sheet", found[0].name, "photos"))
