"""The app: POST a photo to /inspections, then GET its JSON, overlay and region map.

Everything stays in memory and is gone when the server stops. `inspector serve` binds it to
127.0.0.1 only.
"""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version
from pathlib import PurePath
from threading import Lock
from typing import Annotated, Literal

from fastapi import Depends, FastAPI, File, Form, HTTPException, Request, Response, UploadFile
from fastapi.responses import RedirectResponse

from api import html, problems
from api.limits import BodyLimit
from api.schemas import Inspection
from api.store import Kept, Store
from inspector import kinds, overlay, report
from inspector.errors import JobError
from inspector.look import look, region_map
from inspector.model import Job
from inspector.photo import read_photo
from inspector.wire import check_od_mm, parse_wire
from inspector.wording import FEWEST_POLES, MOST_POLES


def _version() -> str:
    try:
        return version("solder-joint-inspector")
    except PackageNotFoundError:
        return "0"


app = FastAPI(
    title="Joint inspections",
    version=_version(),
    summary="One photo of a soldered wire joint in, one verdict out.",
    docs_url=None,  # that page would load its scripts from the network
    redoc_url=None,
    responses=problems.responses(400, 404, 405, 413, 422, 500),
)
app.add_middleware(BodyLimit)
problems.install(app)
_store = Store()
_one_at_a_time = Lock()  # a look takes both cores and most of the memory allowed

_LONGEST_NAME, _LONGEST_ECHO = 120, 30  # characters that an answer repeats of what was sent


async def _known_fields(request: Request) -> None:
    """JobError for a form field that nothing reads, or of which only the last would be read.

    A misspelt wire, or the second of two photos, must not be ignored.
    """
    known = ("photo", "kind", "poles", "wire", "wire_od", "alloy")
    given = [name for name, _ in (await request.form()).multi_items()]
    unknown = sorted(set(given) - set(known))
    if unknown:
        raise JobError(f"The field {_brief(unknown[0])} is not known.", f"Use {', '.join(known)}.")
    for name in known:
        if given.count(name) > 1:
            hint = "Send one photo a request." if name == "photo" else "Give it once."
            raise JobError(f"The field {name} was given more than once.", hint)


@app.get("/", include_in_schema=False)
def read_form() -> Response:
    """The form for a browser."""
    return html.form()


@app.get("/docs", include_in_schema=False)
def read_guide() -> Response:
    """The guide to this API."""
    return html.guide(app.openapi())


@app.post(
    "/inspections",
    status_code=201,
    response_model=Inspection,
    responses={303: {"description": "To a browser: the page with the answer is at Location."}},
    dependencies=[Depends(_known_fields)],
)
def create_inspection(
    request: Request,
    response: Response,
    photo: Annotated[UploadFile, File(description="JPEG, PNG, WebP, HEIC or AVIF")],
    kind: Annotated[str, Form(description="kind of joint")] = "cup",
    poles: Annotated[
        int | None,
        Form(ge=FEWEST_POLES, le=MOST_POLES, description="poles of the connector, 1 to 3"),
    ] = None,
    wire: Annotated[str | None, Form(description='such as "12 AWG"')] = None,
    wire_od: Annotated[float | None, Form(description="over the insulation, mm")] = None,
    alloy: Annotated[
        Literal["tin-lead", "lead-free", "unknown"],
        Form(description="tin-lead, lead-free or unknown; gloss counts when it is known"),
    ] = "unknown",
) -> report.Json | Response:
    """Judge a photo; 201 with the inspection, its Location and links to its pictures.

    A browser is sent on to the answer's own page, so that loading it again sends no photo again.
    """
    job = Job(_kind(kind), poles, _wire_od_mm(wire, wire_od), alloy)
    data = photo.file.read()
    name = PurePath((photo.filename or "photo").replace("\\", "/")).name[-_LONGEST_NAME:] or "photo"
    with _one_at_a_time:
        inspection = look(read_photo(data, name), job)
        views = overlay.views(inspection)
        drawn = overlay.encode_jpeg(overlay.with_words(views, inspection))
        regions = overlay.encode_png(region_map(inspection))
    key = _store.new_id()
    links = {
        "self": f"/inspections/{key}",
        "overlay": f"/inspections/{key}/overlay",
        "regions": f"/inspections/{key}/regions",
    }
    page = html.answer(inspection, f"{links['self']}/views")
    body = report.as_json(inspection, overlay=links["overlay"], regions=links["regions"])
    body = {"id": key, **body, "links": links}
    _store.add(key, Kept(body, page, drawn, overlay.encode_jpeg(views), regions))
    if html.wants_html(request):
        return RedirectResponse(links["self"], 303, {"Vary": "Accept"})
    response.headers["Location"] = links["self"]
    response.headers["Vary"] = "Accept"
    return body


@app.get(
    "/inspections/{key}",
    response_model=Inspection,
    responses={200: {"content": {"text/html": {}}}},
)
def read_inspection(key: str, request: Request, response: Response) -> report.Json | Response:
    """The inspection's JSON; to a browser its page."""
    kept = _kept(key)
    response.headers["Vary"] = "Accept"
    return kept.page if html.wants_html(request) else kept.report


@app.get(
    "/inspections/{key}/overlay",
    response_class=Response,
    responses={200: {"content": {"image/jpeg": {}}}},
)
def read_overlay(key: str) -> Response:
    """The annotated picture, JPEG."""
    return Response(_kept(key).overlay_jpeg, media_type="image/jpeg")


@app.get("/inspections/{key}/views", include_in_schema=False)
def read_views(key: str) -> Response:
    """The picture as the page shows it, whose words stand below it."""
    return Response(_kept(key).views_jpeg, media_type="image/jpeg")


@app.get(
    "/inspections/{key}/regions",
    response_class=Response,
    responses={200: {"content": {"image/png": {}}}},
)
def read_regions(key: str) -> Response:
    """The region map, 8-bit PNG of the upright photo's size."""
    return Response(_kept(key).regions_png, media_type="image/png")


def _kept(key: str) -> Kept:
    kept = _store.get(key)
    if kept is None:
        raise HTTPException(404, f"There is no inspection {key}; older ones are dropped.")
    return kept


def _brief(text: str) -> str:
    """What was sent, in quotes, as much of it as fits into a sentence."""
    return repr(text[:_LONGEST_ECHO])


def _kind(kind: str) -> str:
    known = tuple(kinds.registry())
    if kind not in known:
        raise JobError(f"The kind {_brief(kind)} is not known.", f"Use one of: {', '.join(known)}.")
    return kind


def _wire_od_mm(wire: str | None, wire_od: float | None) -> float | None:
    if wire and wire_od is not None:
        raise JobError("Both wire and wire_od were given.", "Give one of them.")
    if wire:
        return parse_wire(wire).overall_mm
    return None if wire_od is None else check_od_mm(wire_od)
