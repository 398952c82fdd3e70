"""Plain HTML for people with a browser: the form, the answer, the guide to the API.

Nothing is loaded from the network and no script is needed. Whether a client wants HTML or JSON
is told by its Accept header.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from html import escape
from importlib.resources import files
from string import Template
from typing import Any

from starlette.requests import Request
from starlette.responses import HTMLResponse

from inspector import kinds
from inspector.headline import UNDECIDED, numbered, pressing, undecided, verdict_words
from inspector.model import Finding, Inspection, Verdict
from inspector.passing import pass_lines
from inspector.report import CAUTIONS, UNITS, source_text, unseen_text
from inspector.wire import LARGEST_OD_MM, SIZES, SMALLEST_OD_MM
from inspector.wording import FEWEST_POLES, MOST_POLES, told_once

_AGAIN = '<p><a href="/">Send another photo</a></p>'
_UNSPOKEN = 0.0
_SIGNS = {"pass": "&#10003;", "rework": "&#10005;", "retake": "&#8634;", "undecided": "?"}


def wants_html(request: Request) -> bool:
    """Whether the client prefers text/html to JSON; one that does not care gets JSON."""
    liked = _accepted(request.headers.get("accept", ""))
    html, plain = liked.get("text/html", _UNSPOKEN), liked.get("application/json", _UNSPOKEN)
    return html > max(plain, liked.get("application/problem+json", _UNSPOKEN))


def _accepted(header: str) -> dict[str, float]:
    """Media types of an Accept header with their weights; a weight that is no number is 0."""
    found = {}
    for part in header.lower().split(","):
        name, *parameters = (piece.strip() for piece in part.split(";"))
        weight = next((p[2:] for p in parameters if p.startswith("q=")), "1")
        try:
            found[name] = float(weight)
        except ValueError:
            found[name] = 0.0
    return found


def form() -> HTMLResponse:
    """The form that sends a photo, with what to know before."""
    known = kinds.registry()
    unseen = "; ".join(dict.fromkeys(part for kind in known.values() for part in kind.unseen))
    return _page(
        "Is this solder joint good?",
        _filled(
            "form.html",
            kinds=_options({kind.name: kind.title for kind in known.values()}),
            poles=_options({str(n): str(n) for n in range(FEWEST_POLES, MOST_POLES + 1)}),
            wires=_options({f"{size} AWG": f"{size} AWG" for size in SIZES}),
            least=f"{SMALLEST_OD_MM:g}",
            most=f"{LARGEST_OD_MM:g}",
            cautions="\n".join(f"<li>{escape(caution)}</li>" for caution in CAUTIONS),
            unseen=escape(unseen),
        ),
    )


def answer(inspection: Inspection, picture: str) -> HTMLResponse:
    """The picture (its link), the verdict's word, the reasons numbered as in the picture."""
    word = verdict_words(inspection)
    shown, more = pressing(inspection)
    remedies = told_once([f for _, f in shown], [n for n, _ in shown])
    rows = [
        _reason(number, finding, remedy)
        for (number, finding), remedy in zip(shown, remedies, strict=True)
    ]
    state = "undecided" if undecided(inspection) else inspection.verdict.value
    parts = [
        f"<h1>{escape(inspection.photo.name)}</h1>",
        _picture(picture),
        f'<p class="verdict {state}">{_SIGNS[state]} {escape(word)}</p>',
        f"<p>{escape(UNDECIDED)}</p>" if state == "undecided" else "",
        "<h2>Why</h2>\n<ol>\n" + "\n".join(rows) + "\n</ol>" if rows else "",
        *(f"<p>{escape(line)}</p>" for line in more),
        _folded(inspection, [n for n, _ in shown]) if more else "",
        *(f"<p>{escape(line)}</p>" for line in pass_lines(inspection)),
        f"<p>{escape(unseen_text(inspection))}</p>" if inspection.results else "",
        f"<p><small>{escape(UNITS)}</small></p>" if inspection.results else "",
    ]
    if inspection.results and inspection.verdict is not Verdict.PASS:
        cautions = "\n".join(f"<li>{escape(caution)}</li>" for caution in CAUTIONS)
        parts.append(f"<h2>Before you touch the joint</h2>\n<ul>\n{cautions}\n</ul>")
    return _page(f"{word}: {inspection.photo.name}", "\n".join(filter(None, [*parts, _AGAIN])))


def _reason(number: int, finding: Finding, remedy: str) -> str:
    """One item of the list: what is wrong, what to do, the limit's source folded away."""
    where = "Photo" if finding.joint is None else f"Joint {finding.joint}"
    said = f"<b>{escape(where)}, {escape(finding.outcome.value)}:</b> {escape(finding.text)}"
    do = f'<br><span class="do">{escape(remedy)}</span>' if remedy else ""
    source = source_text(finding)
    folded = f"<details><summary>Limit and source</summary>{escape(source)}</details>"
    return f'<li value="{number}">{said}{do}{folded if source else ""}</li>'


def _folded(inspection: Inspection, shown: Sequence[int]) -> str:
    """What the lines on further reasons speak of, in full, folded away."""
    rest = [(n, finding) for n, finding in numbered(inspection) if n not in shown]
    rows = "\n".join(_reason(n, finding, finding.remedy) for n, finding in rest)
    return f"<details><summary>What was seen there</summary>\n<ol>\n{rows}\n</ol>\n</details>"


def _picture(link: str) -> str:
    words = "The photo with the evidence drawn on it; the reasons follow in words"
    return f'<a href="{link}"><img src="{link}" alt="{words}"></a>'


def mistake(status: int, title: str, detail: str) -> HTMLResponse:
    """A problem in words, with the way back to the form."""
    body = f"<h1>This did not work</h1>\n<p>{escape(detail)}</p>\n{_AGAIN}"
    return _page(title, body, status)


def guide(openapi: Mapping[str, Any]) -> HTMLResponse:
    """What the API answers, written out from its own description."""
    rows = [
        f"<dt><code>{method.upper()} {escape(path)}</code></dt>"
        f"<dd>{escape(said.get('description') or said.get('summary', ''))}</dd>"
        for path, methods in openapi["paths"].items()
        for method, said in methods.items()
    ]
    body = openapi["components"]["schemas"]["Body_create_inspection_inspections_post"]
    needed = body.get("required", ())
    fields = [
        f"<dt><code>{escape(name)}</code></dt><dd>{escape(about.get('description', ''))}"
        f"{' (needed)' if name in needed else ''}</dd>"
        for name, about in body["properties"].items()
    ]
    said = _filled("docs.html", rows="\n".join(rows), fields="\n".join(fields))
    return _page("Asking over HTTP", said)


def _options(words: Mapping[str, str]) -> str:
    return "\n".join(
        f'<option value="{escape(value)}">{escape(said)}</option>' for value, said in words.items()
    )


def _page(title: str, body: str, status: int = 200) -> HTMLResponse:
    """A whole page; body is HTML. Its policy allows nothing from elsewhere, nor any script."""
    html = _filled("page.html", title=escape(title), style=_read("style.css"), body=body)
    policy = "default-src 'none'; img-src 'self' data:; style-src 'unsafe-inline'; "
    policy += "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    headers = {"Content-Security-Policy": policy, "Vary": "Accept"}
    return HTMLResponse(html, status, headers)


def _filled(name: str, **values: str) -> str:
    return Template(_read(name)).substitute(values)


@cache
def _read(name: str) -> str:
    return files("api").joinpath("pages", name).read_text(encoding="utf-8")
