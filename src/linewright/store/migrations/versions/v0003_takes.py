"""Takes: what a player recorded and how it was judged; rules of a step changed by a teacher."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    op.create_table(
        "rule_changes",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("uuid", sa.String(36), nullable=False),
        sa.Column("plan_id", sa.Integer, nullable=False),
        sa.Column("step", sa.Integer, nullable=False),
        sa.Column("at", sa.DateTime, nullable=False),
        sa.Column("by", sa.String(100), nullable=False),
        sa.Column("changes", sa.Text, nullable=False),
        sa.Column("undone", sa.DateTime),
        sa.PrimaryKeyConstraint("id", name="pk_rule_changes"),
        sa.UniqueConstraint("uuid", name="uq_rule_changes_uuid"),
        sa.ForeignKeyConstraint(
            ["plan_id"], ["plans.id"], name="fk_rule_changes_plan_id_plans", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_rule_changes_plan_id", "rule_changes", ["plan_id"])
    op.create_table(
        "takes",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("uuid", sa.String(36), nullable=False),
        sa.Column("plan_id", sa.Integer, nullable=False),
        sa.Column("step", sa.Integer, nullable=False),
        sa.Column("at", sa.DateTime, nullable=False),
        sa.Column("state", sa.String(20), nullable=False),
        sa.Column("bpm", sa.Float, nullable=False),
        sa.Column("start_s", sa.Float),
        sa.Column("delay_s", sa.Float),
        sa.Column("click", sa.Boolean, nullable=False),
        sa.Column("audio", sa.String(60)),
        sa.Column("format", sa.String(10), nullable=False),
        sa.Column("bytes", sa.Integer, nullable=False),
        sa.Column("sha256", sa.String(64)),
        sa.Column("seconds", sa.Float),
        sa.Column("passed", sa.Boolean),
        sa.Column("clean", sa.Boolean, nullable=False),
        sa.Column("at_tempo", sa.Boolean, nullable=False),
        sa.Column("grade", sa.String(10)),
        sa.Column("mean_ms", sa.Float),
        sa.Column("spread_ms", sa.Float),
        sa.Column("drift_ms", sa.Float),
        sa.Column("problem", sa.Text, nullable=False),
        sa.Column("document", sa.Text),
        sa.Column("ruling", sa.Boolean),
        sa.Column("by", sa.String(100)),
        sa.Column("comment", sa.Text, nullable=False),
        sa.Column("deleted", sa.DateTime),
        sa.PrimaryKeyConstraint("id", name="pk_takes"),
        sa.UniqueConstraint("uuid", name="uq_takes_uuid"),
        sa.ForeignKeyConstraint(
            ["plan_id"], ["plans.id"], name="fk_takes_plan_id_plans", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_takes_plan_id_step", "takes", ["plan_id", "step"])


def downgrade() -> None:
    for table in ("takes", "rule_changes"):
        op.drop_table(table)
