"""The demo studio: Greywater Yard in Skerrin, built through the same verbs as the screens, up to the day it starts."""

from crm.services.demo.building import Built, build_demo
from crm.services.demo.crew import PASSWORD, SIGN_INS

__all__ = ["PASSWORD", "SIGN_INS", "Built", "build_demo"]
