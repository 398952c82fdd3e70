"""The HTTP face: created resources, links, and problems for every mistake."""

from __future__ import annotations

import asyncio
import io
from dataclasses import replace
from html.parser import HTMLParser

import httpx
import pytest
from fastapi import Response
from PIL import Image

import scenes
from api import app as app_module
from api.limits import LARGEST_BODY
from api.store import Kept, Store
from inspector import stages
from inspector.model import Verdict


class Client:
    """Speaks HTTP to the app in this process; seen holds what it was asked to judge."""

    def __init__(self):
        self.seen = []

    def request(self, method, path, **options):
        async def ask():
            transport = httpx.ASGITransport(app_module.app, raise_app_exceptions=False)
            async with httpx.AsyncClient(transport=transport, base_url="http://here") as client:
                return await client.request(method, path, **options)

        return asyncio.run(ask())

    def get(self, path, **options):
        return self.request("GET", path, **options)

    def post(self, path, **options):
        return self.request("POST", path, **options)


@pytest.fixture
def client(monkeypatch):
    client = Client()

    def run(photo, job, _settings):
        client.seen.append((photo, job))
        return scenes.inspection(verdict=Verdict.REWORK)

    monkeypatch.setattr(stages, "run", run)
    monkeypatch.setattr(stages, "region_map", lambda i: i.patches[0].labels)
    return client


def picture():
    buffer = io.BytesIO()
    Image.new("RGB", (100, 80), "red").save(buffer, "JPEG")
    return buffer.getvalue()


def upload(client, data=None, name="a.jpg", **form):
    files = {"photo": (name, picture() if data is None else data)}
    return client.post("/inspections", files=files, data=form)


def is_problem(response, status):
    body = response.json()
    assert response.status_code == status
    assert response.headers["content-type"] == "application/problem+json"
    assert body["status"] == status
    assert body["title"]
    assert body["type"]
    return body


def test_a_photo_becomes_an_inspection_with_links(client):
    response = upload(client, wire="12 AWG", poles="2", alloy="tin-lead")
    assert response.status_code == 201
    body = response.json()
    assert response.headers["location"] == body["links"]["self"]
    assert body["verdict"] == "rework"
    assert body["scale"]["from"] == "wire"
    assert body["reasons"][0]["check"] == "stray-strand"
    photo, job = client.seen[0]
    assert photo.rgb.shape == (80, 100, 3)
    assert (job.poles, job.wire_od_mm, job.alloy) == (2, 4.5, "tin-lead")
    assert client.get(body["links"]["self"]).json() == body
    overlay = client.get(body["overlay"])
    assert overlay.headers["content-type"] == "image/jpeg"
    whole = Image.open(io.BytesIO(overlay.content))
    assert whole.width == 1080
    views = client.get(f"{body['links']['self']}/views")  # for the page: its words stand below
    assert Image.open(io.BytesIO(views.content)).height < whole.height
    regions = client.get(body["regions"])
    assert Image.open(io.BytesIO(regions.content)).size == (1600, 1200)


def test_a_name_with_folders_is_only_a_name(client):
    assert upload(client, name="../../etc/x.jpg").status_code == 201
    assert client.seen[0][0].name == "x.jpg"


@pytest.mark.parametrize(
    ("data", "form", "code"),
    [
        (b"no photo", {}, "photo"),
        (b"", {}, "photo"),
        (None, {"kind": "knot"}, "job"),
        (None, {"wire": "13"}, "wire"),
        (None, {"wire_od": "-3"}, "wire"),
        (None, {"wire": "12 AWG", "wire_od": "4.5"}, "job"),
        (None, {"poles": "0"}, "request"),
        (None, {"poles": "many"}, "request"),
        (None, {"alloy": "gold"}, "request"),
    ],
)
def test_mistakes_are_problems(client, data, form, code):
    body = is_problem(upload(client, data, **form), 422)
    assert body["code"] == code
    assert body["instance"] == "/inspections"
    assert client.seen == []


def test_no_photo_at_all(client):
    assert "photo" in is_problem(client.post("/inspections", data={}), 422)["detail"]


def test_unknown_ids_paths_and_methods(client):
    is_problem(client.get("/inspections/none"), 404)
    is_problem(client.get("/inspections/none/overlay"), 404)
    is_problem(client.get("/inspections/none/views"), 404)
    is_problem(client.get("/nowhere"), 404)
    is_problem(client.request("DELETE", "/inspections/none"), 405)


