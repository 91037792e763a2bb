"""The page of a route's luck: tries against expectation."""

from __future__ import annotations

from advisor.figures import amount, counted, percent
from reports.answer_view import AnswerView, Part
from reports.decision_data import LuckPage, TriesCourse
from reports.lines import band, count_axis, line, lines_figure
from reports.page_parts import Chart, Column, Fact, Table
from reports.pages_data import Answer

COURSES_DRAWN = 6


def luck_view(page: LuckPage) -> AnswerView:
    """Everything on a luck page."""
    luck = page.asked.answer
    money = luck["money"]
    courses = sorted(page.courses, key=lambda each: -each.tries[-1])[:COURSES_DRAWN]
    return AnswerView(
        title=f"Luck with {luck['route']}",
        trail=(),
        headline=luck_headline(luck),
        lead=f"{luck['tries']} attempts, {luck['begun']} begun, {luck['finished']} finished.",
        facts=(
            Fact(f"spent ({money})", "spent", luck["spent"]),
            Fact("so far costs, on average", "expected", luck["expected"]),
            Fact("luckier than", "luckier_than", luck["luckier_than"], "share"),
            Fact("a piece by the odds learned", "mean_cost.learned", luck["mean_cost"]["learned"]),
            Fact("a piece by the stated odds", "mean_cost.stated", luck["mean_cost"]["stated"]),
        ),
        parts=(
            Part(
                "charts",
                "Tries against expectation",
                charts=[_course_chart(each, at) for at, each in enumerate(courses, start=1)],
            ),
            Part("steps", "Step by step", tables=[_steps_table(luck)] if luck["steps"] else ()),
        ),
        command=page.asked.command,
        reasons=luck["reasons"],
        cautions=luck["cautions"],
    )


def luck_headline(luck: Answer) -> str:
    """How lucky it was."""
    place = luck["luckier_than"]
    if place is None:
        return "How lucky this was cannot be told."
    if place < 0.1:
        return f"Bad luck: only {percent(place)} of all who do the same are less lucky."
    if place > 0.9:
        return f"Good luck: luckier than {percent(place)} of all who do the same."
    return f"Within what chance does: luckier than {percent(place)} of all who do the same."


def _course_chart(course: TriesCourse, number: int) -> Chart:
    last, seen = course.tries[-1], course.seen[-1]
    hover = "%{x} tries: %{y} seen"
    return Chart(
        name=f"tries-{number}",
        finding=_course_finding(course),
        reading=(
            "The stepped line is what was logged. The dashed line is what the stated odds expect "
            "on average; chance alone keeps 8 of 10 logs in the darker band, 19 of 20 in the "
            "lighter one."
        ),
        figure=lines_figure(
            [
                *band(course.at, course.low_95, course.high_95, colour="@ahead-soft"),
                *band(course.at, course.low_80, course.high_80, colour="@ahead-mid"),
                line(
                    course.at, course.expected, dash="dash", hover="%{x} tries: %{y:.3~g} expected"
                ),
                line(course.tries, course.seen, dash="solid", hover=hover, shape="hv"),
            ],
            x=count_axis(f"tries of {course.step}", last),
            y=count_axis(
                f"came to {_short(course.outcome)}", 1.06 * max(seen, course.high_95[-1], 1)
            ),
        ),
        tables=(_course_table(course),),
        height_px=320,
        legend=(("solid", "logged"), ("dashed", "expected"), ("ahead", "chance alone")),
    )


def _short(name: str) -> str:
    return name if len(name) <= 28 else f"{name[:27].rstrip()}…"


def _course_finding(course: TriesCourse) -> str:
    last, seen, expected = course.tries[-1], course.seen[-1], course.expected[-1]
    said = (
        f"{course.step}: {seen} of {last} came to {course.outcome}, "
        f"{amount(expected, digits=3)} were to be expected"
    )
    if seen < course.low_95[-1] or seen > course.high_95[-1]:
        return f"{said}: rare by chance alone"
    return f"{said}: within what chance does"


def _course_table(course: TriesCourse) -> Table:
    rows = list(
        zip(
            course.at,
            course.expected,
            course.low_80,
            course.high_80,
            course.low_95,
            course.high_95,
            strict=True,
        )
    )
    step = max(1, len(rows) // 20)
    columns = (
        *(Column(each, "number") for each in ("tries", "expected", "8 of 10 logs from", "to")),
        *(Column(each, "number") for each in ("19 of 20 logs from", "to")),
    )
    return Table(f"{course.step}: what {percent(course.stated)} lets expect", columns, rows[::step])


def _steps_table(luck: Answer) -> Table:
    rows = [
        (
            each["step"],
            each["outcome"],
            each["tries"],
            each["seen"],
            each["seen"] / each["tries"] if each["tries"] else None,
            each["stated"],
            each["posterior"]["mean"],
            each["posterior"]["low_95"],
            each["posterior"]["high_95"],
            each["surprise"],
            each["surprise_corrected"],
        )
        for each in luck["steps"]
    ]
    columns = (
        Column("step"),
        Column("came to"),
        Column("tries", "number"),
        Column("times", "number"),
        *(Column(each, "share") for each in ("in the log", "in the file", "known now")),
        *(Column(each, "share") for each in ("low 95 %", "high 95 %", "so strange by chance")),
        Column(f"corrected for {counted(luck['comparisons'], 'comparison')}", "share"),
    )
    return Table("What was logged, and what it says of the odds", columns, rows)
