"""Colours, faces, boxes, controls: what every screen is made of."""

from __future__ import annotations

from typing import cast

import pygame
import pytest
from pygame import Rect

from trainer.window.paint import fonts, keyboard, shapes, signs, theme
from trainer.window.paint.canvas import Box, Canvas, Easel
from trainer.window.paint.controls import Controls
from trainer.window.paint.scrolling import in_sight
from trainer.window.strings import WORDS, say

pygame.font.init()
SIGNS = "".join(signs.TEXT_SIGNS)
FACES = (fonts.ROMAN, fonts.ITALIC, fonts.BOLD, fonts.BOLD_ITALIC, fonts.SANS)


def inked(surface: pygame.Surface) -> int:
    return int(pygame.mask.from_surface(surface, 60).count())


@pytest.mark.parametrize("face", FACES)
@pytest.mark.parametrize("sign", SIGNS)
def test_no_music_sign_is_missing_in_any_face(face: str, sign: str) -> None:
    drawn = fonts.line(sign, face, 40, (0, 0, 0))
    assert inked(drawn) > 30
    # A missing glyph would be the same empty box for every sign.
    others = [fonts.line(other, face, 40, (0, 0, 0)) for other in SIGNS if other != sign]
    assert all(pygame.image.tobytes(drawn, "RGBA") != pygame.image.tobytes(one, "RGBA") for one in others)


@pytest.mark.parametrize("face", FACES)
def test_letters_a_face_lacks_come_from_another(face: str) -> None:
    drawn = {pygame.image.tobytes(fonts.line(letter, face, 40, (0, 0, 0)), "RGBA") for letter in "↑↓←→✓"}
    assert len(drawn) == 5


@pytest.mark.parametrize("half", ["\udce9", "\0"])
def test_what_is_no_letter_is_drawn_as_a_question_mark(half: str) -> None:
    drawn, asked = (fonts.line(f"{one}tude {one}", fonts.ROMAN, 30, (0, 0, 0)) for one in (half, "?"))
    assert pygame.image.tobytes(drawn, "RGBA") == pygame.image.tobytes(asked, "RGBA")


@pytest.mark.parametrize(
    ("said", "set_as"),
    [("'song.abc' is a duet: see ('b.abc').", "‘song.abc’ is a duet: see (‘b.abc’)."),
     ("'a singer's song.abc' is a duet.", "‘a singer’s song.abc’ is a duet."),
     ("the singer's, don't; rock 'n roll", "the singer’s, don’t; rock ’n roll")],
)  # fmt: skip
def test_the_name_of_a_file_stands_between_quotes_that_open_and_close(said: str, set_as: str) -> None:
    drawn, asked = (fonts.line(one, fonts.ITALIC, 30, (0, 0, 0)) for one in (said, set_as))
    assert pygame.image.tobytes(drawn, "RGBA") == pygame.image.tobytes(asked, "RGBA")


def test_quotes_that_close_in_the_next_line_are_a_pair() -> None:
    lines = fonts.wrapped("'a song of the evening.abc' is a duet: don't.", fonts.ROMAN, 30, 200)
    assert len(lines) > 2
    assert " ".join(lines) == "‘a song of the evening.abc’ is a duet: don't."
    assert fonts.shortened("'a song of the evening.abc'", fonts.ROMAN, 30, 200).startswith("‘a song")


def topmost(drawn: pygame.Surface) -> pygame.Rect:
    """Where the ink that reaches highest stands."""
    # They are several; pygame's types say one.
    rects = cast(list[pygame.Rect], pygame.mask.from_surface(drawn, 100).get_bounding_rects())
    return min(rects, key=lambda one: one.top)


def test_a_name_read_from_right_to_left_stands_so() -> None:
    """Lamed alone rises above the line: in a word that begins with it, it stands at the right."""
    for text, at_right in (("\u05dc\u05d0", True), ("\u05d0\u05dc", False), ("\u05dc\u05d0 \u05d0\u05d0", True)):
        drawn = fonts.line(text, fonts.ROMAN, 60, (0, 0, 0))
        highest = topmost(drawn)
        assert (highest.centerx > drawn.get_width() / 2) == at_right, text
    assert fonts._standing("Ada, \u05d0\u05b8\u05d1 2") == "Ada, \u05d1\u05d0\u05b8 2"


