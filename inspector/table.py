"""The human face of an Inspection: a table and the reasons, for the terminal, by rich."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from inspector.headline import (
    UNDECIDED,
    joint_words,
    numbered,
    pressing,
    undecided,
    verdict_words,
)
from inspector.model import (
    Finding,
    Inspection,
    JointResult,
    Measurement,
    NotMeasured,
    Outcome,
    Verdict,
)
from inspector.passing import pass_lines
from inspector.report import (
    CAUTIONS,
    kind_checks,
    limit_text,
    limits_of,
    not_shown,
    reasons,
    scale_text,
    source_text,
    unseen_text,
)
from inspector.wording import in_picture, measured_text, measured_words, told_once

_CAPTION = "± expanded uncertainty, k = 2; (from to) where that would pass 0 or 100 %"
_PAST_LIMIT = (
    "an interval may pass its limit where the joint as a whole, or made joints, vouch for it"
)
_MORE = "--all says what was seen there."
_VERDICT_STYLE = {
    Verdict.PASS: "bold white on blue",
    Verdict.REWORK: "bold black on dark_orange",
    Verdict.RETAKE: "bold black on white",
}
_OUTCOME_STYLE = {
    Outcome.FINE: "",
    Outcome.REWORK: "bold dark_orange",
    Outcome.DOUBT: "yellow",
    Outcome.NOT_SEEN: "dim",
}


def print_inspection(
    inspection: Inspection,
    console: Console,
    saved: tuple[str, ...] = (),
    *,
    everything: bool = False,
) -> None:
    """Print verdict, reasons with remedies, and the numbers with unit and uncertainty (k = 2).

    Of each joint the checks that are fine or not seen take one line each, unless everything is
    wanted; what brought a rework or a doubt always has its numbers, limit, source and remedy.
    """
    parts: list[RenderableType] = [_heading(inspection)]
    found = reasons(inspection)
    if found:
        parts.append(_reasons(inspection, everything=everything))
    parts += [Text(line) for line in pass_lines(inspection)]
    for result in inspection.results:
        parts += _whole(result) if everything else _folded(result)
    if inspection.results:
        parts.append(Text(scale_text(inspection), style="dim"))
        parts.append(Text(unseen_text(inspection)))
    if inspection.results and inspection.verdict is not Verdict.PASS:  # hands go near it again
        parts += [Text(caution) for caution in CAUTIONS]
    parts += [Text(f"Saved {path}", style="dim", overflow="fold") for path in saved]
    console.print(Group(*parts))
    console.print()


def _heading(inspection: Inspection) -> Text:
    word = verdict_words(inspection)
    parts: list[str | tuple[str, str]] = [
        (
            f" {word.upper() if inspection.verdict is not Verdict.PASS else 'PASS, this side'} ",
            _VERDICT_STYLE[inspection.verdict],
        ),
        f"  {inspection.photo.name}",
        (f"  {inspection.seconds:.1f} s", "dim"),
    ]
    if undecided(inspection):
        parts.append(f"\n{UNDECIDED}")
    return Text.assemble(*parts)


def _reasons(inspection: Inspection, *, everything: bool) -> RenderableType:
    """The reasons, numbered as in the overlay; weaker doubts in a line, unless all is wanted."""
    grid = Table.grid(padding=(0, 1))
    grid.add_column(justify="right")
    grid.add_column(overflow="fold")
    shown, more = pressing(inspection)
    if everything:
        shown, more = numbered(inspection), ()
    remedies = told_once([f for _, f in shown], [n for n, _ in shown])
    for (number, finding), remedy in zip(shown, remedies, strict=True):
        where = "Photo" if finding.joint is None else f"Joint {finding.joint}"
        announced = f"{finding.check.replace('-', ' ')}: "  # said in front already
        text = finding.text
        if text.lower().startswith(announced):
            text = text[len(announced)].upper() + text[len(announced) + 1 :]
        said = Text.assemble(
            (
                f"{where}, {finding.check}, {finding.outcome.value}: ",
                _OUTCOME_STYLE[finding.outcome],
            ),
            text,
        )
        if source := source_text(finding):
            said.append(f"\n{source}", style="dim")
        if remedy:
            said.append(f"\n-> {remedy}")
        grid.add_row(f"{number}", said)
    for line in more:
        grid.add_row("", Text(line, style=_OUTCOME_STYLE[Outcome.DOUBT]))
    if more:
        grid.add_row("", Text(_MORE, style="dim"))
    return Padding(grid, (1, 0, 1, 1))


def _folded(result: JointResult) -> list[RenderableType]:
    """The rows that need a look, and a line each of what is fine and what was not seen."""
    pressing = [f for f in result.findings if f.outcome in (Outcome.REWORK, Outcome.DOUBT)]
    numbers = [finding for finding in pressing if finding.measured]
    parts: list[RenderableType] = [_table(result, numbers)] if numbers else [_title(result)]
    fine = [f.check for f in result.findings if f.outcome is Outcome.FINE]
    known = kind_checks(result)
    unseen = [f.check for f in result.findings if not_shown(f) and f.check in known]
    rest = [f.check for f in result.findings if f.outcome is Outcome.NOT_SEEN and f.check in known]
    clean = [name for name in rest if name not in unseen]
    for said, names in (("fine", fine), ("nothing wrong seen", clean), ("not shown", unseen)):
        if names:
            style = "" if said == "fine" else "dim"
            parts.append(Padding(Text(f"{said}: {', '.join(names)}", style=style), (0, 0, 0, 1)))
    return parts


def _whole(result: JointResult) -> list[RenderableType]:
    """Every check of the joint with every number."""
    return [_table(result, result.findings)]


def _title(result: JointResult) -> Text:
    joint = result.joint
    return Text(f"Joint {joint.number}: {joint.kind}, {joint_words(result)}", style="bold")


def _table(result: JointResult, findings: Sequence[Finding]) -> RenderableType:
    table = Table(
        title=_title(result),
        title_justify="left",
        caption=_CAPTION + (f"\n{_PAST_LIMIT}" if result.verdict is Verdict.PASS else ""),
        caption_justify="left",
    )
    for heading in ("check", "outcome", "measured", "value", "limit"):
        table.add_column(heading, overflow="fold")
    for finding in findings:
        outcome = Text(finding.outcome.value, style=_OUTCOME_STYLE[finding.outcome])
        name: RenderableType = finding.check
        if not finding.measured:
            table.add_row(name, outcome, "", "", "")
        for measured in finding.measured:
            if isinstance(measured, Measurement):
                value = measured_text(measured)
                limit = limit_text(limits_of(finding, measured.name)) or ""
                said = measured_words(measured.name, result.joint.axis)
                table.add_row(name, outcome, said, value, limit)
                name, outcome = "", Text("")
        missing = dict.fromkeys(m.because for m in finding.measured if isinstance(m, NotMeasured))
        if missing:
            because = in_picture("; ".join(missing), result.joint.axis)
            table.add_row(name, outcome, "", Text(f"not measured: {because}", style="dim"), "")
    return table
