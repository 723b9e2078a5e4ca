"""What a checked card comes to: the columns of its record and the rows that hang on it."""

from dataclasses import asdict

from sqlalchemy.orm.attributes import set_committed_value

from gradebook.records import airframe, gauges, rules
from gradebook.records.card import Card
from gradebook.records.tables.columns import new_id
from gradebook.records.tables.lessons import ErrorMark, Grade, LessonRecord, ReadingTaken
from gradebook.records.timesheet import read_times
from syllabus.scales import LEFT_BLANK


def fill(record: LessonRecord, card: Card, setting: rules.Setting) -> None:
    """Put into the record what the card says; its rows are made, not yet kept."""
    times = read_times(card.times)[0]
    record.flown_on = rules.read_day(card.flown_on)
    record.outcome = card.outcome
    record.aircraft = airframe.written(card.aircraft, card.ident)
    record.times = {name: value for name, value in asdict(times).items() if value}
    record.remarks = card.remarks.strip()
    record.next_lesson = card.next_lesson or None
    for name in ("grades", "errors", "readings"):
        set_committed_value(record, name, [])  # a draft has none: they need not be looked for
    record.grades = _grades(record, card, setting)
    record.errors, record.readings = _gauge_rows(record, card, setting)


def _grades(record: LessonRecord, card: Card, setting: rules.Setting) -> list[Grade]:
    """One row for each task on the card; an untouched one is left blank."""
    rows = []
    for place, asked in enumerate(setting.tasks):
        task, entry = setting.course.task_by_code[asked.task], card.entry(asked.task)
        level = entry.level or LEFT_BLANK
        rows.append(
            Grade(
                id=new_id(),
                record_id=record.id,
                place=place,
                task=task.code,
                scale=task.scale.code,
                level=level,
                rank=task.scale.rank(level),
                target=asked.target,
                meets=task.scale.meets(level, asked.target),
                together=entry.together,
                carried_from=asked.carried.origin_lesson if asked.carried else None,
                remark=entry.remark.strip(),
            )
        )
    return rows


def _gauge_rows(
    record: LessonRecord, card: Card, setting: rules.Setting
) -> tuple[list[ErrorMark], list[ReadingTaken]]:
    read = gauges.read_gauges(card, setting)
    proposed = {(mark.task, mark.error): mark.found for mark in read.proposed}
    marks = [
        ErrorMark(
            id=new_id(),
            record_id=record.id,
            task=entry.task,
            error=code,
            severity=setting.course.task_by_code[entry.task].error(code).severity.value,
            found=proposed.get((entry.task, code), "tapped"),
        )
        for entry in card.entries
        for code in dict.fromkeys(entry.errors)
    ]
    return marks, _readings(record, card, setting, read)


def _readings(
    record: LessonRecord, card: Card, setting: rules.Setting, read: gauges.Gauges
) -> list[ReadingTaken]:
    aircraft = setting.aircraft(card)
    units = {reading.code: reading.unit for reading in aircraft.readings} if aircraft else {}
    within: dict[str, bool] = {}
    for result in read.results:
        for code in result.readings:
            within[code] = within.get(code, True) and result.met
    return [
        ReadingTaken(
            id=new_id(),
            record_id=record.id,
            code=code,
            value=typed.strip()[:20],
            unit=units[code],
            within=within.get(code),
        )
        for code, typed in card.readings.items()
        if typed.strip() and code in units
    ]
