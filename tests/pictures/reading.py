"""Pictures read back: as any reader of SVG would."""

import re
from xml.etree import ElementTree


def parsed(picture):
    return ElementTree.fromstring(str(picture))  # noqa: S314 - our own text


def label_of(picture):
    root = parsed(picture)
    assert root.get("role") == "img"
    assert root.find("title").text == root.get("aria-label")
    return root.get("aria-label")


def shapes(picture, name):
    """Everything drawn that has the class; everything drawn at all for no name."""
    drawn = parsed(picture).iter()
    return [one for one in drawn if not name or name in one.get("class", "").split()]


def texts(picture):
    return [one.text for one in parsed(picture).iter("text")]


def path_points(path):
    """The points that a path names with both coordinates."""
    pairs = re.findall(r"(-?[\d.]+) (-?[\d.]+)", path.get("d"))
    return [(float(x), float(y)) for x, y in pairs]
