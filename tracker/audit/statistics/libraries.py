"""The heavy libraries, loaded when first asked for.

statsmodels takes most of a second to load and scipy.special a tenth; a report of medians needs neither.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any


def special() -> Any:
    """Give scipy.special: distribution functions without the weight of scipy.stats."""
    return import_module("scipy.special")


def linear_model() -> Any:
    """Give statsmodels' least squares."""
    return import_module("statsmodels.regression.linear_model")


def survival_functions() -> Any:
    """Give statsmodels' product-limit estimator."""
    return import_module("statsmodels.duration.survfunc")
