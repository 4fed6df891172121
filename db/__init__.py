"""Storage: tables, queries, engines and migrations. Of the core it knows the vocabulary only."""
