"""A page that needs nothing else: no network, no further file, no script to be read.

A content security policy lets nothing run but the scripts written into the page, named by their hashes, and
lets nothing be fetched; so nothing that was typed can do anything.
"""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Sequence
from functools import cache
from hashlib import sha256
from importlib.resources import files
from typing import Final

import vl_convert
from jinja2 import Environment, PackageLoader, StrictUndefined

_ADDRESS: Final = re.compile(r"https?://(?!www\.w3\.org/)[^\s\"'`)]*")


@cache
def environment(package: str) -> Environment:
    """The templates of a package, everything escaped; a name that is not given is refused."""
    return Environment(
        loader=PackageLoader(package), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip


def template(package: str, name: str) -> str:
    """The text of a file among a package's templates."""
    return files(package).joinpath("templates", name).read_text("utf-8")


@cache
def bundle() -> str:
    """The script that draws Vega charts, with no network address in it."""
    # Three addresses in messages and in menus that are not shown: nothing would ask for them, but a page
    # that says it has no network address in it must have none.
    return _ADDRESS.sub("", vl_convert.javascript_bundle("window.vegaEmbed = vegaEmbed;"))


def policy(scripts: Sequence[str]) -> str:
    """The policy under which only these scripts run."""
    hashes = (b64encode(sha256(script.encode()).digest()).decode() for script in scripts)
    return "; ".join(
        (
            "default-src 'none'",
            "script-src " + " ".join(f"'sha256-{value}'" for value in hashes),
            "style-src 'unsafe-inline'",
            "base-uri 'none'",
            "form-action 'none'",
        )
    )
