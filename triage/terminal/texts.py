"""Every sentence of the terminal's own. What is known of amplifiers is in ``knowledge/``."""

from __future__ import annotations

from dataclasses import dataclass

LABELS: dict[str, tuple[str, str]] = {
    "power": ("POWER", "Power"),
    "care": ("care", "Take care"),
    "why": ("why", "Why now"),
    "how": ("how", "How"),
    "good": ("good", "Good looks like"),
    "bad": ("else", "Otherwise"),
    "slips": ("slips", "Easily got wrong"),
    "do": ("now", "Now"),
    "ask": ("ask", "Question"),
    "expected": ("about", "Expected"),
    "help": ("hint", "Hint"),
    "type": ("type", "You can type"),
}
"""Label in columns, label in the linear mode."""

GAP = 7
"""Width of the label column."""

POWER_WORDS: dict[str, str] = {
    "any": "not known: take it for live",
    "cold": "cold - unplugged, discharged, proven dead by a reading",
    "unplugged": "unplugged - may still be charged and hot; keep it closed",
    "plugged": "plugged in, switched off - cord, fuse and switch are live",
    "standby": "standby - high voltage is on the reservoir capacitor",
    "limited_bare": "on the limiter, tubes out - B+ may be at FULL voltage, chassis may be live",
    "limited": "on the limiter - B+ may be at full peak, chassis may be live",
    "idle": "on, no signal - B+ up, chassis may be live",
    "driven": "on, with signal - B+ up, plates swing to twice B+",
    "external": "outside source connected - energised whatever the plug does",
}
"""What a power state means, said every time."""

SORT_TITLES: dict[str, str] = {
    "complaint": "What is wrong?",
    "already": "Before this job",
    "step": "Step",
    "act": "Do this first",
    "repair": "Repair",
    "proof": "Proof",
    "hazard": "DANGER",
    "closed": "Finished",
}


@dataclass(frozen=True)
class Command:
    """A word that may be typed at any prompt. ``more`` names what may follow it."""

    word: str
    says: str
    more: str = ""


COMMANDS: tuple[Command, ...] = (
    Command("danger", "something is smoking, biting, glowing red, or somebody got a shock"),
    Command("why", "why this is asked; 'why 2' gives the reasons for suspect 2", "NUMBER"),
    Command("suspects", "what it may be, likeliest first"),
    Command("back", "take back the last answer (what was done to the amplifier stays done)"),
    Command("change", "list the answers; 'change 3 yes' corrects answer 3", "NUMBER ANSWER"),
    Command("already", "say what was measured, swapped or tried before this job"),
    Command("skip", "this whole step cannot be done here"),
    Command("todo", "what is left to do, and what was not asked"),
    Command("order", "the next steps, in order; 'order 4' looks four steps ahead", "DEPTH"),
    Command("note", "keep a note, in your own words", "TEXT"),
    Command("sheet", "the sheet for whoever takes over"),
    Command("again", "show this once more"),
    Command("pause", "stop here; everything is kept"),
    Command("help", "these words"),
)

SPECIAL = {"?": "why", "!": "danger", "history": "change"}
"""Signs that cannot be the beginning of an answer, and other words for a command."""

KEYS: dict[str, tuple[str, ...]] = {
    "complaint": ("enough", "back", "danger", "pause", "help"),
    "already": ("none", "more", "danger", "pause", "help"),
    "step": ("unknown", "cannot", "skip", "back", "why", "suspects", "danger", "help"),
    "act": ("done", "skip", "why", "note", "danger", "pause", "help"),
    "repair": ("done", "skip", "why", "suspects", "sheet", "danger", "help"),
    "proof": ("passed", "failed", "unknown", "suspects", "danger", "help"),
    "hazard": ("done", "note", "sheet", "pause", "help"),
    "closed": ("sheet", "suspects", "change", "pause"),
}
"""Words of the last line, by sort of view."""

ASK_NUMBER = "or a number in {unit}: 4k7, 47 mV and >400 mV are understood"
USUAL = "(as it should be)"
MORE = "-- more: press Enter --"
MINUTES = "about {minutes:.0f} min"
CONFIRM_ASK = "Type 'keep' if it is right, or type it again."

