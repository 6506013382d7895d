"""What `check_workings.py` must accept and must refuse: workings written by hand, sound and spoiled.

Run from anywhere: python3 tests/check_workings_test.py
"""

import unittest
from copy import deepcopy
from datetime import date

from workings import samples
from workings.rules import in_range, number_of
from workings.sums import Disagreement, DueDay, Span, add_up, in_hours, seconds, tenths_down, tenths_up
from workings.verdict import redo

# Due at 1040, done at 1043.2, every 100: next due 1140 (14 CFR 91.409(b)). Due through 31 Jan 2025, 12
# calendar months. On 25 Nov 2026 that is 663 days ago; 1140 - 1130.5 = 9.5 h are left.
SOUND = {
    "engine": "one",
    "item": "hundred-hour",
    "status": "overdue",
    "due": {"hours": "1140.0", "on": "2025-01-31"},
    "latest": {"hours": "1150.0", "on": "2025-02-28"},
    "hours_left": "9.5",
    "governs": "calendar",
    "overdue_by": {"hours": "0.0", "days": 663},
    "working": [
        "As of 2026-11-25.",
        "Hours now: 1000.0 [stated, record a] + (430.5 - 300.0) [meter of aircraft b] = 1130.5 h, read 2026-11-20.",
        "Rule: 14 CFR 91.409, required inspection.",
        "After work: counts on from due if it was late, from done if not; a renewal or overhaul always from done.",
        "Past due: tolerance of 10.0 h or 1 month, the strictest on each side.",
        "Limit: every 100.0 h or every 12 months, to the end of the month, whichever comes first.",
        "Hours count from new: 0.0 h.",
        "First due: 0.0 h + 100.0 h = 100.0 h.",
        "Done 2023-06-01 at 940.0 h (overhauled, record c), due 100.0 h: the count starts afresh from when it was "
        "done. Next due: 940.0 h + 100.0 h = 1040.0 h.",
        "Done 2024-01-15 at 1043.2 h (inspected, record d), due 1040.0 h: late, so it counts from when it was due. "
        "Next due: 1040.0 h + 100.0 h = 1140.0 h.",
        "Latest: 1140.0 h + 10.0 h = 1150.0 h (tolerance).",
        "Done 2024-01-15 (inspected, record d): the count starts afresh from when it was done. "
        "Next due: 2024-01-15 + 12 months, to the end of the month = 2025-01-31.",
        "Latest: 2024-01-15 + 13 months, to the end of the month = 2025-02-28 (tolerance).",
        "Hours left: 1140.0 h - 1130.5 h = 9.5 h.",
        "Days left: 2025-01-31 - 2026-11-25 = -663 days.",
        "By hours: coming due, because 9.5 h left is not more than the notice of 10.0 h.",
        "By calendar: overdue, because 2026-11-25 is past 2025-02-28.",
        "Left of each interval: 9.5 of 100.0 h, -663 of 382 days.",
        "Governs: calendar.",
        "Status: overdue.",
    ],
}

# Each is one thing gone wrong: what stands in a sound working, and what stands there instead.
SPOILED = {
    "a sum": ("= 1140.0 h.", "= 1141.0 h."),
    "hours now": ("(430.5 - 300.0)", "(430.6 - 300.0)"),
    "a piece without its source": (" [meter of aircraft b]", ""),
    "a reason that is not so": ("late, so it counts from when it was due", "not late, so it counts from when it was done"),
    "what was due": ("due 1040.0 h: late", "due 1043.0 h: late"),
    "the end of the month": ("to the end of the month = 2025-01-31", "to the end of the month = 2025-01-15"),
    "an anchor": ("2024-01-15 + 12 months", "2024-01-16 + 12 months"),
    "the tolerance": ("1140.0 h + 10.0 h = 1150.0 h", "1140.0 h + 11.0 h = 1151.0 h"),
    "days left": ("= -663 days", "= -662 days"),
    "a comparison": ("2026-11-25 is past 2025-02-28", "2026-11-25 is past 2025-01-31"),
    "the status of a leg": ("By hours: coming due", "By hours: not due on record"),
    "what governs": ("Governs: calendar", "Governs: both"),
    "the status": ("Status: overdue", "Status: unknown"),
    "a class without tolerance": ("91.409, required inspection", "91.409, directive"),
    "an unknown sentence": ("As of 2026-11-25.", "As of 2026-11-25, weather fine."),
}


