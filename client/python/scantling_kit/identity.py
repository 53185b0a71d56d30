"""Stable ids: an object keeps the id it was first sent under, whatever it is called later.

The first name of a handle, made unique, is its id for as long as the registry lives, also when the object is
removed and comes back (undo). A name made free by a rename is still somebody's id, so a newcomer of that name
gets "#2".
"""

from typing import Dict, Hashable, Optional

_LONGEST_ID_BYTES = 1000  # the daemon takes 1,024; room for "#" and a number


class IdRegistry:
    """Ids by handle, handles by id, present names. O(1) each. Used on the host's thread only."""

    def __init__(self) -> None:
        self._ids: Dict[Hashable, str] = {}
        self._handles: Dict[str, Hashable] = {}
        self._names: Dict[Hashable, str] = {}
        self._next_copy: Dict[str, int] = {}

    def id_of(self, handle: Hashable, name: str) -> str:
        """The handle's id; given now where it has none. `name` is remembered as its present name.

        A name of no characters becomes "object", one too long is cut at a whole character.
        """
        self._names[handle] = name
        known = self._ids.get(handle)
        if known is not None:
            return known
        made = self._unique(_shortened(name) or "object")
        self._ids[handle] = made
        self._handles[made] = handle
        return made

    def known_id(self, handle: Hashable) -> Optional[str]:
        """The handle's id; None where it was never given one."""
        return self._ids.get(handle)

    def handle_of(self, object_id: str) -> Optional[Hashable]:
        """Whose id this is; None: nobody's."""
        return self._handles.get(object_id)

    def name_of(self, handle: Hashable) -> str:
        """The name last heard; empty: none."""
        return self._names.get(handle, "")

    def _unique(self, name: str) -> str:
        if name not in self._handles:
            return name
        copy = self._next_copy.get(name, 2)
        while f"{name}#{copy}" in self._handles:
            copy += 1
        self._next_copy[name] = copy + 1
        return f"{name}#{copy}"


def _shortened(name: str) -> str:
    data = name.encode("utf-8", errors="replace")
    if len(data) <= _LONGEST_ID_BYTES:
        return data.decode("utf-8")
    return data[:_LONGEST_ID_BYTES].decode("utf-8", errors="ignore")
