"""Write shared/licences.md anew: what the program needs to run, under which licence.

Read from what is installed, by the packages' own metadata, so it needs no network.
"""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import Distribution, PackageNotFoundError, distribution

from packaging.requirements import Requirement

from terminal import ROOT

FILE = ROOT / "shared" / "licences.md"
PARTS = ("", "report", "audit", "spark")
"""The program itself, and its extras; what only tests need is not here."""

HEAD = """# Licences

What Clockhour needs to run, from the packages' own metadata, written by `python tests/licences.py`. `part` is
the first that asks for it: the program itself, or one of its extras. Clockhour is under Apache-2.0.

| package | licence | part |
|---|---|---|
"""

_BY_CLASSIFIER = {
    "Apache Software License": "Apache-2.0",
    "BSD License": "BSD",
    "MIT License": "MIT",
    "Python Software Foundation License": "PSF-2.0",
    "Mozilla Public License 2.0 (MPL 2.0)": "MPL-2.0",
    "The Unlicense (Unlicense)": "Unlicense",
}


def needed(part: str) -> dict[str, Distribution]:
    """The installed packages that a part needs, those that they need too, by name."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    wanted = project["optional-dependencies"][part] if part else project["dependencies"]
    found: dict[str, Distribution] = {}
    for line in wanted:
        _need(Requirement(line), found)
    return found


def _need(wanted: Requirement, found: dict[str, Distribution]) -> None:
    known = _named(wanted.name)
    try:
        package = distribution(wanted.name)
    except PackageNotFoundError:
        return  # for another system, or an extra that is not installed here
    if known == "clockhour" or (known in found and not wanted.extras):
        return
    found[known] = package
    for line in package.requires or ():
        inner = Requirement(line)
        if inner.marker is None or any(inner.marker.evaluate({"extra": e}) for e in ("", *wanted.extras)):
            _need(inner, found)


def _named(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def licence(package: Distribution) -> str:
    """The licence of a package: its expression, else its classifier, else the first line of its text."""
    metadata = package.metadata
    if expression := metadata.get("License-Expression"):
        return expression
    classifiers = metadata.get_all("Classifier") or []
    told = [c.rpartition(" :: ")[2] for c in classifiers if c.startswith("License ::")]
    known = [_BY_CLASSIFIER.get(name, name) for name in told if name != "OSI Approved"]
    return " or ".join(known) or (metadata.get("License") or "not said").splitlines()[0][:40]


def table() -> dict[str, tuple[str, str]]:
    """Licence and part of every package, by its name."""
    rows: dict[str, tuple[str, str]] = {}
    for part in PARTS:
        for name, package in sorted(needed(part).items()):
            rows.setdefault(name, (licence(package), part or "program"))
    return rows


def main() -> None:
    """Write the file."""
    rows = (f"| {name} | {told} | {part} |\n" for name, (told, part) in sorted(table().items()))
    FILE.write_text(HEAD + "".join(rows), "utf-8")


if __name__ == "__main__":
    main()
