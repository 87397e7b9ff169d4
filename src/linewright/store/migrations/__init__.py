"""Alembic migrations; they travel inside the package and run when a library is opened."""