def test_too_large_an_upload_declared_or_not(client):
    is_problem(upload(client, bytes(LARGEST_BODY + 1)), 413)

    async def chunks():
        yield b"--x\r\nContent-Disposition: form-data; name=photo; filename=a\r\n\r\n"
        for _ in range(LARGEST_BODY // 1_000_000 + 1):
            yield bytes(1_000_000)

    headers = {"content-type": "multipart/form-data; boundary=x"}
    is_problem(client.post("/inspections", content=chunks(), headers=headers), 413)
    assert client.seen == []


def test_a_fault_of_the_program_is_a_problem_without_details(client, monkeypatch):
    def fail(*_):
        raise RuntimeError("secret")

    monkeypatch.setattr(stages, "run", fail)
    assert "secret" not in is_problem(upload(client), 500)["detail"]


def test_openapi_is_3_1_and_names_the_resource(client):
    described = client.get("/openapi.json").json()
    assert described["openapi"].startswith("3.1")
    post = described["paths"]["/inspections"]["post"]
    assert "201" in post["responses"]
    assert "application/problem+json" in post["responses"]["422"]["content"]
    assert "Problem" in described["components"]["schemas"]


def test_the_store_forgets_the_least_recently_used():
    store = Store(most=2)
    kept = {key: Kept({"id": key}, Response(), b"", b"", b"") for key in "abc"}
    store.add("a", kept["a"])
    store.add("b", kept["b"])
    store.get("a")
    store.add("c", kept["c"])
    assert store.get("a") is kept["a"]
    assert store.get("b") is None
    assert len({Store.new_id() for _ in range(100)}) == 100


def test_a_field_that_nothing_reads_is_refused_not_ignored(client):
    answer = upload(client, wire_od_mm="4.5")
    assert "wire_od" in is_problem(answer, 422)["detail"]


BROWSER = {"Accept": "text/html,application/xhtml+xml,application/xml;q=0.9,image/webp,*/*;q=0.8"}


def by_form(client, data=None, headers=BROWSER, **form):
    """What a browser sends: every field of the form, those left alone empty."""
    files = {"photo": ("a <b>.jpg", picture() if data is None else data)}
    sent = {"kind": "cup", "poles": "", "wire": ""} | form
    return client.post("/inspections", files=files, data=sent, headers=headers)


def shown(client, **form):
    """What a browser shows after it has sent the form: the page that it is sent on to."""
    response = by_form(client, **form)
    assert response.status_code == 303
    return client.get(response.headers["location"], headers=BROWSER)


class Elements(HTMLParser):
    """The elements of a page as (tag, attributes)."""

    def __init__(self, text):
        super().__init__()
        self.found = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))

    def of(self, tag):
        return [attributes for name, attributes in self.found if name == tag]


def test_the_root_is_a_form_that_needs_no_script_and_no_network(client):
    response = client.get("/")
    assert response.status_code == 200
    assert response.headers["content-type"].startswith("text/html")
    page = Elements(response.text)
    (form,) = page.of("form")
    assert (form["action"], form["method"]) == ("/inspections", "post")
    assert form["enctype"] == "multipart/form-data"
    labelled = {label["for"] for label in page.of("label")}
    fields = page.of("input") + page.of("select")
    named = {field["name"] for field in fields}
    assert named == {"photo", "kind", "poles", "wire", "wire_od", "alloy"}
    assert {field["id"] for field in fields} == labelled
    assert page.of("script") == []
    assert "http:" not in response.text
    assert "https:" not in response.text
    for words in ("battery", "iron", "cannot see inside a joint"):
        assert words in response.text
    assert "/docs" in {link["href"] for link in page.of("a")}


def test_every_choice_of_the_form_is_accepted(client):
    page = Elements(client.get("/").text)
    values = {option["value"] for option in page.of("option")}
    assert {"", "1", "2", "3", "cup", "12 AWG"} <= values
    for wire in (value for value in values if value.endswith("AWG")):
        assert by_form(client, wire=wire).status_code == 303


