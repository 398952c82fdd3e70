"""Whatever is posted to /inspections: an inspection or a problem of one line, never a fault."""

from __future__ import annotations

import asyncio
import io
import json
import math
from dataclasses import replace

import httpx
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings, strategies as st
from PIL import Image

import scenes
from api import app as app_module
from inspector import overlay, stages
from inspector.wire import LARGEST_OD_MM, SMALLEST_OD_MM

LONGEST = 500  # characters of a detail: a person reads it
KNOWN = ("kind", "poles", "wire", "wire_od", "alloy")
FIELDS = ("photo", *KNOWN, "Wire", "wire_od_mm", "", "poles[]", "__proto__", "fi\u0142e")
CODES = {"photo", "job", "wire", "request", "http", "upload"}
FEW = {"deadline": None, "derandomize": True, "suppress_health_check": [HealthCheck.too_slow]}


def jpeg():
    buffer = io.BytesIO()
    Image.new("RGB", (64, 64), "red").save(buffer, "JPEG")
    return buffer.getvalue()


JPEG = jpeg()


@pytest.fixture(scope="module", autouse=True)
def judged():
    """The jobs that were judged; judging and drawing, which are slow, are left out."""
    jobs, small = [], np.zeros((8, 8, 3), np.uint8)
    result = replace(scenes.inspection((96, 80), ((48, 40),), 12), results=())

    def run(_photo, job, _settings):
        jobs.append(job)
        return result

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(stages, "run", run)
        patch.setattr(stages, "region_map", lambda _: small[..., 0])
        patch.setattr(overlay, "draw", lambda _: small)
        yield jobs


def send(*requests):
    """The answers to (headers, body) posted one after the other."""
    return asyncio.run(ask(requests))


async def ask(requests):
    transport = httpx.ASGITransport(app_module.app, raise_app_exceptions=False)
    async with httpx.AsyncClient(transport=transport, base_url="http://here", verify=False) as to:  # noqa: S501 - nothing leaves this process
        return [await to.post("/inspections", headers=h, content=body) for h, body in requests]


def part(name, value, filename=None, kind=None):
    head = b'Content-Disposition: form-data; name="' + name.replace(b'"', b"%22") + b'"'
    if filename is not None:
        head += b'; filename="' + filename + b'"'
    if kind is not None:
        head += b"\r\nContent-Type: " + kind
    return head + b"\r\n\r\n" + value


def multipart(parts, boundary=b"fence", end=b"--"):
    lines = b"".join(b"--" + boundary + b"\r\n" + one + b"\r\n" for one in parts)
    return lines + b"--" + boundary + end + b"\r\n"


FORM = {"Content-Type": "multipart/form-data; boundary=fence"}
PHOTO = part(b"photo", JPEG, b"a.jpg", b"image/jpeg")
GOOD = (FORM, multipart([PHOTO, part(b"wire", b"12 AWG"), part(b"poles", b"2")]))


def answered(headers, body):
    """The answer to that request, found in order; a good request after it is answered too."""
    answer, after = send((headers, body), GOOD)
    assert after.status_code == 201, after.text
    assert answer.status_code < 500, answer.text
    if answer.status_code != 201:
        is_one_line(answer)
    return answer


def is_one_line(answer):
    assert answer.headers["content-type"] == "application/problem+json"
    body = json.loads(answer.text)
    assert body.keys() == {"type", "title", "status", "detail", "code", "instance"}
    assert (body["status"], body["instance"]) == (answer.status_code, "/inspections")
    assert body["code"] in CODES
    detail = body["detail"]
    assert detail.isprintable(), detail
    assert detail.endswith("."), detail
    assert 10 < len(detail) <= LONGEST, detail


