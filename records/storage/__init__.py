"""The book on disk: rows, queries, transactions, migrations and proofs of integrity."""