def test_letters_that_are_joined_are_set_joined() -> None:
    joined = fonts.line("\u0645\u062d\u0645", fonts.ROMAN, 60, (0, 0, 0))
    assert len(pygame.mask.from_surface(joined, 100).connected_components(8)) == 1


def test_a_letter_the_programs_faces_lack_is_drawn_in_one_of_the_computers(monkeypatch: pytest.MonkeyPatch) -> None:
    """Names of students in other scripts were boxes; here a face with signs of its own stands in for the computer's."""
    sign, home = "\ue000", fonts.folder()
    assert home is not None
    drawn = []
    for files in ((), (str(home / "STIXNonUni.ttf"),)):
        for kept in (fonts._face, fonts.width, fonts._measured, fonts._word, fonts._room_for):
            kept.cache_clear()
        fonts._lines.clear()
        monkeypatch.setattr(fonts, "_others", lambda files=files: files)
        drawn.append(pygame.image.tobytes(fonts.line(sign, fonts.ROMAN, 40, (0, 0, 0)), "RGBA"))
        assert fonts._face(fonts.ROMAN, "a") == fonts.ROMAN
    fonts._face.cache_clear()
    assert drawn[0] != drawn[1]


def test_signs_have_the_proportions_of_the_engraver() -> None:
    flat = signs.outline("E260")
    assert flat is not None
    # Leipzig's own table: the flat is 198 units wide and 644 high, 250 units a staff space.
    assert (flat.width, flat.height) == (198.0, 644.0)


def test_night_keeps_the_contrast_of_the_day() -> None:
    for token in ("ink", "graphite", "blue", "brass"):
        day = theme.contrast(theme.DAY[token], theme.DAY["paper"])
        night = theme.contrast(theme.NIGHT[token], theme.NIGHT["paper"])
        assert night >= min(day, 12.5) - 0.3, token
        assert night >= 4.5, token


def test_contrast_is_that_of_the_standard() -> None:
    # WCAG 2.1: black on white is 21 to 1; #767676 on white is the well-known least grey that reaches 4.5.
    assert theme.contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21.0)
    assert theme.contrast((0x76, 0x76, 0x76), (255, 255, 255)) == pytest.approx(4.54, abs=0.01)


def test_colours_by_day_are_those_of_the_design() -> None:
    wanted = {"paper": "#faf6ec", "ink": "#1f1b16", "graphite": "#6b655c", "blue": "#2c5a8c", "brass": "#b07d2b"}
    assert {token: theme.hexed(theme.DAY[token]) for token in wanted} == wanted


def test_wrapped_lines_are_no_wider_than_asked() -> None:
    text = "the quick brown fox jumps over the lazy dog " * 4
    for line in fonts.wrapped(text.strip(), fonts.ITALIC, 20, 180):
        assert fonts.width(line, fonts.ITALIC, 20) <= 180


def test_shortened_text_fits_and_says_so() -> None:
    short = fonts.shortened("a very long title indeed", fonts.ROMAN, 24, 120)
    assert short.endswith("…")
    assert fonts.width(short, fonts.ROMAN, 24) <= 120


def canvas_of(*boxes: Box) -> Canvas:
    canvas = Canvas((200, 100), theme.DAY)
    canvas.boxes = list(boxes)
    return canvas


def test_only_what_changed_is_painted_again() -> None:
    painted: list[str] = []

    def box(name: str, rect: Rect, state: int) -> Box:
        return Box(name, rect, state, lambda surface: painted.append(name))

    left, right = Rect(0, 0, 50, 50), Rect(120, 10, 40, 40)
    easel, surface = Easel(), pygame.Surface((200, 100), 0, 32)
    easel.paint(surface, canvas_of(box("left", left, 1), box("right", right, 1)))
    painted.clear()
    assert easel.paint(surface, canvas_of(box("left", left, 1), box("right", right, 1))) == []
    assert painted == []
    touched = easel.paint(surface, canvas_of(box("left", left, 1), box("right", right, 2)))
    assert painted == ["right"]
    assert touched == [right]
    painted.clear()
    # What went leaves its place to the paper.
    assert easel.paint(surface, canvas_of(box("left", left, 1))) == [right]
    assert painted == []