odd = st.text(st.characters(codec="utf-8"), max_size=12)
numbers = st.one_of(
    st.integers().map(str),
    st.integers(-9, 9).map(str),
    st.integers(1, 400).map(lambda digits: "9" * digits),
    st.floats().map(repr),
    st.floats(0.4, 21).map(repr),
    st.sampled_from(
        [
            "NaN",
            "-inf",
            "1e400",
            "1e-400",
            "0x10",
            "1_0",
            "\u0663",
            "\uff11\uff12",
            "+2",
            " 2 ",
            "2.0",
        ]
    ),
)
words = st.one_of(
    odd,
    numbers,
    st.tuples(numbers, st.sampled_from([" AWG", "awg", " mm", "ga", "#"])).map("".join),
    st.sampled_from(["", "cup", "12 AWG", "3", "4.5", "tin-lead", "lead-free", "unknown", "null"]),
    st.sampled_from(["\x00", "\r\n", "\u2028", "\u202e12", "x" * 5000, "9" * 5000, "12 AWG\n" * 9]),
)
raw = st.one_of(words.map(lambda text: text.encode()), st.binary(max_size=20))
plain = st.builds(part, st.sampled_from(FIELDS).map(str.encode), raw)
filed = st.builds(
    part,
    st.sampled_from(FIELDS).map(str.encode),
    st.one_of(raw, st.just(JPEG), st.just(JPEG[: len(JPEG) // 2])),
    st.one_of(odd.map(str.encode), st.binary(max_size=20)),
    st.sampled_from([None, b"image/jpeg", b"text/plain; charset=utf-7", b"nonsense", b""]),
)


@given(fields=st.fixed_dictionaries({}, optional=dict.fromkeys(KNOWN, words)))
@settings(max_examples=150, **FEW)
def test_any_values_of_the_known_fields(fields):
    parts = [part(name.encode(), value.encode()) for name, value in fields.items()]
    answered(FORM, multipart([PHOTO, *parts]))


@given(value=numbers, field=st.sampled_from(["poles", "wire_od", "wire"]))
@settings(max_examples=150, **FEW)
def test_numbers_are_refused_or_make_sense(judged, value, field):
    answer = answered(FORM, multipart([PHOTO, part(field.encode(), value.encode())]))
    if answer.status_code == 201:
        job = judged[-2]  # the good request came last
        assert job.poles in {None, 1, 2, 3}
        if job.wire_od_mm is not None:
            assert math.isfinite(job.wire_od_mm)
            assert SMALLEST_OD_MM <= job.wire_od_mm <= LARGEST_OD_MM


@given(parts=st.lists(st.one_of(plain, filed, st.just(PHOTO)), max_size=6))
@settings(max_examples=200, **FEW)
def test_any_parts_repeated_missing_or_in_each_others_place(parts):
    answered(FORM, multipart(parts))


kinds = st.sampled_from(
    [
        None,
        "",
        "multipart/form-data",
        "multipart/form-data; boundary=",
        "multipart/mixed; boundary=fence",
        "multipart/form-data; boundary=other",
        "multipart/form-data; boundary=" + "y" * 300,
        "application/x-www-form-urlencoded",
        "application/json",
        "image/jpeg",
        "text/plain",
        "nonsense",
        "multipart/form-data; boundary=fence; charset=utf-16",
        "multipart/form-data; charset=x; boundary=fence",
    ]
)
bodies = st.one_of(
    st.binary(max_size=80),
    st.sampled_from(
        [b"", b"{}", b"[1]", b'{"wire": NaN}', b"wire=12&poles=2", b"photo=x&photo=y", JPEG]
    ),
    st.just(GOOD[1]),
    st.integers(0, len(GOOD[1])).map(lambda end: GOOD[1][:end]),
    st.just(multipart([PHOTO], end=b"")),
    st.lists(plain, max_size=3).map(lambda parts: multipart(parts, b"other")),
)


@given(kind=kinds, body=bodies)
@settings(max_examples=150, **FEW)
def test_any_content_type_with_any_body(kind, body):
    answered({} if kind is None else {"Content-Type": kind}, body)


@given(place=st.integers(0, len(GOOD[1]) - 1), value=st.binary(max_size=4), drop=st.integers(0, 9))
@settings(max_examples=150, **FEW)
def test_a_good_request_with_a_few_bytes_changed(place, value, drop):
    body = GOOD[1]
    answered(FORM, body[:place] + value + body[place + drop :])


@pytest.mark.parametrize("name", ["photo", *KNOWN])
def test_a_field_given_twice_is_refused_not_half_read(name):
    values = {"photo": PHOTO, "kind": b"cup", "poles": b"2", "wire": b"12", "wire_od": b"4.5"}
    value = values.get(name, b"unknown")
    one = value if name == "photo" else part(name.encode(), value)
    parts = [one] if name == "photo" else [PHOTO, one]
    assert answered(FORM, multipart(parts)).status_code == 201
    answer = answered(FORM, multipart([*parts, one]))
    assert answer.json()["code"] == "job"
    assert f"field {name} was given more than once" in answer.json()["detail"]


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("multipart/form-data", GOOD[1]),
        ("multipart/form-data; boundary=other", GOOD[1]),
        (FORM["Content-Type"], b"garbage"),
        (FORM["Content-Type"], multipart([PHOTO] * 1500)),
    ],
)
def test_a_form_that_cannot_be_read_says_how_to_send_one(kind, body):
    answer = answered({"Content-Type": kind}, body)
    assert answer.status_code == 400
    assert "send multipart/form-data with the photo" in answer.json()["detail"]


any_accept = st.one_of(
    st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=30),
    st.sampled_from(["text/html;q=nan", "*/*;q=inf", "text/html;q=1e999", ";;;q=", "," * 500]),
)


@given(accept=any_accept)
@settings(max_examples=60, **FEW)
def test_any_accept_header(accept):
    wrong = ({**FORM, "Accept": accept}, multipart([part(b"poles", b"9")]))
    for answer in send(wrong, ({**FORM, "Accept": accept}, GOOD[1])):
        assert answer.status_code in {201, 303, 422}


def test_too_many_parts_are_a_problem():
    answered(FORM, multipart([part(b"wire", b"12")] * 2000))
    answered(FORM, multipart([PHOTO] * 1500))


def test_a_very_long_name_is_cut():
    answer = answered(FORM, multipart([part(b"photo", b"junk", b"n" * 900 + b".jpg")]))
    assert "nn.jpg is not a photo" in answer.json()["detail"]


def test_a_field_that_is_very_long_is_a_problem():
    for name in ("wire", "kind", "alloy", "poles", "wire_od", "x" * 3000):
        answer = answered(FORM, multipart([PHOTO, part(name.encode(), b"7" * 900_000)]))
        assert answer.status_code in {413, 422}
        answer = answered(FORM, multipart([PHOTO, part(name.encode(), b"7" * 3_000_000)]))
        assert answer.status_code in {400, 413, 422}