class Sums(unittest.TestCase):
    def test_hours_are_whole_seconds(self):
        self.assertEqual([seconds(text) for text in ("1043.2", "1043:12", "1043:12:05", "-0:01")], [3755520, 3755520, 3755525, -60])
        self.assertEqual([in_hours(size) for size in (3755520, 3755580, 3755585, -60)], ["1043.2", "1043:13", "1043:13:05", "-0:01"])
        self.assertEqual((tenths_down(60), tenths_up(60), tenths_down(-60)), ("0.0", "0.1", "-0.1"))

    def test_pieces_are_added_and_taken_off(self):
        self.assertEqual(add_up("10.0 [a] + (5:30 - 2.5) [b] - 1.0 [c]"), seconds("12.0"))

    def test_the_calendar_clips_to_a_shorter_month_and_keeps_its_anchor(self):
        # 31 Aug 2024 + 6 months = 28 Feb 2025, and one month more is 31 Mar 2025, not 28 Mar.
        half_year = DueDay(date(2024, 8, 31), Span(months=6), to_month_end=False)
        self.assertEqual(half_year.day(), date(2025, 2, 28))
        self.assertEqual(half_year.plus(Span(months=1)).day(), date(2025, 3, 31))


class Workings(unittest.TestCase):
    def test_a_sound_working_agrees(self):
        redo(SOUND)

    def test_one_wrong_word_or_figure_anywhere_is_found(self):
        for what, (right, wrong) in SPOILED.items():
            line = deepcopy(SOUND)
            line["working"] = [text.replace(right, wrong) for text in line["working"]]
            self.assertNotEqual(line, SOUND, what)
            with self.subTest(what), self.assertRaises(Disagreement):
                redo(line)

    def test_no_sentence_can_be_left_out(self):
        for number, text in enumerate(SOUND["working"]):
            line = deepcopy(SOUND)
            del line["working"][number]
            with self.subTest(text), self.assertRaises(Disagreement):
                redo(line)

    def test_every_printed_figure_is_compared(self):
        for key, wrong in {
            "status": "coming-due",
            "due": {"hours": "1140.1", "on": "2025-01-31"},
            "latest": {"hours": "1150.0", "on": "2025-03-01"},
            "hours_left": "9.6",
            "governs": "hours",
            "overdue_by": {"hours": "0.0", "days": 662},
            "last_overrun": {"hours": "3.3", "days": 0},
            "last_overrun_beyond_tolerance": True,
        }.items():
            with self.subTest(key), self.assertRaises(Disagreement):
                redo(SOUND | {key: wrong})
        redo(SOUND | {"last_overrun": {"hours": "3.2", "days": 0}, "last_overrun_beyond_tolerance": False})


class Samples(unittest.TestCase):
    def test_each_sound_sample_agrees(self):
        for name, line in samples.SOUND.items():
            with self.subTest(name):
                redo(line)

    def test_each_spoiled_sample_is_found(self):
        for name, pairs in samples.SPOILED.items():
            for right, wrong in pairs:
                line = deepcopy(samples.SOUND[name])
                line["working"] = [text.replace(right, wrong) for text in line["working"]]
                with self.subTest(f"{name}: {wrong}"):
                    self.assertNotEqual(line, samples.SOUND[name])
                    self.assertRaises(Disagreement, redo, line)

    def test_no_sentence_of_a_sample_can_be_left_out(self):
        for name, sound in samples.SOUND.items():
            for number, text in enumerate(sound["working"]):
                if text.startswith(samples.MORE_THAN_NEEDED):
                    continue
                line = deepcopy(sound)
                del line["working"][number]
                with self.subTest(f"{name}: {text}"), self.assertRaises(Disagreement):
                    redo(line)


class SerialRanges(unittest.TestCase):
    """Ranges as people write them, by hand; a serial number may hold a hyphen of its own."""

    def test_which_serials_are_in_a_range(self):
        for serial, text, inside in [
            ("2107", "2000-2349", True),
            ("2350", "2000-2349", False),
            ("CR-2107", "CR-2000-CR-2349", True),
            ("cr 2107", "CR-2000-CR-2349", True),
            ("CX-2107", "CR-2000-CR-2349", False),
            ("K99", "K99-K100", True),
            ("K101", "K99-K100", False),
        ]:
            self.assertEqual(in_range(number_of(serial), text), inside, (serial, text))

    def test_what_is_no_range_is_refused(self):
        for text in ["2000", "K100-L200", "CR-2000", "-"]:
            with self.assertRaises(Disagreement, msg=text):
                in_range(("", 1), text)


if __name__ == "__main__":
    unittest.main()
