"""Practice: students, the plans they were given, what was said of each step."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    op.create_table(
        "students",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("uuid", sa.String(36), nullable=False),
        sa.Column("name", sa.String(100), nullable=False),
        sa.Column("created", sa.DateTime, nullable=False),
        sa.Column("deleted", sa.DateTime),
        sa.PrimaryKeyConstraint("id", name="pk_students"),
        sa.UniqueConstraint("uuid", name="uq_students_uuid"),
    )
    op.create_table(
        "plans",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("uuid", sa.String(36), nullable=False),
        sa.Column("student_id", sa.Integer, nullable=False),
        sa.Column("lick_id", sa.Integer),
        sa.Column("title", sa.String(200), nullable=False),
        sa.Column("level", sa.String(20), nullable=False),
        sa.Column("length", sa.String(20), nullable=False),
        sa.Column("seed", sa.BigInteger, nullable=False),
        sa.Column("steps", sa.Text, nullable=False),
        sa.Column("document", sa.Text, nullable=False),
        sa.Column("made", sa.DateTime, nullable=False),
        sa.Column("deleted", sa.DateTime),
        sa.PrimaryKeyConstraint("id", name="pk_plans"),
        sa.UniqueConstraint("uuid", name="uq_plans_uuid"),
        sa.ForeignKeyConstraint(
            ["student_id"], ["students.id"], name="fk_plans_student_id_students", ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["lick_id"], ["licks.id"], name="fk_plans_lick_id_licks", ondelete="SET NULL"
        ),
    )
    op.create_index("ix_plans_student_id", "plans", ["student_id"])
    op.create_index("ix_plans_lick_id", "plans", ["lick_id"])
    op.create_table(
        "step_marks",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("uuid", sa.String(36), nullable=False),
        sa.Column("plan_id", sa.Integer, nullable=False),
        sa.Column("step", sa.Integer, nullable=False),
        sa.Column("at", sa.DateTime, nullable=False),
        sa.Column("state", sa.String(20), nullable=False),
        sa.Column("by", sa.String(100)),
        sa.Column("comment", sa.Text, nullable=False),
        sa.Column("undone", sa.DateTime),
        sa.PrimaryKeyConstraint("id", name="pk_step_marks"),
        sa.UniqueConstraint("uuid", name="uq_step_marks_uuid"),
        sa.ForeignKeyConstraint(
            ["plan_id"], ["plans.id"], name="fk_step_marks_plan_id_plans", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_step_marks_plan_id_step", "step_marks", ["plan_id", "step"])


def downgrade() -> None:
    for table in ("step_marks", "plans", "students"):
        op.drop_table(table)