DANGERS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    (
        "tingle",
        "a tingle or a bite from metal",
        (
            "Do not touch the amplifier again, nor its switch.",
            "Cut the power at the wall or at the strip.",
        ),
    ),
    (
        "smoke",
        "smoke, arcing, or a capacitor that hisses or swells",
        (
            "Cut the power at the wall. Step back; mind your eyes.",
            "Leave it closed for 30 minutes. Open a window.",
        ),
    ),
    (
        "red_plate",
        "the plate of a tube glows red or orange",
        (
            "Switch off at the nearest of standby and mains switch; then pull the plug.",
            "Do not switch on again to look once more.",
        ),
    ),
    (
        "shock",
        "somebody got a shock",
        (
            "Touch neither the person nor the amplifier until the power is cut at the wall.",
            "Call for help. Whoever got a shock sees a doctor, even when feeling well.",
        ),
    ),
)
"""Hazard, what it looks like, and what to do this second. Shown whole, before anything is asked."""

DANGER_HEAD = "DANGER. Do what fits, now; then type its number. Enter alone: none of these."
DANGER_NONE = "No danger noted. Type 'danger' or '!' at any time."

WELCOME = (
    "Vacuum-tube amplifiers hold voltages that kill, also for a while after the plug is out.",
    "Local electrical codes and licensed practice come before anything said here.",
    "Nothing is typed in a hurry: every answer is kept at once, 'pause' stops at any point,",
    "and '!' or 'danger' is taken at any prompt.",
)
INTERRUPTED = "Interrupted. Enter goes on, 'pause' keeps everything and stops, '!' is danger."
PAUSED = "Kept. Pull the plug before you leave it; tag it: DO NOT POWER."
RESUMED = "Taken up again. Whatever was said before, the amplifier now counts as live and charged."
SPLITS = "What each answer would leave:"
NOTHING_YET = "Nothing yet."
MENU = "What do you notice? In your own words, or the number of a line:"
ENOUGH_ASK = "Type what you notice in your own words, or 'enough' when all is said."
BY_HAND = "Type 'done' when it is done, or 'skip' if it cannot be done."
NOTE_WHAT = "note what? Write for example: note R14 looks scorched"
CHANGE_HOW = "To correct one: change NUMBER ANSWER, for example: change 3 yes"
WHY_NUMBER = "There is no suspect {number}. 'suspects' lists them."
NUMBERED = "Type one of these, or its number: {answers}."

PROMPTS: dict[str, str] = {
    "complaint": "you notice: ",
    "already": "done before: ",
    "step": "answer: ",
    "act": "done? ",
    "repair": "done? ",
    "proof": "proof: ",
    "hazard": "now: ",
    "closed": "anything else? ",
    "danger": "which? ",
    "more": "",
    "go_on": "go on? ",
}
UNITLESS = frozenset({"word", "choice", "number"})
"""Units of fields that are words or bare counts."""
LEFT_OPEN = "Left open."
PROOF_ASK = "Did it pass, under the conditions of the complaint? passed, failed or unknown."
HAZARD_ASK = "Type 'done' when it is safe as said above, or 'pause' to leave it so."
CLOSED_ASK = "Enter leaves. 'sheet' shows the record for whoever comes next."
FREE_SORTS = frozenset({"complaint"})
"""Sorts of view at which free words are typed, so that short forms of commands are not taken."""

INTAKE_ASK = "Which amplifier?"
INTAKE_FILE = "path of the profile: "
INTAKE_WAYS: dict[str, str] = {
    "file": "a profile that you have written (YAML)",
    "questions": "yours: a few questions, each may be answered 'unknown'",
}
INTAKE_WORDS: tuple[tuple[str, str], ...] = (
    ("back", "the question before"),
    ("danger", "what to do at once"),
    ("pause", "leave; nothing has been kept yet"),
)
INTAKE_HELP = "Type a number, a word, 'unknown', 'back', 'danger' or 'pause'."
GO_ON = "Go on with {name} ({about})? Enter or 'yes' goes on, 'no' begins a new job."
