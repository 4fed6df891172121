"""The service: routes, pages and command line over services."""
