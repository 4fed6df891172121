"""The tables, one group a file. Importing this package registers all of them."""

from db.models.bookkeeping import CatalogueRevision, Change, StoredAnswer
from db.models.jobs import Job, Machine
from db.models.learning import Assumption, FitForecast, Outcome
from db.models.money import Destination, ExchangeRate, Quote, QuoteInclude, Supplier
from db.models.parts import Interchange, InterchangeDecision, Part, PartInclude, PartNumber

__all__ = [
    "Assumption",
    "CatalogueRevision",
    "Change",
    "Destination",
    "ExchangeRate",
    "FitForecast",
    "Interchange",
    "InterchangeDecision",
    "Job",
    "Machine",
    "Outcome",
    "Part",
    "PartInclude",
    "PartNumber",
    "Quote",
    "QuoteInclude",
    "StoredAnswer",
    "Supplier",
]
