"""The Stand in its states, for the pictures and the tests of its layout."""

from __future__ import annotations

from functools import partial

from tools.staging import play, slips, stand_of
from trainer.coaching.sight.sighttest import TWO_MINUTES
from trainer.listening.clock import now
from trainer.session import A_TEMPO, PRIMA_VISTA
from trainer.window.house.house import House
from trainer.window.practice import LOOKING

PIECE, KEY = "petzold-minuet-in-g", "Eb"


def ready(house: House) -> None:
    stand_of(house, "aura-lee", "Eb")


def playing(house: House) -> None:
    slips(house, stand_of(house, "aura-lee", "Eb"))


def long(house: House) -> None:
    stand_of(house, PIECE, "F#")
    play(house, 0.0)


def take(house: House) -> None:
    stand_of(house, PIECE, KEY)
    play(house, 0.55)


def ended(house: House) -> None:
    stand = stand_of(house, "aura-lee", "Eb")
    slips(house, stand)
    stand.stop()


def one_hand(house: House) -> None:
    stand_of(house, "greensleeves", "-2", hands="right")


def loop(house: House) -> None:
    stand_of(house, "ode-to-joy", "Ab", loop=(4, 7))


def sight(house: House) -> None:
    stand = stand_of(house, "lantern-song", "+3", mode=PRIMA_VISTA)
    assert stand.practice is not None
    stand.practice.phase = LOOKING
    stand.pace.look_until = now() + 20


def in_time(house: House) -> None:
    stand_of(house, "grey-rain", "+1", mode=A_TEMPO)


def glimpse(house: House) -> None:
    stand = stand_of(house, "aura-lee", "Eb")
    stand.glimpse(True)


def correcting(house: House) -> None:
    stand = stand_of(house, "aura-lee", KEY)
    house.draw()
    stand.correcting.toggle()
    stand.correcting.text = "IV64"
    stand.correcting.keep(partial(stand.correcting.step, 2))
    stand.correcting.text = "viio65/V"


def fingering(house: House) -> None:
    """A finger of one's own, said a moment ago."""
    stand = stand_of(house, "petzold-minuet-in-g", "F")
    house.draw()
    stand.fingering.toggle()
    stand.fingering.step(1)
    stand.fingering.step(1)
    stand.fingering.say(3)


def own_fingers(house: House) -> None:
    """Back to playing, with it on the page."""
    stand = stand_of(house, "petzold-minuet-in-g", "F")
    fingering(house)
    house.draw()
    stand.fingering.leave()
    house.notice = None


def keys(house: House) -> None:
    stand_of(house, "aura-lee", "Eb").orders.show_keys()


def tuning(house: House) -> None:
    stand_of(house, "aura-lee", "Eb").orders.tune()


def song(house: House) -> None:
    """A song: the voice with its words over the piano."""
    stand_of(house, "la-partenza", "f")


def choir(house: House) -> None:
    """A choir: women and men on a staff each over the piano."""
    stand_of(house, "der-mond-ist-aufgegangen", "Eb")


def rows(house: House) -> None:
    stand_of(house, "greensleeves", "-2")


def held(house: House) -> None:
    house.open_journal()
    stand_of(house, "aura-lee", "Eb").orders.hold()


def test(house: House) -> None:
    house.open_journal()
    house.rounds.start_sighting(TWO_MINUTES)
    house.draw()
