"""What there is to know of each problem before it is named: words, causes, and where it is welcome.

One text for each of the ten bands in either direction, and one for each kind without a place. The
sentences are ours. Where a range was held against print, ``sources`` names what was read:

- KULKA: L. di Gar Kulka, "Equalization", Recording Engineer/Producer, 1972, as quoted in
  B. Owsinski, "The Mixing Engineer's Handbook" (six ranges from 16 Hz to 16 kHz).
- KATZ: B. Katz, an essay on equalising in mastering (a boost near 250 Hz warms as a dip in the
  highs does; harshness lies in the upper mids and lower highs).

Only what an excerpt showed was checked, so a text that names one of them agrees with it about the
region and the direction, and no more. Two books agree on no single text: all of them are common
practice, and mixers disagree by up to an octave.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from exercises.bands import BANDS
from exercises.kinds import DYNAMICS, LEVEL, Kind
from trainer.subject import Subject

KULKA: Final = "Kulka 1972, in Owsinski's Mixing Engineer's Handbook"
KATZ: Final = "Katz on equalising in mastering"
NO_SOURCE: Final = "common practice, no source"


@dataclass(frozen=True, slots=True)
class StudyText:
    """What is said of one subject, in plain sentences.

    ``words`` is what mixers call it; ``listen`` says what to listen for; ``causes`` what tends to
    bring it about on a real track; ``welcome`` where it is wanted; ``apart`` how to tell it from
    what it is compared with. ``sources`` are those that agree about region and direction.
    """

    words: tuple[str, ...]
    listen: str
    causes: str
    welcome: str
    apart: str
    sources: tuple[str, ...] = ()

    @property
    def standing(self) -> str:
        """How well the text is founded, for the foot of a page."""
        if not self.sources:
            return NO_SOURCE
        return f"{NO_SOURCE} for the most part; the region agrees with {' and '.join(self.sources)}"


_TOO_MUCH: Final = (
    StudyText(
        ("rumble", "subby"),
        "Listen under the notes: a slow pressure that swells and hardly has a pitch.",
        "Footsteps, traffic or wind in an open microphone; two low instruments holding the "
        "same root; a low boost set on small loudspeakers that could not show it.",
        "Under a long, lone bass note or a deep drum that is meant to be felt.",
        "Rumble is felt and has no tune; boom, an octave up, can be hummed.",
        (KULKA,),
    ),
    StudyText(
        ("boom", "heavy", "tubby"),
        "Listen to the kick and the lowest bass notes: each one rings on and covers the next.",
        "A resonance of the room or the drum shell; a microphone close to a bass cabinet; "
        "kick and bass both leaning on the same octave.",
        "In dance music and dub, on one instrument that carries the low end alone.",
        "Boom hangs on after the stroke; rumble lies under it; thick sits in the notes above.",
        (KULKA,),
    ),
    StudyText(
        ("thick", "fat", "bloated"),
        "Listen to the bass line and the lower half of voices and guitars: they lean on each "
        "other and grow wide.",
        "Close microphones (the proximity effect); several instruments playing the same low "
        "register; a warm low boost on each of them.",
        "On a lone voice or guitar that has to fill the room.",
        "Thick is weight you can hum; mud, an octave up, is the blur between instruments.",
        (KULKA,),
    ),
    StudyText(
        ("mud", "woolly", "cloudy"),
        "Listen between the instruments: the gaps fill up and low voices lose their edges.",
        "Many tracks with their warmth in the same place; damped strokes through a driven "
        "amplifier; small untreated rooms; reverberation without its lows taken out.",
        "A little of it is warmth: a thin voice or a sparse arrangement may want it.",
        "Mud is soft and covers; boxy, an octave up, has a hollow knock, like cardboard.",
    ),
    StudyText(
        ("boxy", "cardboard"),
        "Listen to drums and voices: a knock, as if they were played inside a box.",
        "Small rooms and early reflections; a drum shell heard from too near; cheap "
        "loudspeakers and cabinets; close plugged-in acoustic guitars.",
        "In the body of a snare or a tom, and in a sound that is meant to be old or small.",
        "Boxy has a hollow knock without a vowel; honk, an octave up, says 'aw'; mud is softer.",
    ),
    StudyText(
        ("honk", "horn-like", "nasal"),
        "Listen to voices and guitars: they seem to say 'aw', as through cupped hands.",
        "Horns and small loudspeakers; a guitar amplifier's middle turned up; a microphone off "
        "to one side; several midrange parts in one register.",
        "To push a solo through a dense band, or for a voice on the telephone.",
        "Honk says 'aw'; boxy, below it, only knocks; hard, above it, pokes without a vowel.",
        (KULKA,),
    ),
    StudyText(
        ("hard", "tinny", "nasal"),
        "Listen to plucks, snare and consonants: each one pokes, like a tin lid.",
        "Bright pick-ups and cheap microphones; overdriven inputs; a boost for clarity on "
        "many tracks at once.",
        "In the click of a kick or a pick that has to be heard on small loudspeakers.",
        "Hard pokes like tin; honk, below it, has a vowel; harsh, above it, stings.",
        (KULKA,),
    ),
    StudyText(
        ("harsh", "edgy", "glaring"),
        "Listen for what tires you: cymbals, distorted guitars and loud vowels sting.",
        "Presence boosts on voice, guitars and snare together; clipped or distorted tracks; "
        "cymbals leaking into every microphone.",
        "On one thing that must come forward: a lead voice, an attack.",
        "Harsh stings all the time; hard, below it, pokes; sibilant, above it, hisses on s.",
        (KATZ,),
    ),
    StudyText(
        ("sibilant", "spitty", "brittle"),
        "Listen to the letters s and t, to hi-hats and shakers: they jump out and spit.",
        "A bright microphone close to a mouth; compression that lifts the s; a hi-hat leaking "
        "into the voice; air boosts added after that.",
        "On a dull drum kit, or a voice that has to whisper on top of the band.",
        "Sibilant spits on single sounds; harsh, below it, stings on all; fizz, above it, is "
        "a steady spray.",
    ),
    StudyText(
        ("fizz", "hiss", "too much air"),
        "Listen to the very top: a fine spray over everything, loudest on cymbals.",
        "Noise of amplifiers and preamplifiers; distortion without a cabinet; an air shelf "
        "added on every track and once more on the mix.",
        "A touch of it opens a dark voice or a room; old recordings can carry it.",
        "Fizz is a fine steady spray; sibilant, an octave below, comes in spits.",
    ),
)

_TOO_LITTLE: Final = (
    StudyText(
        ("no depth", "small"),
        "Listen under the kick: the floor is gone, though every note is still there.",
        "A high-pass filter set by habit on every track; small loudspeakers in front of the "
        "microphone; a kick that was never that low.",
        "Nearly everywhere but in the kick, the bass and deep effects; in music for telephones.",
        "Without depth the notes stay whole; without weight, an octave up, they shrink.",
        (KULKA,),
    ),
    StudyText(
        ("no weight", "lean"),
        "Listen to kick and bass: they are quick and clear, and do not push.",
        "High-pass filters set too high; kick and bass out of polarity with one another; a "
        "cure for boom that went too far.",
        "In fast, dense music, and on every track that leaves the low end to another.",
        "Without weight, kick and bass have shrunk; thin, an octave up, all the rest has.",
        (KULKA,),
    ),
    StudyText(
        ("thin", "no warmth"),
        "Listen to the lower half of voices and guitars: they stand on nothing.",
        "Distant microphones; high-pass filters on whole groups; two microphones whose sound "
        "cancels low down.",
        "On acoustic guitars and backing voices in a full band.",
        "Thin here takes the bass line's body; at 250 it takes the body of the voices.",
        (KULKA,),
    ),
    StudyText(
        ("thin", "no body", "lean"),
        "Listen to voices, snare and guitars: clear and cool, as if seen on paper.",
        "A cure for mud that went too far, or was done on every track and then on the mix; "
        "small loudspeakers recorded again.",
        "In dense arrangements, so that each part leaves room for the next.",
        "Without body it is cool; hollow, an octave up, is as if the middle had been scooped out.",
        (KATZ,),
    ),
    StudyText(
        ("hollow", "scooped"),
        "Listen to the middle of guitars, snare and voices: lows and highs stay, apart.",
        "A scooped guitar amplifier; two microphones that cancel; a cut against boxiness "
        "with nothing left to put in its place.",
        "On kick drums, and on heavy guitars that leave the middle to the voice.",
        "Hollow here empties the body; at 1k it takes the voice's face and its vowels.",
    ),
    StudyText(
        ("hollow", "recessed"),
        "Listen to the vowels of voices and guitars: they step back into the room.",
        "The curve of a 'loudness' button or a smile on a graphic equaliser; a scooped "
        "amplifier; a cut against honk.",
        "Behind a lead voice, on strings and pads.",
        "At 1k the vowels go; at 500 the body goes; at 2k the words go.",
    ),
    StudyText(
        ("distant", "veiled", "soft"),
        "Listen to the words and the pick: you have to lean forward to follow them.",
        "Distant or covered microphones; worn strings and heads; too strong a cure for hardness.",
        "On whatever should stay behind: pads, backing voices, the room.",
        "At 2k the words go soft; at 4k edges and attacks go; at 1k the vowels.",
    ),
    StudyText(
        ("distant", "dull edge", "no presence"),
        "Listen to attacks: sticks, picks and consonants lose their front.",
        "Microphones far off or turned away; de-essing or a cure for harshness that went too "
        "far; tape and old loudspeakers.",
        "For depth: what is meant to stand at the back, and what would otherwise tire.",
        "At 4k attacks go; dull, an octave up, leaves attacks but takes their shine.",
    ),
    StudyText(
        ("dull", "dark", "muffled"),
        "Listen to cymbals and the letter s: there, but under a cloth.",
        "Old strings and heads; a de-esser that never rests; ribbon microphones far away; "
        "ears that are tired from loud listening.",
        "On electric basses, dark guitars, and where a lead should have the top for itself.",
        "Dull is heard on every s; no air, an octave up, is only missed on the longest cymbals.",
    ),
    StudyText(
        ("no air", "closed"),
        "Listen above the cymbals: the space around them is closed in.",
        "Lossy compression, old tape, low sampling rates; dark microphones; nothing in the "
        "music that reaches so high.",
        "Almost everywhere: few instruments need it, and guitars, basses and drums rarely do.",
        "No air takes the space above; dull, an octave below, takes the shine itself.",
    ),
)

_KINDS: Final = {
    Kind.SQUASHED: StudyText(
        ("squashed", "lifeless", "flat"),
        "Listen to the strokes: they lose their front, and what lies between them comes up.",
        "A compressor with a quick attack and a low threshold; several mild ones in a row; a "
        "limiter pressed for loudness.",
        "On a voice that must stay on top of a loud band, on a bass, and as an effect on drums.",
        "Squashed moves loud and soft together; lifted moves them apart; a tone problem leaves "
        "both where they were.",
    ),
    Kind.LIFTED: StudyText(
        ("jumpy", "too lively", "uneven"),
        "Listen to the strokes: they jump out, and what lies between them sinks away.",
        "An expander or gate set too eagerly; a transient effect; a player who is uneven, and "
        "no hand on the fader.",
        "On drums that were flattened before, and in music that lives on contrast.",
        "Lifted makes strokes jump; squashed lays them down; too loud moves all of it alike.",
    ),
    Kind.TOO_LOUD: StudyText(
        ("too loud", "on top", "in the way"),
        "Listen to all of it at once: nothing changes its colour, everything comes nearer.",
        "A fader left up after a take; the part you played yourself; a solo that was never "
        "turned back.",
        "For the one thing that the listener should follow just now.",
        "Louder seems brighter and fuller as well; ask whether one region moved, or all of them.",
    ),
    Kind.TOO_QUIET: StudyText(
        ("too quiet", "buried", "behind"),
        "Listen to all of it at once: the same colours, further away.",
        "Levels set while listening too loud, or while looking at meters; a part heard so "
        "often that the ear fills it in.",
        "On everything that supports: doublings, pads, noises, reverberation.",
        "Softer seems duller and thinner as well; ask whether one region sank, or all of them.",
    ),
}


def text_of(subject: Subject) -> StudyText:
    """The text of one subject."""
    if subject.band_index is None:
        return _KINDS[subject.kind]
    return (_TOO_MUCH if subject.kind is Kind.TOO_MUCH else _TOO_LITTLE)[subject.band_index]


assert len(_TOO_MUCH) == len(_TOO_LITTLE) == len(BANDS)
assert set(_KINDS) == DYNAMICS | LEVEL
