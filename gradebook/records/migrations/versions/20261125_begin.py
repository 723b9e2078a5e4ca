"""The schema the first release begins with.

Revision 20261125_begin, the first.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

from gradebook.records.tables.columns import Moment

revision: str = "20261125_begin"
down_revision: str | None = None
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Make every table."""
    op.create_table(
        "login_attempt",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("subject", sa.String(length=64), nullable=False),
        sa.Column("failed_at", Moment(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_login_attempt")),
    )
    with op.batch_alter_table("login_attempt", schema=None) as batch_op:
        batch_op.create_index(
            "ix_login_attempt_subject_failed_at", ["subject", "failed_at"], unique=False
        )

    op.create_table(
        "person",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("email", sa.String(length=200), nullable=False),
        sa.Column("certificate", sa.String(length=60), nullable=False),
        sa.Column("secret_hash", sa.String(length=200), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("must_change", sa.Boolean(), nullable=False),
        sa.Column("created_at", Moment(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
        sa.UniqueConstraint("email", name=op.f("uq_person_email")),
    )
    op.create_table(
        "school",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("zone", sa.String(length=60), nullable=False),
        sa.Column("hours_style", sa.String(length=10), nullable=False),
        sa.Column("created_at", Moment(timezone=True), nullable=False),
        sa.CheckConstraint("hours_style IN ('decimal', 'clock')", name=op.f("ck_school_hours")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_school")),
    )
    op.create_table(
        "login_session",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("person_id", sa.String(length=32), nullable=False),
        sa.Column("created_at", Moment(timezone=True), nullable=False),
        sa.Column("seen_at", Moment(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_login_session_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_login_session")),
    )
    with op.batch_alter_table("login_session", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_login_session_person_id"), ["person_id"], unique=False
        )

    op.create_table(
        "revision",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("course", sa.String(length=60), nullable=False),
        sa.Column("title", sa.String(length=200), nullable=False),
        sa.Column("files", sa.Text(), nullable=False),
        sa.Column("published_at", Moment(timezone=True), nullable=False),
        sa.Column("published_by", sa.String(length=32), nullable=True),
        sa.ForeignKeyConstraint(
            ["published_by"], ["person.id"], name=op.f("fk_revision_published_by_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_revision")),
    )
    op.create_table(
        "role_grant",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("person_id", sa.String(length=32), nullable=False),
        sa.Column("role", sa.String(length=60), nullable=False),
        sa.Column("granted_at", Moment(timezone=True), nullable=False),
        sa.Column("revoked_at", Moment(timezone=True), nullable=True),
        sa.CheckConstraint(
            "role IN ('student', 'instructor', 'check instructor', 'chief instructor', 'administrator', 'auditor')",
            name=op.f("ck_role_grant_role"),
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_role_grant_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_role_grant")),
    )
    with op.batch_alter_table("role_grant", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_role_grant_person_id"), ["person_id"], unique=False
        )

    op.create_table(
        "enrolment",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("student_id", sa.String(length=32), nullable=False),
        sa.Column("revision_id", sa.String(length=64), nullable=False),
        sa.Column("course", sa.String(length=60), nullable=False),
        sa.Column("enrolled_on", sa.Date(), nullable=False),
        sa.Column("ended_on", sa.Date(), nullable=True),
        sa.Column("ended_how", sa.String(length=20), nullable=True),
        sa.Column("created_at", Moment(timezone=True), nullable=False),
        sa.CheckConstraint(
            "ended_how IN ('graduated', 'terminated', 'transferred')",
            name=op.f("ck_enrolment_how"),
        ),
        sa.CheckConstraint(
            "(ended_on IS NULL) = (ended_how IS NULL)", name=op.f("ck_enrolment_end")
        ),
        sa.ForeignKeyConstraint(
            ["revision_id"], ["revision.id"], name=op.f("fk_enrolment_revision_id_revision")
        ),
        sa.ForeignKeyConstraint(
            ["student_id"], ["person.id"], name=op.f("fk_enrolment_student_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_enrolment")),
        sa.UniqueConstraint(
            "student_id", "course", "enrolled_on", name=op.f("uq_enrolment_student_id")
        ),
    )
    with op.batch_alter_table("enrolment", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_enrolment_student_id"), ["student_id"], unique=False
        )

    op.create_table(
        "audit_event",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", Moment(timezone=True), nullable=False),
        sa.Column("actor_id", sa.String(length=32), nullable=True),
        sa.Column("action", sa.String(length=60), nullable=False),
        sa.Column("object_id", sa.String(length=64), nullable=True),
        sa.Column("enrolment_id", sa.String(length=32), nullable=True),
        sa.Column("facts", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["actor_id"], ["person.id"], name=op.f("fk_audit_event_actor_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["enrolment_id"],
            ["enrolment.id"],
            name=op.f("fk_audit_event_enrolment_id_enrolment"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_audit_event")),
    )
    with op.batch_alter_table("audit_event", schema=None) as batch_op:
        batch_op.create_index("ix_audit_event_at", ["at"], unique=False)
        batch_op.create_index("ix_audit_event_enrolment_id", ["enrolment_id"], unique=False)

    op.create_table(
        "close_decision",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("enrolment_id", sa.String(length=32), nullable=False),
        sa.Column("task", sa.String(length=60), nullable=False),
        sa.Column("error", sa.String(length=60), nullable=False),
        sa.Column("decided_by", sa.String(length=32), nullable=False),
        sa.Column("decided_on", sa.Date(), nullable=False),
        sa.Column("decided_at", Moment(timezone=True), nullable=False),
        sa.Column("reason", sa.String(length=4000), nullable=False),
        sa.ForeignKeyConstraint(
            ["decided_by"], ["person.id"], name=op.f("fk_close_decision_decided_by_person")
        ),
        sa.ForeignKeyConstraint(
            ["enrolment_id"],
            ["enrolment.id"],
            name=op.f("fk_close_decision_enrolment_id_enrolment"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_close_decision")),
    )
    with op.batch_alter_table("close_decision", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_close_decision_enrolment_id"), ["enrolment_id"], unique=False
        )

    op.create_table(
        "filed_event",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("enrolment_id", sa.String(length=32), nullable=False),
        sa.Column("kind", sa.String(length=60), nullable=False),
        sa.Column("code", sa.String(length=60), nullable=False),
        sa.Column("happened_on", sa.Date(), nullable=False),
        sa.Column("expires_on", sa.Date(), nullable=True),
        sa.Column("passed", sa.Boolean(), nullable=False),
        sa.Column("words", sa.String(length=4000), nullable=False),
        sa.Column("filed_by", sa.String(length=32), nullable=False),
        sa.Column("filed_at", Moment(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["enrolment_id"],
            ["enrolment.id"],
            name=op.f("fk_filed_event_enrolment_id_enrolment"),
        ),
        sa.ForeignKeyConstraint(
            ["filed_by"], ["person.id"], name=op.f("fk_filed_event_filed_by_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_filed_event")),
    )
    with op.batch_alter_table("filed_event", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_filed_event_enrolment_id"), ["enrolment_id"], unique=False
        )

    op.create_table(
        "lesson_record",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("enrolment_id", sa.String(length=32), nullable=False),
        sa.Column("revision_id", sa.String(length=64), nullable=False),
        sa.Column("lesson", sa.String(length=60), nullable=False),
        sa.Column("kind", sa.String(length=60), nullable=False),
        sa.Column("attempt", sa.Integer(), nullable=False),
        sa.Column("instructor_id", sa.String(length=32), nullable=False),
        sa.Column("state", sa.String(length=60), nullable=False),
        sa.Column("origin", sa.String(length=10), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("card", sa.JSON(), nullable=False),
        sa.Column("created_at", Moment(timezone=True), nullable=False),
        sa.Column("saved_at", Moment(timezone=True), nullable=False),
        sa.Column("flown_on", sa.Date(), nullable=True),
        sa.Column("outcome", sa.String(length=20), nullable=True),
        sa.Column("aircraft", sa.String(length=60), nullable=True),
        sa.Column("times", sa.JSON(), nullable=True),
        sa.Column("remarks", sa.String(length=4000), nullable=False),
        sa.Column("next_lesson", sa.String(length=60), nullable=True),
        sa.Column("sequence", sa.Integer(), nullable=True),
        sa.Column("signed_at", Moment(timezone=True), nullable=True),
        sa.Column("statement", sa.Text(), nullable=True),
        sa.Column("digest", sa.String(length=64), nullable=True),
        sa.Column("previous", sa.String(length=64), nullable=True),
        sa.Column("acknowledged_at", Moment(timezone=True), nullable=True),
        sa.Column("agrees", sa.Boolean(), nullable=True),
        sa.Column("comment", sa.String(length=4000), nullable=False),
        sa.Column("supersedes_id", sa.String(length=32), nullable=True),
        sa.Column("reason", sa.String(length=4000), nullable=False),
        sa.CheckConstraint(
            "(state = 'draft') = (statement IS NULL)", name=op.f("ck_lesson_record_signed")
        ),
        sa.CheckConstraint(
            "origin IN ('flown', 'imported')", name=op.f("ck_lesson_record_origin")
        ),
        sa.CheckConstraint(
            "outcome IN ('complete', 'incomplete', 'repeat', 'passed', 'failed', 'discontinued')",
            name=op.f("ck_lesson_record_outcome"),
        ),
        sa.CheckConstraint(
            "state = 'draft' OR flown_on IS NOT NULL", name=op.f("ck_lesson_record_flown")
        ),
        sa.CheckConstraint(
            "state IN ('draft', 'signed', 'acknowledged', 'superseded')",
            name=op.f("ck_lesson_record_state"),
        ),
        sa.CheckConstraint(
            "supersedes_id IS NULL OR reason <> ''", name=op.f("ck_lesson_record_reason")
        ),
        sa.CheckConstraint(
            "(acknowledged_at IS NULL) = (agrees IS NULL)",
            name=op.f("ck_lesson_record_acknowledged"),
        ),
        sa.ForeignKeyConstraint(
            ["enrolment_id"],
            ["enrolment.id"],
            name=op.f("fk_lesson_record_enrolment_id_enrolment"),
        ),
        sa.ForeignKeyConstraint(
            ["instructor_id"], ["person.id"], name=op.f("fk_lesson_record_instructor_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["revision_id"], ["revision.id"], name=op.f("fk_lesson_record_revision_id_revision")
        ),
        sa.ForeignKeyConstraint(
            ["supersedes_id"],
            ["lesson_record.id"],
            name=op.f("fk_lesson_record_supersedes_id_lesson_record"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lesson_record")),
        sa.UniqueConstraint("sequence", name=op.f("uq_lesson_record_sequence")),
    )
    with op.batch_alter_table("lesson_record", schema=None) as batch_op:
        batch_op.create_index(
            "ix_lesson_record_effective", ["state", "enrolment_id", "flown_on"], unique=False
        )
        batch_op.create_index(
            batch_op.f("ix_lesson_record_enrolment_id"), ["enrolment_id"], unique=False
        )
        batch_op.create_index(
            batch_op.f("ix_lesson_record_instructor_id"), ["instructor_id"], unique=False
        )
        batch_op.create_index(
            batch_op.f("ix_lesson_record_supersedes_id"), ["supersedes_id"], unique=False
        )

    op.create_table(
        "self_grade",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("enrolment_id", sa.String(length=32), nullable=False),
        sa.Column("lesson", sa.String(length=60), nullable=False),
        sa.Column("attempt", sa.Integer(), nullable=False),
        sa.Column("task", sa.String(length=60), nullable=False),
        sa.Column("level", sa.String(length=60), nullable=False),
        sa.Column("made_at", Moment(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["enrolment_id"],
            ["enrolment.id"],
            name=op.f("fk_self_grade_enrolment_id_enrolment"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_self_grade")),
    )
    with op.batch_alter_table("self_grade", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_self_grade_enrolment_id"), ["enrolment_id"], unique=False
        )
        batch_op.create_index(
            "ix_self_grade_one", ["enrolment_id", "lesson", "attempt", "task"], unique=True
        )

    op.create_table(
        "teaching",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("enrolment_id", sa.String(length=32), nullable=False),
        sa.Column("person_id", sa.String(length=32), nullable=False),
        sa.Column("principal", sa.Boolean(), nullable=False),
        sa.Column("since", Moment(timezone=True), nullable=False),
        sa.Column("until", Moment(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["enrolment_id"], ["enrolment.id"], name=op.f("fk_teaching_enrolment_id_enrolment")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_teaching_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_teaching")),
    )
    with op.batch_alter_table("teaching", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_teaching_enrolment_id"), ["enrolment_id"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_teaching_person_id"), ["person_id"], unique=False)

    op.create_table(
        "error_mark",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("record_id", sa.String(length=32), nullable=False),
        sa.Column("task", sa.String(length=60), nullable=False),
        sa.Column("error", sa.String(length=60), nullable=False),
        sa.Column("severity", sa.String(length=60), nullable=False),
        sa.Column("found", sa.String(length=10), nullable=False),
        sa.CheckConstraint(
            "found IN ('tapped', 'flow', 'reading')", name=op.f("ck_error_mark_found")
        ),
        sa.ForeignKeyConstraint(
            ["record_id"],
            ["lesson_record.id"],
            name=op.f("fk_error_mark_record_id_lesson_record"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_error_mark")),
    )
    with op.batch_alter_table("error_mark", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_error_mark_record_id"), ["record_id"], unique=False
        )

    op.create_table(
        "grade",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("record_id", sa.String(length=32), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("task", sa.String(length=60), nullable=False),
        sa.Column("scale", sa.String(length=60), nullable=False),
        sa.Column("level", sa.String(length=60), nullable=False),
        sa.Column("rank", sa.Integer(), nullable=True),
        sa.Column("target", sa.String(length=60), nullable=False),
        sa.Column("meets", sa.Boolean(), nullable=True),
        sa.Column("together", sa.Boolean(), nullable=False),
        sa.Column("carried_from", sa.String(length=60), nullable=True),
        sa.Column("remark", sa.String(length=4000), nullable=False),
        sa.CheckConstraint("(rank IS NULL) = (meets IS NULL)", name=op.f("ck_grade_counted")),
        sa.ForeignKeyConstraint(
            ["record_id"], ["lesson_record.id"], name=op.f("fk_grade_record_id_lesson_record")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_grade")),
    )
    with op.batch_alter_table("grade", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_grade_record_id"), ["record_id"], unique=False)

    op.create_table(
        "reading_taken",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("record_id", sa.String(length=32), nullable=False),
        sa.Column("code", sa.String(length=60), nullable=False),
        sa.Column("value", sa.String(length=20), nullable=False),
        sa.Column("unit", sa.String(length=20), nullable=False),
        sa.Column("within", sa.Boolean(), nullable=True),
        sa.ForeignKeyConstraint(
            ["record_id"],
            ["lesson_record.id"],
            name=op.f("fk_reading_taken_record_id_lesson_record"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading_taken")),
    )
    with op.batch_alter_table("reading_taken", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_reading_taken_record_id"), ["record_id"], unique=False
        )

    op.create_table(
        "stage_approval",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("enrolment_id", sa.String(length=32), nullable=False),
        sa.Column("stage", sa.String(length=60), nullable=False),
        sa.Column("recommended_by", sa.String(length=32), nullable=False),
        sa.Column("recommended_at", Moment(timezone=True), nullable=False),
        sa.Column("approved_by", sa.String(length=32), nullable=True),
        sa.Column("approved_at", Moment(timezone=True), nullable=True),
        sa.Column("checker_id", sa.String(length=32), nullable=True),
        sa.Column("reason", sa.String(length=4000), nullable=False),
        sa.Column("record_id", sa.String(length=32), nullable=True),
        sa.Column("snapshot", sa.JSON(), nullable=False),
        sa.CheckConstraint(
            "(approved_by IS NULL) = (checker_id IS NULL)",
            name=op.f("ck_stage_approval_approved"),
        ),
        sa.ForeignKeyConstraint(
            ["approved_by"], ["person.id"], name=op.f("fk_stage_approval_approved_by_person")
        ),
        sa.ForeignKeyConstraint(
            ["checker_id"], ["person.id"], name=op.f("fk_stage_approval_checker_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["enrolment_id"],
            ["enrolment.id"],
            name=op.f("fk_stage_approval_enrolment_id_enrolment"),
        ),
        sa.ForeignKeyConstraint(
            ["recommended_by"],
            ["person.id"],
            name=op.f("fk_stage_approval_recommended_by_person"),
        ),
        sa.ForeignKeyConstraint(
            ["record_id"],
            ["lesson_record.id"],
            name=op.f("fk_stage_approval_record_id_lesson_record"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stage_approval")),
    )
    with op.batch_alter_table("stage_approval", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_stage_approval_enrolment_id"), ["enrolment_id"], unique=False
        )


def downgrade() -> None:
    """Drop every table."""
    with op.batch_alter_table("stage_approval", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_stage_approval_enrolment_id"))

    op.drop_table("stage_approval")
    with op.batch_alter_table("reading_taken", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_reading_taken_record_id"))

    op.drop_table("reading_taken")
    with op.batch_alter_table("grade", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_grade_record_id"))

    op.drop_table("grade")
    with op.batch_alter_table("error_mark", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_error_mark_record_id"))

    op.drop_table("error_mark")
    with op.batch_alter_table("teaching", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_teaching_person_id"))
        batch_op.drop_index(batch_op.f("ix_teaching_enrolment_id"))

    op.drop_table("teaching")
    with op.batch_alter_table("self_grade", schema=None) as batch_op:
        batch_op.drop_index("ix_self_grade_one")
        batch_op.drop_index(batch_op.f("ix_self_grade_enrolment_id"))

    op.drop_table("self_grade")
    with op.batch_alter_table("lesson_record", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_lesson_record_supersedes_id"))
        batch_op.drop_index(batch_op.f("ix_lesson_record_instructor_id"))
        batch_op.drop_index(batch_op.f("ix_lesson_record_enrolment_id"))
        batch_op.drop_index("ix_lesson_record_effective")

    op.drop_table("lesson_record")
    with op.batch_alter_table("filed_event", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_filed_event_enrolment_id"))

    op.drop_table("filed_event")
    with op.batch_alter_table("close_decision", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_close_decision_enrolment_id"))

    op.drop_table("close_decision")
    with op.batch_alter_table("audit_event", schema=None) as batch_op:
        batch_op.drop_index("ix_audit_event_enrolment_id")
        batch_op.drop_index("ix_audit_event_at")

    op.drop_table("audit_event")
    with op.batch_alter_table("enrolment", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_enrolment_student_id"))

    op.drop_table("enrolment")
    with op.batch_alter_table("role_grant", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_role_grant_person_id"))

    op.drop_table("role_grant")
    op.drop_table("revision")
    with op.batch_alter_table("login_session", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_login_session_person_id"))

    op.drop_table("login_session")
    op.drop_table("school")
    op.drop_table("person")
    with op.batch_alter_table("login_attempt", schema=None) as batch_op:
        batch_op.drop_index("ix_login_attempt_subject_failed_at")

    op.drop_table("login_attempt")
