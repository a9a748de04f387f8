"""Charts as a Vega specification and as they look before anybody has touched them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import vl_convert

_CLIP: Final = re.compile(r'(?<=id=")clip\d+(?=")|(?<=url\(#)clip\d+(?=\))')
_LANGUAGE: Final = re.compile(r' xmlns(?::\w+)?="[^"]*"')


@dataclass(frozen=True, slots=True)
class Drawing:
    """A chart as a Vega specification and as it looks before anybody has touched it, an SVG."""

    vega: Mapping[str, Any]
    svg: str


def drawing(vegalite: Mapping[str, Any], name: str = "still") -> Drawing:
    """The drawing of a Vega-Lite chart; `name` begins the names that its SVG gives to its parts."""
    vega: dict[str, Any] = vl_convert.vegalite_to_vega(dict(vegalite))
    del vega["$schema"]
    return Drawing(vega, own_names(vl_convert.vega_to_svg(vega), name))


def own_names(svg: str, name: str = "still") -> str:
    """An SVG that may lie in a page: names of its own, and none of its language."""
    # Vega counts on from drawing to drawing, in a browser too, and names what it clips by those numbers.
    order: dict[str, str] = {}
    bare = _LANGUAGE.sub("", svg, count=2)
    return _CLIP.sub(lambda found: order.setdefault(found[0], f"{name}-{len(order) + 1}"), bare)
