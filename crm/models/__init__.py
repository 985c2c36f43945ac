"""The record: what is stored, and what must never be true of it."""

from crm.models.car import Car, FindKey, Keeping, Plate, Role
from crm.models.gauge import CorrectionNote, GaugeReading, GaugeSpot
from crm.models.layer import Ending, Forecast, Layer
from crm.models.message import Matter, Message, PlanDay, Sheet
from crm.models.once import Once
from crm.models.person import Consent, Contact, Pause, Person, Suppression
from crm.models.product import Life, Product
from crm.models.studio import Branch, Paper, Rank, Studio, Units, User
from crm.models.visit import CarEvent, Grade, LeftForNextTime, Step, Visit
from crm.models.winter import (
    WinterInvitation,
    WinterLeftOut,
    WinterProposal,
    WinterRound,
    WinterSetAside,
    WinterWeek,
)

__all__ = [
    "Branch",
    "Car",
    "CarEvent",
    "Consent",
    "Contact",
    "CorrectionNote",
    "Ending",
    "FindKey",
    "Forecast",
    "GaugeReading",
    "GaugeSpot",
    "Grade",
    "Keeping",
    "Layer",
    "LeftForNextTime",
    "Life",
    "Matter",
    "Message",
    "Once",
    "Paper",
    "Pause",
    "Person",
    "PlanDay",
    "Plate",
    "Product",
    "Rank",
    "Role",
    "Sheet",
    "Step",
    "Studio",
    "Suppression",
    "Units",
    "User",
    "Visit",
    "WinterInvitation",
    "WinterLeftOut",
    "WinterProposal",
    "WinterRound",
    "WinterSetAside",
    "WinterWeek",
]