def test_words_that_do_not_fit_are_made_smaller_then_cut() -> None:
    canvas = Canvas((800, 600), theme.DAY)
    canvas.words("roomy", Rect(0, 0, 400, 40), "short", size=1.0)
    canvas.words("tight", Rect(0, 50, 80, 40), "rather long words here", size=1.0)
    roomy, tight = canvas.boxes
    assert not roomy.cut
    assert tight.cut
    assert tight.extent is not None
    assert tight.extent.width <= 81


def test_smaller_words_keep_their_ink() -> None:
    canvas = Canvas((800, 600), theme.DAY)
    canvas.words("tight", Rect(0, 50, 120, 40), "somewhat longer", size=1.4)
    surface = pygame.Surface((800, 600), 0, 32)
    surface.fill(theme.DAY["paper"])
    canvas.boxes[0].paint(surface)
    darkest = min(sum(surface.get_at((x, y))[:3]) for x in range(140) for y in range(50, 90))
    assert darkest <= sum(theme.DAY["ink"]) + 30


def test_every_control_says_its_key() -> None:
    canvas = Canvas((800, 600), theme.DAY)
    controls = Controls(canvas, "", None, False)
    controls.button("go", Rect(10, 10, 200, 40), "Go", lambda: None, key="return")
    controls.choice("key", Rect(10, 80, 200, 60), "key", ["C", "D"], 0, lambda at: None, key="k")
    texts = [box.text for box in canvas.boxes]
    assert "enter" in texts
    assert "k" in texts
    assert {control.key for control in controls.all} == {"return", "k"}


def test_choice_goes_round() -> None:
    canvas = Canvas((800, 600), theme.DAY)
    chosen: list[int] = []
    controls = Controls(canvas, "", None, False)
    controls.choice("key", Rect(10, 80, 200, 60), "key", ["C", "D", "E"], 2, chosen.append, key="k")
    (control,) = controls.all
    assert control.less is not None
    control.act()
    control.less()
    assert chosen == [0, 1]


def test_rows_keep_their_places_while_the_chosen_one_is_in_sight() -> None:
    """Twenty rows, five of them in sight: a click chooses a row and leaves it under the pointer."""
    highs, room = [10] * 20, 59
    assert in_sight(highs, 0, room) == (0, 5)
    assert in_sight(highs, 4, room, 0) == (0, 5)
    assert in_sight(highs, 5, room, 0) == (1, 6), "one down from the last, one row further"
    assert in_sight(highs, 2, room, 3) == (2, 7)
    assert in_sight(highs, 12, room, 0) == (10, 15), "from afar into the middle"
    assert in_sight(highs, 12, room) == (10, 15)
    assert in_sight(highs[:3], 2, room, 10) == (0, 3), "fewer rows than before"
    assert in_sight(highs, 19, room, 17) == (15, 20), "no room is left empty"
    assert in_sight([10, 40, 10, 30], 3, room, 0) == (2, 4)


@pytest.mark.parametrize("keys", [88, 76, 61, 49])
def test_the_keyboard_keeps_true_proportions(keys: int) -> None:
    rect = keyboard.fitted(Rect(0, 0, 1200, 160), keys)
    white, black = keyboard.key_rect(rect, keys, 60), keyboard.key_rect(rect, keys, 61)
    # A white key is 23.5 mm wide and 150 mm long, a black one 95 mm long (sources in trainer/hands/keyboard.py).
    assert white.height / white.width == pytest.approx(150 / 23.5, rel=0.06)
    assert black.height / white.height == pytest.approx(95 / 150, rel=0.03)
    octave = keyboard.key_rect(rect, keys, 72).left - white.left
    assert octave / white.width == pytest.approx(7.0, rel=0.05)


@pytest.mark.parametrize("keys", [88, 61])
def test_a_click_finds_the_key_under_it(keys: int) -> None:
    rect = keyboard.fitted(Rect(0, 0, 1200, 160), keys)
    for midi in (60, 61, 64, 70):
        place = keyboard.key_rect(rect, keys, midi)
        assert keyboard.key_at(rect, keys, (place.centerx, place.bottom - 2)) == midi


