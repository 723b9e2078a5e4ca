"""Pictures read back: as any reader of SVG would."""

from xml.etree import ElementTree


def parsed(picture):
    return ElementTree.fromstring(str(picture))  # noqa: S314 - our own text


def label_of(picture):
    root = parsed(picture)
    assert root.get("role") == "img"
    assert root.find("title").text == root.get("aria-label")
    return root.get("aria-label")


def shapes(picture, name):
    return [one for one in parsed(picture).iter() if name in one.get("class", "").split()]