def test_a_form_left_as_it_is_tells_no_diameter_and_one_filled_in_tells_it(client):
    assert by_form(client, wire="", wire_od="", alloy="unknown").status_code == 303
    assert client.seen[-1][1].wire_od_mm is None
    assert by_form(client, wire="", wire_od="3.7", alloy="tin-lead").status_code == 303
    assert (client.seen[-1][1].wire_od_mm, client.seen[-1][1].alloy) == (3.7, "tin-lead")
    both = by_form(client, wire="12 AWG", wire_od="3.7")
    assert both.status_code == 422
    assert "Give one of them" in both.text


def test_a_browser_gets_a_page_with_verdict_reasons_and_picture(client):
    response = shown(client, poles="2", wire="12 AWG")
    assert response.status_code == 200
    assert response.headers["content-type"].startswith("text/html")
    assert (client.seen[0][1].poles, client.seen[0][1].wire_od_mm) == (2, 4.5)
    for words in ("rework", "A strand of 7.4 mm is outside the bundle.", "Trim or tuck it."):
        assert words in response.text
    (image,) = Elements(response.text).of("img")
    assert image["alt"]
    assert client.get(image["src"]).headers["content-type"] == "image/jpeg"


def test_a_page_loaded_again_judges_nothing_again_and_its_address_gives_others_json(client):
    place = by_form(client).headers["location"]
    first, again = (client.get(place, headers=BROWSER) for _ in range(2))
    assert first.text == again.text
    assert len(client.seen) == 1
    assert first.headers["vary"] == "Accept"
    assert client.get(place).json()["verdict"] == "rework"
    assert client.get(place).headers["vary"] == "Accept"


@pytest.mark.parametrize(
    "accept", ["*/*", "application/json", "application/json, text/html;q=0.5", "text/html;q=x", ""]
)
def test_clients_that_do_not_ask_for_a_page_get_json(client, accept):
    response = by_form(client, headers={"Accept": accept})
    assert response.json()["verdict"] == "rework"
    assert response.headers["vary"] == "Accept"


def test_a_browsers_mistake_is_a_page_with_the_sentence_and_a_way_back(client):
    for response in (by_form(client, data=b"no <i>photo</i>"), by_form(client, poles="9")):
        assert response.status_code == 422
        assert response.headers["content-type"].startswith("text/html")
        page = Elements(response.text)
        assert {"href": "/"} in page.of("a")
    assert "1 to 3 poles" in response.text
    assert client.request("GET", "/nowhere", headers=BROWSER).status_code == 404


@pytest.mark.parametrize("verdict", list(Verdict))
def test_what_a_pass_rests_on_is_in_the_json_and_on_the_page(client, monkeypatch, verdict):
    monkeypatch.setattr(stages, "run", lambda *_: scenes.inspection(verdict=verdict))
    lines = upload(client).json()["pass_words"]
    page = shown(client).text
    assert len(lines) == (3 if verdict is Verdict.PASS else 0)
    assert all(line in page for line in lines)
    assert ("Before the sleeve" in page) == (verdict is Verdict.PASS)
    described = client.get("/openapi.json").json()["components"]["schemas"]["Inspection"]
    assert "pass_words" in described["required"]


def test_names_of_files_are_no_markup(client, monkeypatch):
    def run(photo, _job, _settings):
        return replace(scenes.inspection(), photo=photo)

    monkeypatch.setattr(stages, "run", run)
    text = shown(client).text
    assert "a &lt;b&gt;.jpg" in text
    assert "<b>.jpg" not in text


def test_no_photo_and_odd_poles_are_plain_sentences(client):
    sentence = "A power connector with solder cups has 1 to 3 poles."
    for poles in ("0", "4", "9", "many"):
        assert is_problem(upload(client, poles=poles), 422)["detail"] == sentence
    assert "Choose one" in is_problem(client.post("/inspections", data={}), 422)["detail"]
    empty = client.post("/inspections", files={"photo": ("", b"")}, data={}, headers=BROWSER)
    assert empty.status_code == 422


def test_the_guide_names_every_resource_and_field(client):
    text = client.get("/docs").text
    described = client.get("/openapi.json").json()
    for path in described["paths"]:
        assert path in text
    for field in ("photo", "kind", "poles", "wire", "wire_od", "alloy"):
        assert f"<code>{field}</code>" in text
    assert "/openapi.json" in {link["href"] for link in Elements(text).of("a")}
