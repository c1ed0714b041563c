"""Triggers that refuse UPDATE and DELETE on the history, on SQLite and PostgreSQL alike."""

from django.db import migrations

TABLES = ("audit_auditentry", "audit_auditdigest")

POSTGRES_FUNCTION = """
CREATE OR REPLACE FUNCTION restheight_append_only() RETURNS trigger AS $$
BEGIN RAISE EXCEPTION 'the history is append-only: % is refused', TG_OP; END;
$$ LANGUAGE plpgsql
"""


def statements(vendor, table):
    if vendor == "sqlite":
        return [
            f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table} BEGIN "
            f"SELECT RAISE(ABORT, 'the history is append-only: {verb} is refused'); END"
            for verb in ("UPDATE", "DELETE")
        ]
    return [
        f"CREATE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE ON {table} "
        "FOR EACH ROW EXECUTE FUNCTION restheight_append_only()",
        f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
        "FOR EACH STATEMENT EXECUTE FUNCTION restheight_append_only()",
    ]


def install(apps, schema_editor):
    vendor = schema_editor.connection.vendor
    if vendor == "postgresql":
        schema_editor.execute(POSTGRES_FUNCTION, params=None)  # its % is no placeholder
    for table in TABLES:
        for statement in statements(vendor, table):
            schema_editor.execute(statement)


def remove(apps, schema_editor):
    suffixes = (
        ("_no_update", "_no_delete")
        if schema_editor.connection.vendor == "sqlite"
        else ("_no_change", "_no_truncate")
    )
    for table in TABLES:
        for suffix in suffixes:
            on = "" if schema_editor.connection.vendor == "sqlite" else f" ON {table}"
            schema_editor.execute(f"DROP TRIGGER IF EXISTS {table}{suffix}{on}")


class Migration(migrations.Migration):
    dependencies = [("audit", "0001_initial")]
    operations = [migrations.RunPython(install, remove)]
