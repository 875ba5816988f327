"""The one place where anything is mirrored."""

from fontTools.misc.transform import Transform

from facegraphic.scene.scene import Group

MIRROR = Transform(-1, 0, 0, 1, 0, 0)


def as_printed(group: Group, mirrored: bool) -> Group:
    """Turn a group over about its own vertical axis when its process needs it. Twice is identity."""
    return Group((group,), f"{group.id}-mirrored", transform=MIRROR) if mirrored else group
