"""The stored resources, each with the example that its documentation shows. All names are invented."""

from fastapi import APIRouter

from api.routes.resources import Lookup, Served, add_resource
from api.schemas import bench, parts, supply
from api.services.bench import JOBS, MACHINES, OUTCOMES
from api.services.interchange import list_stand_ins
from api.services.parts import INTERCHANGE, PARTS
from api.services.supply import DESTINATIONS, EXCHANGE_RATES, QUOTES, SUPPLIERS

USD = {"currency": "USD"}

SERVED = (
    Served(
        PARTS,
        parts.Part,
        {
            "family": "carburetor",
            "maker": "Quillon",
            "number": "Q19-42",
            "other_numbers": [],
            "grade": "aftermarket_unbranded",
            "title": "carburetor for 206 cm3 engines",
            "dimensions": {
                "throttle_bore": {"value": 19.0, "unit": "mm", "plus_minus": 0.05, "as_entered": "19.0 mm"},
                "choke_type": "manual_lever",
            },
            "includes": ["mounting_gasket", "air_filter_gasket"],
            "serves": [],
            "stated_for": ["Harrowmere H206"],
            "notes": "",
        },
    ),
    Served(
        INTERCHANGE,
        parts.Interchange,
        {
            "from_number": "Q19-42",
            "to_number": "708-21B",
            "relation": "same_as",
            "source": "own bench",
            "confidence": 0.9,
        },
        Lookup("number", list_stand_ins, parts.StandIn),
    ),
    Served(
        SUPPLIERS,
        supply.Supplier,
        {
            "name": "Millrace Spares",
            "country": "US",
            "currency": "USD",
            "delivery": [
                {
                    "method": "post",
                    "to_country": "US",
                    "schedule": {"kind": "flat", "amount": "4.57", "free_above": "35.00"},
                    "days": 4,
                }
            ],
            "prices_include_tax": False,
            "returns": {"days": 30, "postage": "5.00", "restocking": "0.10"},
            "warranty_days": 90,
        },
    ),
    Served(
        QUOTES,
        supply.Quote,
        {
            "supplier_id": "1",
            "part_id": "1",
            "price": {"amount": "9.80", **USD},
            "price_breaks": [{"from_quantity": 5, "price": {"amount": "8.90", **USD}}],
            "condition": "new",
            "includes": None,
            "core_charge": None,
            "weight_g": 420.0,
            "valid_until": "2027-01-31",
            "seen_on": "2026-11-20",
            "stock": None,
            "link": None,
        },
    ),
    Served(
        EXCHANGE_RATES,
        supply.ExchangeRate,
        {"base": "EUR", "quote": "USD", "rate": "1.0840", "on": "2026-11-20"},
    ),
    Served(
        DESTINATIONS,
        supply.Destination,
        {
            "name": "the tool library",
            "country": "US",
            "currency": "USD",
            "sales_tax": "0.06",
            "import": {
                "basis": "goods",
                "duty": {"carburetor": "0.025", "default": "0"},
                "threshold": "100.00",
                "processing_fee": None,
                "tax": "0",
            },
            "exchange_margin": "0.02",
        },
    ),
    Served(
        MACHINES,
        bench.Machine,
        {
            "name": "TL-07 tiller",
            "engine": "Harrowmere H206",
            "worth_running": {"amount": "190.00", **USD},
            "worth_as_is": {"amount": "35.00", **USD},
            "hours_per_season": 17.0,
            "seasons": 4.0,
            "history_known": False,
            "hour_value": None,
        },
    ),
    Served(
        JOBS,
        bench.Job,
        {
            "machine_id": "1",
            "symptom": "leaks fuel",
            "checks": [{"check": "oil_level", "result": "high, smells of fuel"}],
            "removed_part": {
                "family": "carburetor",
                "measured": {"throttle_bore": "19.0 mm", "bolt_spacing": "42.0 mm"},
                "marking": "7?8-21B",
                "condition": {"needle_and_seat": "corroded"},
            },
            "needs": None,
            "on_hand": [{"need": "fuel_hose", "quantity": 1}],
            "labour_minutes": 45.0,
            "waiting_cost_per_day": None,
            "days_lost_per_failure": 0.0,
            "other_spending": None,
            "destination_id": "1",
            "currency": "USD",
            "assumptions": {},
        },
    ),
    Served(
        OUTCOMES,
        bench.Outcome,
        {
            "job_id": "1",
            "part_id": None,
            "quote_id": "1",
            "what": "fitted",
            "changes_needed": [],
            "hours": 0.5,
            "days": None,
            "note": "",
            "on": "2026-11-25",
        },
    ),
)


def make_router() -> APIRouter:
    """Return the router of all stored resources."""
    router = APIRouter()
    for served in SERVED:
        add_resource(router, served)
    return router
