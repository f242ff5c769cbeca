"""A model of a disk at a power cut: what was synced is there, of the rest any part may be.

A file is what it was at its last sync, and the writes and truncations since. Names are kept in two
ways. *Ordered*: what was done to names is on disk up to some point, as a journal has it; a sync of
any folder brings all of it there. *Strict*: each of them is on disk or not, apart from the others,
until its own folder is synced. In neither does the sync of a file bring its name to the disk, as
POSIX promises no more; SQLite itself counts on the folder's sync only.

Rights and times are not modelled. SQLite's `-shm` is left out of every image: it is rebuilt.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from random import Random

from power_log import (
    CREATE,
    LINK,
    MAKE_FOLDER,
    REMOVE,
    RENAME,
    SYNC,
    TRUNCATE,
    WRITE,
    Record,
    Recording,
)

TORN_SECTOR = 512
SPOILED_SECTORS = 512, 4096
"""What a disk or card may write as one piece, and so spoil when its power fails."""

KINDS = ("none", "all", "prefix", "subset", "reordered", "torn", "garbled", "spoiled")
"""What becomes of unsynced writes: see `Disk.image`."""
IN_WORK = ("torn", "garbled", "spoiled")
"""The kinds for which one write must be at work."""
NAMINGS = ("ordered", "strict")

Image = dict[str, bytes | None]
"""Paths to contents, None for a folder."""
Name = tuple[int, str]
"""A folder and a name in it."""
Naming = dict[Name, int | None]
"""What one operation does: names and the nodes they lead to from now on, None for nothing."""


@dataclass(frozen=True)
class Change:
    """A write, or a truncation where there is no data, that was not synced yet."""

    number: int
    """Where in the log it is."""
    offset: int
    data: bytes | None


@dataclass
class Node:
    """A file or folder, whatever names lead to it."""

    number: int
    is_folder: bool = False
    synced: bytes = b""
    pending: list[Change] = field(default_factory=list)


@dataclass
class Names:
    """Which names are certain to be on disk, and what was done to them since."""

    certain: dict[Name, int]
    pending: list[Naming] = field(default_factory=list)

    def sync(self, folder: int | None) -> None:
        """A folder was synced; None for all."""
        left = []
        for naming in self.pending:
            if folder is None or any(place == folder for place, _ in naming):
                _apply(self.certain, naming)
            else:
                left.append(naming)
        self.pending = left


def _apply(names: dict[Name, int], naming: Naming) -> None:
    for name, node in naming.items():
        if node is None:
            names.pop(name, None)
        else:
            names[name] = node


class Disk:
    """The state after some of a recording's records."""

    def __init__(self, recording: Recording) -> None:
        self._nodes: list[Node] = []
        self._by_inode: dict[int, Node] = {}
        self._names: dict[Name, int] = {}
        self._shelf = recording.shelf
        for path, content in recording.before.items():
            node = self._add(recording.inodes[path], is_folder=content is None)
            node.synced = content or b""
            if path:
                self._names[self._place(path)] = node.number
        self._ordered, self._strict = Names(dict(self._names)), Names(dict(self._names))
        self.done = 0
        """How many records it has seen."""

    def forward(self, records: Iterable[Record]) -> None:
        """Take in further records."""
        for record in records:
            self._take(record)
            self.done += 1

    @property
    def has_unsynced(self) -> bool:
        """Whether any write is not synced."""
        return any(node.pending for node in self._nodes)

    @property
    def unsynced(self) -> list[tuple[int, Change]]:
        """Node and change of all that is not synced, in the order of the log."""
        found = [(node.number, change) for node in self._nodes for change in node.pending]
        return sorted(found, key=lambda pair: pair[1].number)

    def _add(self, inode: int, *, is_folder: bool) -> Node:
        node = Node(len(self._nodes), is_folder)
        self._nodes.append(node)
        self._by_inode[inode] = node  # one that is used again is another file
        return node

    def _place(self, path: str) -> Name:
        folder = 0
        *folders, last = path.split("/")
        for name in folders:
            folder = self._names[folder, name]
        return folder, last

    def _name(self, naming: Naming) -> None:
        _apply(self._names, naming)
        self._ordered.pending.append(naming)
        self._strict.pending.append(naming)

    def _take(self, record: Record) -> None:
        match record.operation:
            case op if op in (CREATE, MAKE_FOLDER):
                node = self._add(record.inode, is_folder=op == MAKE_FOLDER)
                self._name({self._place(record.path): node.number})
            case op if op == WRITE:
                self._by_inode[record.inode].pending.append(
                    Change(self.done, record.offset, record.data)
                )
            case op if op == TRUNCATE:
                self._by_inode[record.inode].pending.append(Change(self.done, record.offset, None))
            case op if op == SYNC:
                self._sync(self._by_inode[record.inode])
            case op if op == RENAME:
                old, new = self._place(record.path), self._place(record.other)
                self._name({old: None, new: self._names[old]})
            case op if op == LINK:
                self._name({self._place(record.other): self._names[self._place(record.path)]})
            case op if op == REMOVE:
                self._name({self._place(record.path): None})
            case _:
                pass  # what was shown, and marks

    def _sync(self, node: Node) -> None:
        if node.is_folder:
            self._ordered.sync(None)
            self._strict.sync(node.number)
        else:
            node.synced = _content(node.synced, node.pending)
            node.pending = []

    def live(self) -> Image:
        """What a program would read now, as if all were on disk."""
        pending = {node.number: node.pending for node in self._nodes}
        return self._tree(self._names, pending)

    def image(self, kind: str, naming: str, random: Random) -> Image:
        """What may be found after a power cut now.

        none: nothing that was not synced. all: everything. prefix: all up to some write. subset:
        any writes. reordered: any, in any order. torn: as prefix, and of the next write any of its
        sectors. garbled: as prefix, and of the next write one sector came to nonsense. spoiled: as
        prefix, and beside the next write the bytes up to the ends of its sectors are nonsense.
        """
        names = self._names_left(kind, naming, random)
        unsynced = self.unsynced
        chosen = unsynced
        if kind == "none":
            chosen = []
        elif kind in ("subset", "reordered"):
            chance = random.choice((0.2, 0.5, 0.8))
            chosen = [pair for pair in unsynced if random.random() < chance]
            if kind == "reordered":
                random.shuffle(chosen)
        elif kind != "all":
            # The power more often fails at the last write than at one of before.
            at = random.randint(max(0, len(unsynced) - 3), len(unsynced))
            if random.random() < 0.5:
                at = random.randint(0, len(unsynced))
            chosen = unsynced[:at]
            if kind in IN_WORK and unsynced:
                return self._image_in_work(kind, names, unsynced, max(at, 1), random)
        return self._tree(names, _by_node(chosen))

    def _image_in_work(
        self,
        kind: str,
        names: dict[Name, int],
        unsynced: list[tuple[int, Change]],
        at: int,
        random: Random,
    ) -> Image:
        node, change = unsynced[at - 1]
        chosen = unsynced[: at - 1]
        if change.data is None:
            return self._tree(names, _by_node([*chosen, (node, change)]))
        if kind == "torn":
            pieces = [piece for piece in _sectors(change) if random.random() < 0.5]
        elif kind == "garbled":
            pieces = list(_sectors(change))
            spoiled = random.randrange(len(pieces))
            piece = pieces[spoiled]
            pieces[spoiled] = Change(
                piece.number, piece.offset, random.randbytes(len(piece.data or b""))
            )
        else:
            pieces = [change] if random.random() < 0.5 else []
            pieces += self._beside(node, chosen, change, random)
        return self._tree(names, _by_node([*chosen, *((node, piece) for piece in pieces)]))

    def _beside(
        self, node: int, chosen: list[tuple[int, Change]], change: Change, random: Random
    ) -> Iterator[Change]:
        """Nonsense before and after a write, up to the ends of its sectors and of the file."""
        assert change.data is not None
        sector = random.choice(SPOILED_SECTORS)
        size = len(_content(self._nodes[node].synced, [c for n, c in chosen if n == node]))
        begin, end = change.offset, change.offset + len(change.data)
        before, after = begin % sector, min(-end % sector, size - end)
        if before and begin <= size:
            yield Change(change.number, begin - before, random.randbytes(before))
        if after > 0:
            yield Change(change.number, end, random.randbytes(after))

    def _names_left(self, kind: str, naming: str, random: Random) -> dict[Name, int]:
        names = self._ordered if naming == "ordered" else self._strict
        pending = names.pending
        if naming == "ordered":
            count = {"none": 0, "all": len(pending)}.get(kind, random.randint(0, len(pending)))
            pending = pending[:count]
        elif kind != "all":
            chance = random.choice((0.2, 0.5, 0.8, 1))
            pending = [each for each in pending if random.random() < chance]
        left = dict(names.certain)
        for each in pending:
            _apply(left, each)
        return left

    def _tree(self, names: dict[Name, int], changes: dict[int, list[Change]]) -> Image:
        inside: dict[int, list[tuple[str, int]]] = {}
        for (folder, name), number in names.items():
            inside.setdefault(folder, []).append((name, number))
        image: Image = {}
        known: dict[int, bytes] = {}
        to_do = [("", 0)]
        while to_do:
            path, folder = to_do.pop()
            for name, number in inside.get(folder, []):
                node, below = self._nodes[number], f"{path}{name}"
                if node.is_folder:
                    image[below] = None
                    to_do.append((f"{below}/", number))
                elif not name.endswith("-shm"):
                    if number not in known:
                        known[number] = _content(node.synced, changes.get(number, []))
                    image[below] = known[number]
        return image


def _by_node(pairs: Iterable[tuple[int, Change]]) -> dict[int, list[Change]]:
    found: dict[int, list[Change]] = {}
    for node, change in pairs:
        found.setdefault(node, []).append(change)
    return found


def _sectors(change: Change) -> Iterator[Change]:
    """A write cut at the ends of sectors."""
    assert change.data is not None
    at = 0
    while at < len(change.data):
        length = TORN_SECTOR - (change.offset + at) % TORN_SECTOR
        yield Change(change.number, change.offset + at, change.data[at : at + length])
        at += length


def _content(synced: bytes, changes: Iterable[Change]) -> bytes:
    content = None
    for change in changes:
        if content is None:
            content = bytearray(synced)
        if change.data is None:
            del content[change.offset :]
        if len(content) < change.offset:
            content.extend(bytes(change.offset - len(content)))
        if change.data is not None:
            content[change.offset : change.offset + len(change.data)] = change.data
    return synced if content is None else bytes(content)
