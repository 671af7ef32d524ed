"""The collection's database: models, migrations, the one write helper, queries and photo files."""
