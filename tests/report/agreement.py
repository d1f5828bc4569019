"""Read a page for the person as its reader does, and hold it against the answer.

What the words mean stands here once more, in patterns of its own: a page that says the wrong side,
direction, condition or certainty is found, whichever part of the package wrote it.
"""

import re

from gaittrack.compare.intervals.verdict import (
    CHANGE_IN_THESE_WALKS,
    LARGER,
    NO_CHANGE,
    NO_ERROR_FIGURE,
    NOT_SHOWN,
)

WITHOUT, WITH = 0, 1
HOWS = {
    "en": (r"without the brace: ", r"with the brace: "),
    "de": (r"ohne schiene: ", r"mit schiene: "),
}
HEADINGS = {
    "en": {
        "heel": ("heel lands first( more often)?$", "heel (does not land first|lands first less)"),
        "landing": (
            "foot lands, the toes are (a little )?higher",
            "the toes are (a little )?lower",
        ),
        "landing_ankle": ("toes are held (a little )?higher", "toes are held (a little )?lower"),
        "falling": ("comes down (a little )?faster", "comes down (a little )?slower"),
        "lift": ("air the foot is lifted (a little )?more", "foot is lifted (a little )?less"),
        "toe": ("toes pass (a little )?higher", "toes pass (a little )?lower"),
        "thigh": ("leg is lifted (a little )?more", "leg is lifted (a little )?less"),
        "knee_give": ("knee bends (a little )?more", "knee bends (a little )?less"),
        "knee_straight": ("(a little )?less straight on", "(a little )?straighter on"),
        "push_off": ("moves (a little )?more to push", "moves (a little )?less to push"),
        "speed": ("walks? (a little )?faster", "walks? (a little )?slower"),
    },
    "de": {
        "heel": ("Ferse kommt (öfter )?zuerst auf", "Ferse kommt (nicht|seltener) zuerst auf"),
        "landing": ("sind die Zehen (etwas )?höher$", "sind die Zehen (etwas )?tiefer$"),
        "landing_ankle": ("stehen die Zehen (etwas )?höher$", "stehen die Zehen (etwas )?tiefer$"),
        "falling": ("setzt (etwas )?schneller auf", "setzt (etwas )?langsamer auf"),
        "lift": ("hebt sich der Fuß (etwas )?mehr", "hebt sich der Fuß (etwas )?weniger"),
        "toe": ("Zehen sind (etwas )?höher über", "Zehen sind (etwas )?näher am"),
        "thigh": ("Bein hebt sich (etwas )?mehr", "Bein hebt sich (etwas )?weniger"),
        "knee_give": ("Knie (etwas )?mehr nach", "Knie (etwas )?weniger nach"),
        "knee_straight": ("Knie (etwas )?weniger gerade", "Knie (etwas )?mehr gerade"),
        "push_off": ("bewegt sich der Fuß (etwas )?mehr", "bewegt sich der Fuß (etwas )?weniger"),
        "speed": ("(gehen|geht) (etwas )?schneller", "(gehen|geht) (etwas )?langsamer"),
    },
}
QUESTIONS = {
    "heel": "how_the_foot_meets_the_floor",
    "landing": "how_the_foot_meets_the_floor",
    "landing_ankle": "how_the_foot_meets_the_floor",
    "falling": "how_fast_it_comes_down",
    "lift": "how_it_is_lifted_in_swing",
    "toe": "how_the_toe_clears_the_floor",
    "thigh": "how_far_the_leg_must_lift",
    "knee_give": "whether_the_knee_holds",
    "knee_straight": "whether_the_knee_holds",
    "push_off": "whether_the_ankle_keeps_its_freedom",
    "speed": "how_the_person_walks",
}
NAMES = {
    "en": {
        "how_the_foot_meets_the_floor": "foot lands|held as it lands",
        "how_fast_it_comes_down": "how fast the foot",
        "how_it_is_lifted_in_swing": "foot is lifted",
        "how_the_toe_clears_the_floor": "toes pass",
        "how_far_the_leg_must_lift": "leg is lifted",
        "whether_the_knee_holds": "knee",
        "whether_the_ankle_keeps_its_freedom": "push off",
        "how_the_person_walks": "how fast (you|they|your child)",
    },
    "de": {
        "how_the_foot_meets_the_floor": "fuß aufkommt|beim aufkommen",
        "how_fast_it_comes_down": "wie schnell der fuß",
        "how_it_is_lifted_in_swing": "fuß in der luft",
        "how_the_toe_clears_the_floor": "zehen",
        "how_far_the_leg_must_lift": "das bein hebt",
        "whether_the_knee_holds": "knie",
        "whether_the_ankle_keeps_its_freedom": "abstoßen",
        "how_the_person_walks": "wie schnell (sie|ihr kind|die person)",
    },
}
LEGS = {
    "en": {"left": r"\bleft\b", "right": r"\bright\b"},
    "de": {"left": r"\blinks\b", "right": r"\brechts\b"},
}
BOTH = {"en": "both legs|your child’s legs|your legs", "de": "beide Beine"}
DOWN = {"en": r"\bdown\b", "de": "nach unten"}
UNSURE = {"en": "too little for us to be sure", "de": "zu wenig, um sicher zu sein"}
TALK = {"en": "something to talk about", "de": "ein Punkt zum Besprechen"}
SIGNED = ("landing", "landing_ankle", "lift")
VERDICTS = {
    "too_little": (CHANGE_IN_THESE_WALKS,),
    "no_change": (NO_CHANGE,),
    "not_shown": (NOT_SHOWN, NO_ERROR_FIGURE),
}


