"""How a compressed score is opened: MusicXML's .mxl archives, with every size bounded before it is unpacked."""

from __future__ import annotations

import io
import zipfile
import zlib

from coach.errors import CoachError

LARGEST_SCORE = 16 * 1024 * 1024
"""Largest score read, in bytes, unpacked. A hymn has 0.1 MB, a long organ work 5 MB."""

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
    if "META-INF/container.xml" in names:
        container = parse_xml(_member(archive, "META-INF/container.xml", name), name)
        for root in container.iter():
            kind = root.get("media-type") or "application/vnd.recordare.musicxml+xml"
            if local(root) == "rootfile" and "musicxml" in kind and root.get("full-path") in names:
                return str(root.get("full-path"))
        raise CoachError(f'cannot read "{name}": the archive holds no score (META-INF/container.xml names none)')
    scores = [
        path for path in names if path.lower().endswith((".xml", ".musicxml")) and not path.startswith("META-INF")
    ]
    if not scores:
        raise CoachError(f'cannot read "{name}": the archive holds no score')
    return scores[0]


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
