"""``namefirst moves``: what a mix revision changed, as the fewest moves that explain it.

Two files of the same mix, before and after, are read, aligned and compared; the moves are told in
plain lines, and drawn if a picture is asked for.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from exercises.audio_file import read_stretch
from exercises.audio_handle import shown_name
from exercises.errors import NamefirstError
from exercises.revision import Revision, explain_revision, revision_text
from trainer.plain_text import PlainText

_PICTURES: Final = (".svg", ".png")


def tell_moves(before: Path, after: Path, picture: Path | None, text: PlainText) -> None:
    """Says what became of ``before`` in ``after``, and draws it to ``picture`` if that is given.

    Raises:
        NamefirstError: a file that cannot be read, files that are not of one mix, or a picture
            that cannot be written or is there already; nothing is written then.
    """
    if picture is not None:
        _check_place(picture)
    sounds = []
    for path in (before, after):
        audio = read_stretch(path)
        text.say(*(f"{shown_name(path)}: {note}" for note in audio.notes))
        sounds.append(audio.samples)
    revision = explain_revision(*sounds)
    if picture is not None:
        _draw(revision, shown_name(before), shown_name(after), picture)
    text.say(*revision_text(revision).splitlines())
    if picture is not None:
        text.say(f"The picture is in {picture}.")


def _check_place(picture: Path) -> None:
    if picture.suffix.lower() not in _PICTURES:
        raise NamefirstError(f"{picture}: pictures are .svg or .png; give one of these endings")
    if picture.exists():
        raise NamefirstError(f"{picture}: is already there; choose another name")


def _draw(revision: Revision, before: str, after: str, picture: Path) -> None:
    from trainer.window.picture_shapes import picture_svg
    from trainer.window.revision_picture import revision_shapes

    shapes = revision_shapes(revision, before, after)
    if picture.suffix.lower() == ".svg":
        drawn = picture_svg(f"What changed from {before} to {after}", shapes).encode()
    else:
        from trainer.window.shapes_png import picture_png

        drawn = picture_png(shapes)
    try:
        with picture.open("xb") as out:
            out.write(drawn)
    except FileExistsError:
        raise NamefirstError(f"{picture}: is already there; choose another name") from None
    except OSError as error:
        raise NamefirstError(
            f"{picture}: cannot be written ({error.strerror}); choose another place"
        ) from None
