"""The first tables: licks, tags, outside degrees, earlier versions."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    op.create_table(
        "licks",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("uuid", sa.String(36), nullable=False),
        sa.Column("title", sa.String(200), nullable=False),
        sa.Column("style", sa.String(100)),
        sa.Column("instrument", sa.String(60)),
        sa.Column("tuning", sa.String(60)),
        sa.Column("meter", sa.String(40), nullable=False),
        sa.Column("source", sa.Text),
        sa.Column("tonic", sa.String(8), nullable=False),
        sa.Column("given_tonic", sa.String(8)),
        sa.Column("frame", sa.String(60), nullable=False),
        sa.Column("frame_label", sa.String(200), nullable=False),
        sa.Column("functions", sa.Text, nullable=False),
        sa.Column("sketch", sa.Text, nullable=False),
        sa.Column("words", sa.Text, nullable=False),
        sa.Column("document", sa.Text, nullable=False),
        sa.Column("created", sa.DateTime, nullable=False),
        sa.Column("updated", sa.DateTime, nullable=False),
        sa.Column("deleted", sa.DateTime),
        sa.PrimaryKeyConstraint("id", name="pk_licks"),
        sa.UniqueConstraint("uuid", name="uq_licks_uuid"),
    )
    op.create_index("ix_licks_deleted_created", "licks", ["deleted", "created"])
    op.create_table(
        "tags",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("name", sa.String(60), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_tags"),
        sa.UniqueConstraint("name", name="uq_tags_name"),
    )
    op.create_table(
        "lick_tags",
        sa.Column("lick_id", sa.Integer, nullable=False),
        sa.Column("tag_id", sa.Integer, nullable=False),
        sa.Column("position", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("lick_id", "tag_id", name="pk_lick_tags"),
        sa.ForeignKeyConstraint(
            ["lick_id"], ["licks.id"], name="fk_lick_tags_lick_id_licks", ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["tag_id"], ["tags.id"], name="fk_lick_tags_tag_id_tags", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_lick_tags_tag_id", "lick_tags", ["tag_id"])
    op.create_table(
        "outside_degrees",
        sa.Column("lick_id", sa.Integer, nullable=False),
        sa.Column("degree", sa.String(8), nullable=False),
        sa.Column("position", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("lick_id", "degree", name="pk_outside_degrees"),
        sa.ForeignKeyConstraint(
            ["lick_id"], ["licks.id"], name="fk_outside_degrees_lick_id_licks", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_outside_degrees_degree", "outside_degrees", ["degree"])
    op.create_table(
        "versions",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("lick_id", sa.Integer, nullable=False),
        sa.Column("at", sa.DateTime, nullable=False),
        sa.Column("what", sa.String(200), nullable=False),
        sa.Column("snapshot", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_versions"),
        sa.ForeignKeyConstraint(
            ["lick_id"], ["licks.id"], name="fk_versions_lick_id_licks", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_versions_lick_id", "versions", ["lick_id"])


def downgrade() -> None:
    for table in ("versions", "outside_degrees", "lick_tags", "tags", "licks"):
        op.drop_table(table)
