"""The human face of an Inspection: a table and the reasons, for the terminal, by rich."""

from __future__ import annotations

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from inspector.model import (
    Finding,
    Inspection,
    JointResult,
    Measurement,
    NotMeasured,
    Outcome,
    Verdict,
)
from inspector.report import (
    CAUTIONS,
    VERDICT_WORDS,
    limit_text,
    limits_of,
    quantity_text,
    reasons,
    scale_text,
    source_text,
    unseen_text,
)

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


def print_inspection(inspection: Inspection, console: Console, saved: tuple[str, ...] = ()) -> None:
    """Print verdict, reasons with remedies, and every number with unit and uncertainty (k = 2)."""
    parts: list[RenderableType] = [_heading(inspection)]
    found = reasons(inspection)
    if found:
        parts.append(_reasons(found))
    parts += [_joint(result) for result in inspection.results]
    if inspection.results:
        parts.append(Text(scale_text(inspection), style="dim"))
        parts.append(Text(unseen_text(inspection)))
    if inspection.verdict is not Verdict.PASS:  # either way hands go near the joint again
        parts += [Text(caution) for caution in CAUTIONS]
    parts += [Text(f"Saved {path}", style="dim", overflow="fold") for path in saved]
    console.print(Group(*parts))
    console.print()


def _heading(inspection: Inspection) -> Text:
    word = VERDICT_WORDS[inspection.verdict]
    return Text.assemble(
        (
            f" {word.upper() if inspection.verdict is not Verdict.PASS else 'PASS, this side'} ",
            _VERDICT_STYLE[inspection.verdict],
        ),
        f"  {inspection.photo.name}",
        (f"  {inspection.seconds:.1f} s", "dim"),
    )


def _reasons(found: tuple[Finding, ...]) -> RenderableType:
    """The reasons, numbered as in the overlay."""
    grid = Table.grid(padding=(0, 1))
    grid.add_column(justify="right")
    grid.add_column(overflow="fold")
    for number, finding in enumerate(found, start=1):
        where = "Photo" if finding.joint is None else f"Joint {finding.joint}"
        said = Text.assemble(
            (
                f"{where}, {finding.check}, {finding.outcome.value}: ",
                _OUTCOME_STYLE[finding.outcome],
            ),
            finding.text,
        )
        if finding.remedy:
            said.append(f"\n-> {finding.remedy}")
        if source := source_text(finding):
            said.append(f"\n{source}", style="dim")
        grid.add_row(f"{number}", said)
    return Padding(grid, (1, 0, 1, 1))


def _joint(result: JointResult) -> RenderableType:
    table = Table(
        title=f"Joint {result.joint.number}: {result.joint.kind}, {result.verdict.value}",
        title_justify="left",
        title_style="bold",
        caption="± is the expanded uncertainty, k = 2",
        caption_justify="left",
    )
    for heading in ("check", "outcome", "measured", "value", "limit"):
        table.add_column(heading, overflow="fold")
    for finding in result.findings:
        outcome = Text(finding.outcome.value, style=_OUTCOME_STYLE[finding.outcome])
        name: RenderableType = finding.check
        if not finding.measured:
            table.add_row(name, outcome, "", "", "")
        for measured in finding.measured:
            if isinstance(measured, Measurement):
                value = quantity_text(measured.quantity)
                limit = limit_text(limits_of(finding, measured.name)) or ""
                table.add_row(name, outcome, measured.name.replace("_", " "), value, limit)
                name, outcome = "", Text("")
        missing = dict.fromkeys(m.because for m in finding.measured if isinstance(m, NotMeasured))
        if missing:
            table.add_row(
                name, outcome, "", Text(f"not measured: {'; '.join(missing)}", style="dim"), ""
            )
    return table
