"""What the reading drill says."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.models.interval import wilson
from audit.practice.drill.share_words import percent_of
from audit.practice.power_words import percent
from audit.practice.reading.reading_score import ALIKE, RIGHT, TURNED, UNREAD
from audit.review.wording import counted, listed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.declarations import Declarations
    from audit.practice.exercise.drill_record import DrillRecord
    from audit.practice.reading.reading_round import ReadingRound
    from audit.practice.reading.reading_score import Read, ReadingScore

__all__ = [
    "CAUTION",
    "HOW_TO",
    "KINDS",
    "TYPING",
    "advice",
    "beside_others",
    "headline",
    "kind_words",
    "overview_line",
    "read_words",
    "title",
]

HOW_TO = (
    (
        "Each drawing shows one number: of a metal ring, of a plastic ring, or on the display of a tag "
        "reader. All are invented."
    ),
    (
        "Read it from one end to the other, and write it down as it stands. Blanks and small letters do not "
        "matter."
    ),
    (
        "A ring may stand upside down: turn it in your mind until the letters stand upright. Six and nine "
        "change into each other when turned."
    ),
    (
        "Where a number cannot be read, write ? instead. A number that is missing can be looked for; a wrong "
        "one becomes another bird."
    ),
    "Read it once more and hold it against what you wrote, before you go on. Do the same in the field.",
)
CAUTION = (
    "This is an exercise on paper; no bird was handled for it. Rings on live birds are read by holders of a "
    "licence and by those whom they train: your licence, your scheme and local law come before anything said "
    "here. Never hold a bird longer for a number that is hard to read."
)
#: What is to be known before tags are typed into a spreadsheet program.
TYPING = (
    "In a spreadsheet program type the digits of a tag in groups, with blanks between: it takes 15 digits in "
    "one piece for a number, and may cut them short."
)
#: Kind -> how it is called.
KINDS = {
    ALIKE: "a sign taken for one that looks like it",
    TURNED: "read upside down",
    "digit": "one sign read wrongly",
    "neighbours": "two neighbours exchanged",
    "dropped": "a sign lost",
    "extra": "a sign too many",
    "jump": "two signs exchanged across a third",
    "twin": "a pair of equal signs read as another pair",
    "jump_twin": "two equal signs around a third read as others",
    "phonetic": "a number that sounds alike, such as 13 for 30",
    "two_edits": "two slips in one number",
    "look_alike": "a letter for a digit, or a digit for a letter",
    "zeros_lost": "leading zeros lost",
    "rounded": "last digits replaced by zeros",
    "scientific": "written with an exponent, as spreadsheet programs do",
    "unknown": "so far off that no single slip explains it",
}
_PRACTISE = {
    ALIKE: "read each pair of signs that look alike twice, and say it aloud",
    TURNED: "look for the letters first, to know which way up a ring stands",
    "neighbours": "read digits one by one, not in pairs",
    "jump": "read digits one by one, not in pairs",
    "dropped": "count the signs: a tag has 15 digits, a ring always as many as its series",
    "extra": "count the signs: a tag has 15 digits, a ring always as many as its series",
    "scientific": "type the digits of a tag in groups, so that no program takes them for a number",
    "zeros_lost": "write leading zeros too: they belong to the number",
    "twin": "slow down where equal signs stand together",
    "jump_twin": "slow down where equal signs stand close together",
}
_ALL = 100


def title(round_: ReadingRound) -> str:
    """Title of the round."""
    return f"Reading drill {round_.seed} for {round_.trainee}: {round_.level.title.lower()}"


def kind_words(kind: str) -> str:
    """Name a kind of slip."""
    return KINDS.get(kind, kind.replace("_", " "))


def read_words(read: Read) -> str:
    """Say in a few words what came of one number."""
    if read.kind == RIGHT:
        return "right"
    if read.kind == UNREAD:
        return "not read, and said so"
    signs = listed([f"{typed} for {meant}" for meant, typed in read.taken])
    return f"{kind_words(read.kind)}{f': {signs}' if signs else ''}"


def headline(score: ReadingScore) -> str:
    """Say how many numbers and signs were misread, with intervals."""
    numbers, signs = score.numbers, score.signs
    if not numbers.trials:
        return "No number was read."
    told = (
        f"{numbers.hits} of {counted(numbers.trials, 'number')} misread, {percent(numbers)}; "
        f"{signs.hits} of {counted(signs.trials, 'sign')}, {percent(signs)}. In brackets stand the "
        f"{percent_of(score.confidence)} intervals: between these ends it may lie in the long run."
    )
    if score.unread:
        verb = "was" if score.unread == 1 else "were"
        told += f" {counted(score.unread, 'number')} {verb} not read, and said so: that is no error."
    return told


def beside_others(records: Sequence[DrillRecord], declared: Declarations) -> str:
    """Hold all that a trainee misread against what others published, and say why that is not the same."""
    settings = declared.settings
    misread, answered = _sums(records)
    least = int(settings["practice.reading.least_numbers"].value)
    own = wilson(misread, answered, float(settings["practice.reading.confidence"].value))
    trained, untrained = (
        [round(_ALL * float(end)) for end in settings[f"practice.reading.published.colours_{who}"].value]
        for who in ("trained", "untrained")
    )
    letters = [
        round(_ALL * float(settings[f"practice.reading.published.letters_{who}_most"].value))
        for who in ("trained", "untrained")
    ]
    told = f"In all rounds so far {misread} of {counted(answered, 'number')} were misread, {percent(own)}. "
    if answered < least:
        told += f"Of fewer than {least} that says little. "
    return told + (
        f"In one laboratory study trained readers of colour rings misread {trained[0]} % "
        f"({trained[1]}-{trained[2]}), untrained ones {untrained[0]} % ({untrained[1]}-{untrained[2]}); "
        f"letters on metal rings were misread through binoculars by up to {letters[0]} % by trained and "
        f"up to {letters[1]} % by inexperienced readers. Neither is the same thing as a drawing shown for "
        "some seconds: take them for the order of size, and for how much training does. For a ring in the "
        "hand no published rate is known to us."
    )


def advice(score: ReadingScore) -> str:
    """Say in a sentence or two what to practise."""
    if not score.numbers.trials:
        return "Show the numbers for longer, or choose an easier level."
    if not score.kinds:
        if score.unread:
            return "All that was read is right. Show the numbers for longer until all are read."
        return "All right. Show the numbers for a shorter time, or try the next level."
    kind = next(iter(score.kinds))
    told = f"Practise: {_PRACTISE.get(kind, 'read the number once more before you go on')}."
    if score.taken:
        pairs = listed([f"{typed} for {meant}" for meant, typed in list(score.taken)[:3]])
        told += f" Mistaken here: {pairs}. These signs come more often in the next round."
    return told


def overview_line(records: Sequence[DrillRecord], declared: Declarations) -> str:
    """Say in a line how a trainee gets on with reading, for the trainer."""
    misread, answered = _sums(records)
    own = wilson(misread, answered, float(declared.settings["practice.reading.confidence"].value))
    told = f"Reading drill: {counted(len(records), 'round')}, misread {percent(own)} of {answered} numbers"
    pairs: dict[str, int] = {}
    for record in records:
        for pair, times in record.counts.get("signs", {}).items():
            pairs[pair] = pairs.get(pair, 0) + times
    often = sorted(pairs, key=lambda pair: (-pairs[pair], pair))[:3]
    if often:
        told += "; mistaken: " + listed([" for ".join(pair.split(">")[::-1]) for pair in often])
    return f"{told}."


def _sums(records: Sequence[DrillRecord]) -> tuple[int, int]:
    unread = sum(one.counts.get("answers", {}).get(UNREAD, 0) for one in records)
    asked, right = sum(one.asked for one in records), sum(one.right for one in records)
    return asked - unread - right, asked - unread
