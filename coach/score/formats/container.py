"""How a compressed score is opened: MusicXML's .mxl archives, with every size bounded before it is unpacked."""

from __future__ import annotations

import io
import re
import zipfile
import zlib

from coach.errors import CoachError

LARGEST_SCORE = 16 * 1024 * 1024
"""Largest score read, in bytes, unpacked. A hymn has 0.1 MB, a long organ work 5 MB."""

MUSICXML = "application/vnd.recordare.musicxml+xml"
"""What a file of an archive is that is not said to be anything (MusicXML 4.0, `rootfile`)."""

MOST_FILES = 500
"""Most files believed in one archive; scores with pictures have a few dozen."""


def unpack_mxl(data: bytes, name: str) -> bytes:
    """The root score of an .mxl archive, chosen by META-INF/container.xml (MusicXML 4.0, "Compressed .mxl files").

    Nothing is written to disk, so names inside the archive can lead nowhere.

    Args:
        data: The archive.
        name: What the player calls it.

    Raises:
        CoachError: no archive, damaged, encrypted, too large unpacked, or without a score.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            if len(archive.infolist()) > MOST_FILES:
                raise CoachError(f'cannot read "{name}": the archive holds more than {MOST_FILES} files')
            return _member(archive, _root(archive, name), name)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, ValueError, OSError) as error:
        raise CoachError(f'cannot read "{name}": the archive is damaged or cut short') from error


def _root(archive: zipfile.ZipFile, name: str) -> str:
    from coach.score.formats.xml import local, parse_xml

    names = archive.namelist()
    # Some programs name their files from the root, or with the other slash.
    places = {_place(name): name for name in reversed(names)}
    if "META-INF/container.xml" in places:
        container = parse_xml(_member(archive, places["META-INF/container.xml"], name), name)
        roots = [root for root in container.iter() if local(root) == "rootfile"]
        # The standard's own type comes first, but whatever calls itself XML may be the score.
        for kind in ("musicxml", "/xml"):
            for root in roots:
                path = places.get(_place(root.get("full-path") or ""))
                if path is not None and kind in (root.get("media-type") or MUSICXML).lower():
                    return path
        raise CoachError(f'cannot read "{name}": the archive holds no score (META-INF/container.xml names none)')
    scores = [
        path for path in names if path.lower().endswith((".xml", ".musicxml")) and not path.startswith("META-INF")
    ]
    if not scores:
        raise CoachError(f'cannot read "{name}": the archive holds no score')
    return scores[0]


def _place(path: str) -> str:
    return re.sub(r"^(?:\.?/)+", "", path.replace("\\", "/"))


def _member(archive: zipfile.ZipFile, path: str, name: str) -> bytes:
    info = archive.getinfo(path)
    if info.flag_bits & 1:
        raise CoachError(f'cannot read "{name}": the archive is locked with a password')
    if info.file_size > LARGEST_SCORE:
        raise CoachError(f'cannot read "{name}": unpacked it is larger than {LARGEST_SCORE // 2**20} MB')
    with archive.open(info) as member:
        # The size that the archive states may be a lie: read no further than allowed.
        data = member.read(LARGEST_SCORE + 1)
    if len(data) > LARGEST_SCORE:
        raise CoachError(f'cannot read "{name}": unpacked it is larger than {LARGEST_SCORE // 2**20} MB')
    return data