def test_shapes_are_smooth() -> None:
    drawn = shapes.picture('<circle cx="20" cy="20" r="15" fill="#000"/>', 40, 40)
    alphas = {drawn.get_at((x, y)).a for x in range(40) for y in range(40)}
    assert len(alphas) >= 10


def test_words_are_filled_in() -> None:
    assert say("stand.bar", bar=5, bars=16) == "bar 5 of 16"
    assert all(text.strip() for text in WORDS.values())


@pytest.mark.parametrize("style", [fonts.ROMAN, fonts.ITALIC, fonts.BOLD])
def test_a_line_of_words_stands_as_the_face_spaces_it(style: str) -> None:
    """Drawn word by word, letters stand where they do when the face draws the whole line."""
    text, size = "to find a file here, play four from my journal", 20.0
    whole = fonts._word(text, style, size, (0, 0, 0), 0)
    made = fonts.line(text, style, size, (0, 0, 0))
    one, other = (centres(picture, 8) for picture in (whole, made))
    assert len(one) == len(other) > 5
    assert max(abs(a - b) for a, b in zip(one, other, strict=True)) < 0.5


def centres(picture: pygame.Surface, parts: int) -> list[float]:
    """Where the ink of each stretch of a line has its middle, in pixels."""
    found = []
    wide = picture.get_width() // parts
    for part in range(parts):
        weights = {
            x: sum(picture.get_at((x, y))[3] for y in range(picture.get_height()))
            for x in range(part * wide, (part + 1) * wide)
        }
        found.append(sum(x * weight for x, weight in weights.items()) / sum(weights.values()))
    return found


def test_the_ring_of_focus_does_not_touch_the_words_it_holds() -> None:
    canvas = Canvas((1280, 800), theme.DAY)
    controls = Controls(canvas, "field", None, seen=True)
    controls.choice("field", Rect(100, 100, 200, 54), "moved", ["nearest", "up"], 0, lambda at: None, key="o")
    found = {box.name: box for box in canvas.boxes}
    words, ring = found["field.label"].extent, found["field.ring"].rect
    assert words is not None
    assert words.left - ring.left >= 0.4 * canvas.unit


def colour(surface: pygame.Surface, x: int, y: int) -> tuple[int, int, int]:
    found = surface.get_at((x, y))
    return found.r, found.g, found.b


@pytest.mark.parametrize("lamp", [theme.DAY, theme.NIGHT], ids=["day", "night"])
@pytest.mark.parametrize("black", [False, True], ids=["white", "black"])
@pytest.mark.parametrize("state", [keyboard.PLAIN, keyboard.PLACE, keyboard.PRESSED])
def test_the_finger_on_a_key_stands_out_by_day_and_by_night(state: str, black: bool, lamp: theme.Theme) -> None:
    place = (0, 0, 40, 200)
    bare, fingered = (pygame.Surface((40, 200), 0, 32) for _ in range(2))
    for surface, finger in ((bare, 0), (fingered, 2)):
        keyboard._key(60, place, black, state, finger, "", False, lamp).paint(surface)
    found = [theme.contrast(colour(fingered, x, y), colour(bare, x, y)) for x in range(40) for y in range(200)]
    assert max(found) >= 4.0


def test_a_letter_and_its_sign_stand_in_one_line() -> None:
    """ "D flat" with its flat alone in the next line reads as D."""
    said = "mi, C: a step too high, D flat; fa, F double sharp, A natural"
    for wide in range(60, 700, 7):
        for one in fonts.wrapped(said, fonts.ROMAN, 20, wide):
            assert not one.startswith(("flat", "double", "sharp", "natural")), (wide, one)
    assert fonts.wrapped("D flat", fonts.ROMAN, 20, 400) == ["D\u00a0flat"]


def test_no_line_begins_with_the_dot_between_two_things() -> None:
    said = "a pattern of practice · pentachord · both hands"
    for wide in range(90, 500, 10):
        lines = fonts.wrapped(said, fonts.ROMAN, 20, wide)
        assert " ".join(lines).replace("\u00a0", " ") == said
        assert not [line for line in lines if line.startswith("·")], wide