def disagreements(page, answer):
    """Return in words what a page says otherwise than the answer; empty when they agree."""
    reader = Reader(page, answer)
    reader.read()
    return reader.found


class Reader:
    """Reads a page once; what differs stands in ``found``."""

    def __init__(self, page, answer):
        self.page, self.answer, self.code = page, answer, page.language
        self.found, self.told = [], []
        self.findings = {(e.question, e.side): e for e in (*answer.findings, *answer.other_leg)}

    def differs(self, is_wrong, *words):
        if is_wrong:
            self.found.append(" ".join(map(str, words)))

    def read(self):
        self.differs(self.legs_in(self.page.where) != set(self.answer.legs), "leg", self.page.where)
        for point in self.page.points:
            self.read_point(point.heading, list(point.lines), self.legs_in(point.leg))
        for each in self.page.lists:
            if each.name == "also":
                for heading, text in each.items:
                    legs = self.legs_in("".join(re.findall(r"\((.*)\)\.$", heading)))
                    lines = re.split(r"(?<=\.) (?=[A-Z])", text)
                    self.read_point(re.sub(r"( \(.*\))?\.$", "", heading), lines, legs)
            elif each.name in (*VERDICTS, "untold"):
                for name, why in each.items:
                    self.read_name(each.name, name, why)
        self.read_order()
        asked = {(each.question, each.side) for each in self.answer.findings}
        asked |= {(e.question, e.side) for e in self.answer.other_leg if e.kind != "none"}
        self.differs(asked - set(self.told), "not told:", asked - set(self.told))
        self.differs(len(self.page.points) > 3, "more than three points")

    def legs_in(self, text):
        if re.search(BOTH[self.code], text):
            return {"left", "right"}
        return {side for side, words in LEGS[self.code].items() if re.search(words, text)}

    def topics_of(self, heading):
        both = HEADINGS[self.code].items()
        ways = [(t, w) for t, pair in both for w in (0, 1) if re.search(pair[w], heading)]
        return [each for each in ways if each[0] != "landing" or "landing_ankle" not in dict(ways)]

    def read_point(self, heading, lines, legs):
        exact = self.topics_of(heading)
        self.differs(len(exact) != 1, "heading", heading, exact)
        if len(exact) != 1:
            return
        topic, is_up = exact[0][0], exact[0][1] == 0
        text = " ".join(lines)
        for side in legs or self.answer.legs[: 1 if topic == "speed" else None]:
            finding = self.findings.get((QUESTIONS[topic], side))
            self.differs(finding is None, "no such question:", topic, side)
            if finding is None:
                continue
            self.told.append((finding.question, side))
            row = self.row_of(topic, finding)
            change = finding.heel_share_change if topic == "heel" else row.difference
            self.differs(change * (1 if is_up else -1) <= 0, "direction of", heading, side)
            is_sure = topic == "heel" and finding.has_heel_changed or row.verdict == LARGER
            self.differs(is_sure == (UNSURE[self.code] in text), "certainty of", heading, side)
            signs = {(each.sign, each.side) for each in self.answer.new_signs}
            is_talk = is_sure and (
                finding.kind == "loss"
                or topic == "knee_give"
                and is_up
                and ("knee_flexion_in_loading", side) in signs
                or topic == "push_off"
                and not is_up
                and ("lost_push_off_range", side) in signs
                or topic == "knee_straight"
                and not is_up
                and ("knee_hyperextension_in_stance", side) in signs
            )
            self.differs(is_talk != (TALK[self.code] in text), "talk about", heading, side)
            for way in (WITHOUT, WITH):
                self.read_values(topic, finding, row, way, lines, is_of_two=len(legs) > 1)

    def row_of(self, topic, finding):
        of_knee = {"knee_give": "knee_yield_in_loading_deg"}
        of_knee["knee_straight"] = "stance_knee_flexion_minimum_deg"
        rows = [row for row in finding.rows if of_knee.get(topic, row.measure) == row.measure]
        changed = [row for row in rows if row.verdict == LARGER]
        return (changed or rows)[0]

    def read_values(self, topic, finding, row, way, lines, *, is_of_two):
        said = [line for line in lines if re.search(HOWS[self.code][way], line.lower())]
        if is_of_two and len(said) > 1:
            said = [line for line in said if self.legs_in(line) == {finding.side}]
        self.differs(len(said) != 1, "not one line", HOWS[self.code][way], topic, said)
        line = said[0] if said else ""
        if is_of_two and self.legs_in(line) == {"left", "right"}:
            halves = re.split(r", (?=right\b|rechts\b)", line)
            line = halves[finding.side == "right"]
        numbers = [as_number(each) for each in re.findall(r"\d*½|\d+(?:[.,]\d+)?", line)]
        if topic == "heel":
            self.read_heel(finding, way, line, numbers)
            return
        value = row.value if way == WITH else row.reference_value
        about = "value of", topic, finding.side, HOWS[self.code][way], line, value
        self.differs(not is_told(topic, value, numbers, line), *about)
        if topic in SIGNED and abs(value) > 0.5:
            self.differs(
                (value < 0) != bool(re.search(DOWN[self.code], line)), "up or down", *about
            )

    def read_heel(self, finding, way, line, numbers):
        counts = finding.heel.counts.own if way == WITH else finding.heel.counts.reference
        is_heel = re.search("heel lands first|heel first|Ferse", line) is not None
        n_heel = numbers[0] if is_heel else numbers[1] - numbers[0]
        right = n_heel == counts.n_kind if is_heel else n_heel >= counts.n_kind
        self.differs(not right or numbers[1] != counts.n_steps, "heel counts", line, counts)

    def read_name(self, kind, name, why):
        low = name.lower()
        found = [q for q, words in NAMES[self.code].items() if re.search(words, low)]
        if re.search("heel lands|ferse", low):
            self.differs(self.answer.findings[0].heel is not None, "heel contact is known")
            return
        self.differs(len(found) != 1, "name", name, found)
        legs = self.legs_in(low) or set(self.answer.legs)
        for side in legs:
            finding = self.findings.get((found[0], side))
            if finding is None or finding.is_of_both_legs and side != finding.side:
                continue
            self.told.append((found[0], side))
            if kind == "untold":
                self.differs(finding not in self.answer.untold or not why, "untold", name)
            else:
                self.differs(finding.verdict not in VERDICTS[kind], kind, name, finding.verdict)

    def read_order(self):
        """Hold the order: aims, success first and talk last; without success the loss first."""
        aims = {each.question for each in self.answer.findings if each.is_aim}
        has_gain = any(each.kind == "gain" for each in self.answer.findings)
        places = []
        for point in self.page.points:
            text = " ".join(point.lines)
            topic = self.topics_of(point.heading)[0][0]
            is_talk = (TALK[self.code] in text) == has_gain
            places.append((QUESTIONS[topic] not in aims, is_talk, UNSURE[self.code] in text))
        self.differs(places != sorted(places), "order", places)


def as_number(text):
    """Return a number as a page writes it: 2½, 0,46."""
    if text.endswith("½"):
        return float(text[:-1] or 0) + 0.5
    return float(text.replace(",", "."))


def is_told(topic, value, numbers, line):
    """Tell whether the first number of a line is a value as the page rounds it."""
    factor = {"toe": 0.1, "falling": 0.05}.get(topic, 1.0)
    step = {"toe": 0.26, "speed": 0.0051}.get(topic, 0.51)
    if topic == "toe" and value < 2.5:
        return bool(re.search("as low as the floor|so tief wie|at the floor|am Boden", line))
    told = numbers[0] if numbers else 0.0
    return abs(told - abs(value) * factor) <= step
