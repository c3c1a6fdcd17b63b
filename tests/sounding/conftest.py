"""Parts for the sounding tests."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest

from tests.sounding.synth import Synth


@pytest.fixture
def synth(jack: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[str], Synth]]:
    """Makes sound modules on the JACK server; the program under test goes through JACK."""
    monkeypatch.setenv("KEYFARER_MIDI", "jack")
    made: list[Synth] = []

    def plug_in(name: str) -> Synth:
        made.append(Synth(name))
        return made[-1]

    yield plug_in
    for one in made:
        one.close()
