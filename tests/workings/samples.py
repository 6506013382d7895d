"""Workings written by hand, one for each kind of line, and for each what a wrong one would say instead.

`SOUND` has the figures printed beside the working; `SPOILED` has pairs: what stands in the sound working, and
what stands there in a wrong one.
"""


def line(status, governs, due, latest, hours_left, overdue_by, working):
    """A due line as the API prints it, no more than the checker asks for."""
    return {
        "engine": "one",
        "item": "sample",
        "status": status,
        "governs": governs,
        "due": {"hours": due[0], "on": due[1]},
        "latest": {"hours": latest[0], "on": latest[1]},
        "hours_left": hours_left,
        "overdue_by": {"hours": overdue_by[0], "days": overdue_by[1]},
        "working": working,
    }


RULE = [
    "Rule: common practice, required inspection.",
    "After work: always counts from done.",
    "Past due: overdue at once.",
]
ON_TIME = ("0.0", 0)

# Overhauled at 412.0: steps at 414.0, 422.0, 437.0 and 462.0. The 10-hour step was done at 426.0, 14 h after,
# the 25-hour step at 438.0: next 462.0, and 462.0 - 445.4 = 16.6 h are left of the 50.
STEPS = line(
    "not-due", "hours", ("462.0", None), ("462.0", None), "16.6", ON_TIME,
    [
        "As of 2022-08-01.",
        "Hours now: 412.0 [stated, record a] + (1033.4 - 1000.0) [meter of aircraft b] = 445.4 h, read 2022-07-20.",
        *RULE,
        "Limit: once at 2.0 h, 10.0 h, 25.0 h, 50.0 h.",
        "Hours count from the last full overhaul: 412.0 h.",
        "First step: 412.0 h + 2.0 h = 414.0 h.",
        "Done 2022-05-20 at 413.0 h (adjusted, record c), due 414.0 h: closes the next step, a little early. "
        "Next step: 412.0 h + 10.0 h = 422.0 h.",
        "Done 2022-06-10 at 426.0 h (adjusted, record d), due 422.0 h: closes every step it has reached. "
        "Next step: 412.0 h + 25.0 h = 437.0 h.",
        "Done 2022-07-10 at 438.0 h (adjusted, record e), due 437.0 h: closes every step it has reached. "
        "Next step: 412.0 h + 50.0 h = 462.0 h.",
        "Hours left: 462.0 h - 445.4 h = 16.6 h.",
        "By hours: not due on record, because 16.6 h left is more than the notice of 10.0 h.",
        "Governs: hours.",
        "Status: not due on record.",
    ],
)

# In force from 2026-05-01, at 88.0 h then: within 10 h or 30 days, then every 25 h. Done at 97.0: next 122.0.
FIRST = line(
    "not-due", "hours", ("122.0", None), ("122.0", None), "25.0", ON_TIME,
    [
        "As of 2026-05-21.",
        "Hours now: 97.0 [stated, record a] = 97.0 h, read 2026-05-20.",
        "Rule: bulletin of the maker, directive.",
        "After work: always counts from done.",
        "Past due: overdue at once.",
        "Applies to serial numbers 2000-2349 or K100-K299: crankshaft `2107` is in 2000-2349.",
        "Applies to lots `A17` or `B2`: crankshaft of lot `B2`.",
        "Applies to use `hire` or `school`: on record `private` and `school`.",
        "Limit: within 10.0 h or within 30 days, whichever comes first; then every 25.0 h.",
        "Hours count from when the directive took effect: 88.0 h.",
        "First due: 88.0 h + 10.0 h = 98.0 h.",
        "Done 2026-05-20 at 97.0 h (inspected, record c), due 98.0 h: this rule counts from when it was done. "
        "Next due: 97.0 h + 25.0 h = 122.0 h.",
        "Calendar counts from when the directive took effect: 2026-05-01.",
        "First due: 2026-05-01 + 30 days = 2026-05-31.",
        "Done 2026-05-20 (inspected, record c): the first interval is over, and nothing repeats by calendar.",
        "Hours left: 122.0 h - 97.0 h = 25.0 h.",
        "By hours: not due on record, because 25.0 h left is more than the notice of 10.0 h.",
        "Governs: hours.",
        "Status: not due on record.",
    ],
)

# On record since 2020-01-01 with 500.0 h, never done since: due no later than 600.0 h, with its tolerance
# 610.0 h, and 612.0 h is past that; by the calendar no later than 2022-01-01, not past on 2021-10-01.
BOUND = line(
    "overdue", "hours", (None, None), (None, None), None, ON_TIME,
    [
        "As of 2021-10-01.",
        "Hours now: 500.0 [stated, record a] + (112.0 - 0.0) [meter of aircraft b] = 612.0 h, read 2021-09-20.",
        "Rule: common practice, required inspection.",
        "After work: always counts from done.",
        "Past due: tolerance of 10.0 h.",
        "Limit: every 100.0 h or every 24 months, whichever comes first.",
        "Not known by hours: no record that it was ever done.",
        "No later than: 500.0 h + 100.0 h = 600.0 h, because the records begin at 500.0 h and it was not done since.",
        "Latest: 600.0 h + 10.0 h = 610.0 h (tolerance).",
        "Not known by calendar: no record that it was ever done.",
        "No later than: 2020-01-01 + 24 months = 2022-01-01, because the records begin 2020-01-01 and it was not done since.",
        "By hours: overdue, because it was due no later than 600.0 h, and 612.0 h is past 610.0 h.",
        "By calendar: unknown, because no record that it was ever done.",
        "Governs: hours.",
        "Status: overdue.",
    ],
)

# Struck at 31.4 h, done before that and not since; 33.0 - 31.4 = 1.6 h run.
EVENT = line(
    "overdue", "none", (None, None), (None, None), None, ON_TIME,
    [
        "As of 2026-05-11.",
        "Hours now: 0.0 [stated, record a] + (33.0 - 0.0) [meter of aircraft b] = 33.0 h, read 2026-05-10.",
        "Rule: common practice, required inspection.",
        "Due at once after: propeller strike, sudden stoppage.",
        "Happened 2026-05-03 at 31.4 h: propeller strike (record c).",
        "Last done 2026-05-01 (inspected, record d), before it happened.",
        "Hours since: 33.0 h - 31.4 h = 1.6 h.",
        "Status: overdue.",
    ],
)

# Nobody wrote the crankshaft's number down, so nobody can tell.
OPEN = line(
    "unknown", "none", (None, None), (None, None), None, ON_TIME,
    [
        "As of 2026-05-11.",
        "Hours now: not known.",
        *RULE,
        "Applies to serial numbers 2000-2349: not known, no serial number of the crankshaft on record.",
        "Not known by hours: the records do not say whether this applies.",
        "By hours: unknown, because the records do not say whether this applies.",
        "Status: unknown.",
    ],
)

# Due through 2026-04-15, two months of tolerance, permitted on 2026-03-01 until 2026-05-30.
PERMITTED = line(
    "overdue", "calendar", (None, "2026-04-15"), (None, "2026-06-15"), None, ("0.0", 47),
    [
        "As of 2026-06-01.",
        "Hours now: 50.0 [stated, record a] = 50.0 h, read 2025-05-01.",
        "Rule: common practice, required inspection.",
        "After work: always counts from done.",
        "Past due: tolerance of 2 months; it needs a permission recorded before due, else overdue at once.",
        "Limit: every 12 months.",
        "Calendar counts from new: 2025-04-15.",
        "First due: 2025-04-15 + 12 months = 2026-04-15.",
        "Latest: 2025-04-15 + 14 months = 2026-06-15 (tolerance).",
        "Permission by calendar: record b, given 2026-03-01, not after due 2026-04-15, until 2026-05-30.",
        "Days left: 2026-04-15 - 2026-06-01 = -47 days.",
        "By calendar: overdue, because 2026-06-01 is past 2026-04-15, and the permission ended 2026-05-30.",
        "Governs: calendar.",
        "Status: overdue.",
    ],
)

# Preserved until 2026-06-30: on 2026-06-10 twenty days are left.
PRESERVED = line(
    "coming-due", "calendar", (None, "2026-06-30"), (None, "2026-06-30"), None, ON_TIME,
    [
        "As of 2026-06-10.",
        "Preserved 2026-01-10 (record a), good until 2026-06-30; not back in use since.",
        "Days left: 2026-06-30 - 2026-06-10 = 20 days.",
        "By calendar: coming due, because 20 days left is not more than the notice of 30 days.",
        "Governs: calendar.",
        "Status: coming due.",
    ],
)

# Found at 100.0 h on 2026-06-01, to be looked at within 10 h or by 2026-09-30: 110.0 - 103.5 = 6.5 h are left of
# 10, and 51 days of 121 on 2026-08-10. 6.5 of 10 is more than 51 of 121.
RECHECK = line(
    "coming-due", "hours", ("110.0", "2026-09-30"), ("110.0", "2026-09-30"), "6.5", ON_TIME,
    [
        "As of 2026-08-10.",
        "crankcase: look again (record a, found at the inspection released 2026-06-01); no later work there answers it.",
        "Hours now: 90.0 [stated, record b] + (13.5 - 0.0) [meter of aircraft c] = 103.5 h, read 2026-08-01.",
        "Look again within 10.0 h or by 2026-09-30, whichever comes first.",
        "Found at 100.0 h: 100.0 h + 10.0 h = 110.0 h.",
        "Hours left: 110.0 h - 103.5 h = 6.5 h.",
        "Days left: 2026-09-30 - 2026-08-10 = 51 days.",
        "By hours: coming due, because 6.5 h left is not more than the notice of 10.0 h.",
        "By calendar: not due on record, because 51 days left is more than the notice of 30 days.",
        "Left of each interval: 6.5 of 10.0 h, 51 of 121 days.",
        "Governs: hours.",
        "Status: coming due.",
    ],
)

# 25 h are left of 100, more than the notice of 10; but they may be used up by 2026-09-01, 22 days from 2026-08-10.
PLANNED = line(
    "coming-due", "hours", ("200.0", None), ("200.0", None), "25.0", ON_TIME,
    [
        "As of 2026-08-10.",
        "Hours now: 100.0 [stated, record a] + (75.0 - 0.0) [meter of aircraft b] = 175.0 h, read 2026-08-01.",
        *RULE,
        "Limit: every 100.0 h.",
        "Hours count from the last full overhaul: 100.0 h.",
        "First due: 100.0 h + 100.0 h = 200.0 h.",
        "Hours left: 200.0 h - 175.0 h = 25.0 h.",
        "By hours: not due on record, because 25.0 h left is more than the notice of 10.0 h.",
        "Governs: hours.",
        "By forecast: coming due, because one time in ten the hours are used up by 2026-09-01, and 2026-09-01 - "
        "2026-08-10 = 22 days is not more than 30 days.",
        "Status: coming due.",
    ],
)

# A life of 300 h or 60 months from 2020-01-01, and 20 % more: 360 h, 2026-01-01. Looked at at 280 h, too soon, and at
# 362 h: next at 462 h or 2022-07-01. On 2021-08-01 at 400 h, 62 h of 100 and 334 days of 365 are left.
ON_CONDITION = line(
    "not-due", "hours", ("462.0", "2022-07-01"), ("462.0", "2022-07-01"), "62.0", ON_TIME,
    [
        "As of 2021-08-01.",
        "Hours now: (400.0 - 0.0) [meter of aircraft a] = 400.0 h, read 2021-07-20.",
        "Rule: common practice, recommended.",
        "After work: always counts from done.",
        "Past due: extension of 20 % of the interval from its start, months and days rounded down, then on condition.",
        "Limit: every 300.0 h or every 60 months, whichever comes first.",
        "Hours count from new: 0.0 h.",
        "First due: 0.0 h + 300.0 h = 300.0 h.",
        "Latest: 300.0 h + 60.0 h = 360.0 h (extension of 20 %).",
        "Calendar counts from new: 2020-01-01.",
        "First due: 2020-01-01 + 60 months = 2025-01-01.",
        "Latest: 2020-01-01 + 72 months = 2026-01-01 (extension of 20 %).",
        "On condition when the extension ends: inspected by then, and again every 100.0 h or every 12 months, "
        "whichever comes first; always counted from done, overdue at once.",
        "Inspected 2021-05-01 at 280.0 h (record b): the life had not run out on record, so it does not count.",
        "Inspected 2021-07-01 at 362.0 h (record c): the life had run out, so it counts.",
        "Done 2021-07-01 at 362.0 h (inspected, record c), due 360.0 h: this rule counts from when it was done. "
        "Next due: 362.0 h + 100.0 h = 462.0 h.",
        "Done 2021-07-01 (inspected, record c), due 2026-01-01: this rule counts from when it was done. "
        "Next due: 2021-07-01 + 12 months = 2022-07-01.",
        "Hours left: 462.0 h - 400.0 h = 62.0 h.",
        "Days left: 2022-07-01 - 2021-08-01 = 334 days.",
        "By hours: not due on record, because 62.0 h left is more than the notice of 10.0 h.",
        "By calendar: not due on record, because 334 days left is more than the notice of 30 days.",
        "Left of each interval: 62.0 of 100.0 h, 334 of 365 days.",
        "Governs: hours.",
        "Status: not due on record.",
    ],
)

# Months and days are legs of their own: from 2026-01-31, one month is 2026-02-28, and 45 days 2026-03-17.
TWO_CALENDARS = line(
    "coming-due", "calendar", (None, "2026-02-28"), (None, "2026-02-28"), None, ON_TIME,
    [
        "As of 2026-02-10.",
        "Hours now: not known.",
        *RULE,
        "Limit: every 1 month or every 45 days, whichever comes first.",
        "By itself: 1 month.",
        "Calendar counts from new: 2026-01-31.",
        "First due: 2026-01-31 + 1 month = 2026-02-28.",
        "By itself: 45 days.",
        "Calendar counts from new: 2026-01-31.",
        "First due: 2026-01-31 + 45 days = 2026-03-17.",
        "Days left: 2026-02-28 - 2026-02-10 = 18 days.",
        "Days left: 2026-03-17 - 2026-02-10 = 35 days.",
        "By calendar: coming due, because 18 days left is not more than the notice of 30 days.",
        "By calendar: not due on record, because 35 days left is more than the notice of 30 days.",
        "Left of each interval: 18 of 28 days, 35 of 45 days.",
        "Governs: calendar.",
        "Status: coming due.",
    ],
)

# Sentences that a line comes out the same without: why it applies, a bound that is not past yet, an inspection
# that does not count.
MORE_THAN_NEEDED = ("Applies to serial numbers 2000-2349 or", "Applies to lots", "Applies to use", "No later than: 2020", "Inspected 2021-05")

# New, every 400 h. A bore of at most 67.62 mm, measured at 60, 110 and 160 h: by least squares with Student's 6.3138
# and half of 0.005 mm for the scatter, not before 319.7897 h; 319.7 - 170.0 = 149.7 h are left of the 159.7.
WORN = line(
    "not-due", "hours", ("319.7", None), ("319.7", None), "149.7", ON_TIME,
    [
        "As of 2026-05-21.",
        "Hours now: 170.0 [stated, record a] = 170.0 h, read 2026-05-20.",
        *RULE,
        "Limit: every 400.0 h.",
        "Hours count from new: 0.0 h.",
        "First due: 0.0 h + 400.0 h = 400.0 h.",
        "Readings, trend of Bore (at most 67.62 mm): 67.51 mm at 40.0 h, 67.52 mm at 60.0 h, 67.531 mm at 110.0 h, "
        "67.54 mm at 160.0 h.",
        "Running-in until 50.0 h: 1 left out.",
        "Trend: by a line through 3 readings, uncertainty 0.005 each, the limit is not reached before that in 95 of "
        "100 cases. Due: 319.7 h.",
        "Hours left: 400.0 h - 170.0 h = 230.0 h.",
        "Hours left, trend of Bore: 319.7 h - 170.0 h = 149.7 h.",
        "By hours: not due on record, because 230.0 h left is more than the notice of 10.0 h.",
        "By hours, trend of Bore: not due on record, because 149.7 h left is more than the notice of 10.0 h.",
        "Left of each interval: 230.0 of 400.0 h, 149.7 of 159.7 h.",
        "Governs: hours.",
        "Status: not due on record.",
    ],
)

# A clearance of at most 0.2 mm, once measured at 862.8 h, 762.8 h after the part was new: of a fleet's lines the case
# `shrunk_0_n1` of vectors/19_limit_crossing_fleet_prior.json, 877.0187 h by SciPy, so 977.0 h on this count.
STEADIED = line(
    "not-due", "hours", ("977.0", None), ("977.0", None), "107.0", ON_TIME,
    [
        "As of 2026-05-21.",
        "Hours now: 870.0 [stated, record a] = 870.0 h, read 2026-05-20.",
        *RULE,
        "Limit: every 1500.0 h.",
        "Hours count from new: 0.0 h.",
        "First due: 0.0 h + 1500.0 h = 1500.0 h.",
        "Readings, trend of Clearance (at most 0.2 mm): 0.179 mm at 862.8 h; 4 before the part was changed.",
        "Fleet: 14 engines of the type, as worked out on 2026-05-18 (version 3), counted from 100.0 h, when the part was "
        "new: they begin at 0.095 mm, variance 0.0001, and change by 0.00009 mm an hour, variance 0.0000000006, "
        "covariance -0.00000001; readings scatter by 0.005 mm, known from 8 degrees of freedom.",
        "Trend: by a line through 1 reading, steadied by 14 engines, the limit is not reached before that in 95 of 100 "
        "cases. Due: 977.0 h.",
        "Hours left: 1500.0 h - 870.0 h = 630.0 h.",
        "Hours left, trend of Clearance: 977.0 h - 870.0 h = 107.0 h.",
        "By hours: not due on record, because 630.0 h left is more than the notice of 10.0 h.",
        "By hours, trend of Clearance: not due on record, because 107.0 h left is more than the notice of 10.0 h.",
        "Left of each interval: 630.0 of 1500.0 h, 107.0 of 114.2 h.",
        "Governs: hours.",
        "Status: not due on record.",
    ],
)

# No log: 700.0 h accepted by the day on which these records stood at 12.0 h, so new at -688.0 h, and the 600 h of the
# life were over at -88.0 h.
ESTIMATED = line(
    "overdue", "hours", (None, None), (None, None), None, ON_TIME,
    [
        "As of 2026-05-21.",
        "Hours now: 12.0 [stated, record a] = 12.0 h, read 2026-05-20.",
        *RULE,
        "Limit: every 600.0 h.",
        "Not known by hours: no record of when it was new.",
        "No later than: -688.0 h + 600.0 h = -88.0 h, because by the estimate of 700.0 h accepted 2026-05-20 at 12.0 h "
        "(record b) it was new at 12.0 h - 700.0 h = -688.0 h and it was not done since.",
        "By hours: overdue, because it was due no later than -88.0 h, and 12.0 h is past -88.0 h.",
        "Governs: hours.",
        "Status: overdue.",
    ],
)

SOUND = {
    "worn": WORN,
    "steadied": STEADIED,
    "estimated": ESTIMATED,
    "steps": STEPS,
    "first": FIRST,
    "bound": BOUND,
    "event": EVENT,
    "open": OPEN,
    "permitted": PERMITTED,
    "preserved": PRESERVED,
    "planned": PLANNED,
    "recheck": RECHECK,
    "two calendars": TWO_CALENDARS,
    "on condition": ON_CONDITION,
}

SPOILED = {
    "worn": [
        ("67.531 mm at 110.0 h", "67.529 mm at 110.0 h"),
        ("at most 67.62 mm", "at most 67.63 mm"),
        ("at most 67.62 mm", "at least 67.62 mm"),
        ("until 50.0 h: 1 left out", "until 70.0 h: 1 left out"),
        ("uncertainty 0.005 each", "uncertainty 0.006 each"),
        ("through 3 readings", "through 4 readings"),
        ("67.54 mm at 160.0 h", "67.62 mm at 160.0 h"),
    ],
    "steadied": [
        ("0.179 mm at 862.8 h", "0.178 mm at 862.8 h"),
        ("counted from 100.0 h", "counted from 90.0 h"),
        ("begin at 0.095 mm", "begin at 0.094 mm"),
        ("variance 0.0001,", "variance 0.0002,"),
        ("change by 0.00009 mm", "change by 0.0001 mm"),
        ("variance 0.0000000006", "variance 0.0000000007"),
        ("covariance -0.00000001", "covariance 0.00000001"),
        ("scatter by 0.005 mm", "scatter by 0.006 mm"),
        ("from 8 degrees", "from 5 degrees"),
        ("Fleet: 14 engines", "Fleet: 13 engines"),
        ("steadied by 14 engines", "uncertainty 0.005 each"),
    ],
    "estimated": [
        ("12.0 h - 700.0 h = -688.0 h", "12.0 h - 700.0 h = -678.0 h"),
        ("of 700.0 h accepted", "of 600.0 h accepted"),
        ("-688.0 h + 600.0 h = -88.0 h", "-688.0 h + 600.0 h = -68.0 h"),
    ],
    "steps": [
        ("412.0 h + 25.0 h = 437.0 h", "426.0 h + 25.0 h = 451.0 h"),
        ("closes the next step, a little early", "closes every step it has reached"),
        ("Next step: 412.0 h + 50.0 h = 462.0 h", "No step is left"),
        ("once at 2.0 h, 10.0 h, 25.0 h, 50.0 h", "once at 2.0 h, 25.0 h, 50.0 h"),
    ],
    "first": [
        ("within 10.0 h", "within 12.0 h"),
        ("`2107` is in 2000-2349", "`2350` is in 2000-2349"),
        ("`2107` is in 2000-2349", "`K150` is in 2000-2349"),
        ("is in 2000-2349", "is in 2100-2349"),
        ("of lot `B2`", "of lot `B3`"),
        ("on record `private` and `school`", "on record `private`"),
        ("then every 25.0 h", "then every 25.0 h or every 12 months, whichever comes first"),
    ],
    "bound": [
        ("500.0 h + 100.0 h = 600.0 h", "500.0 h + 90.0 h = 590.0 h"),
        ("600.0 h + 10.0 h = 610.0 h", "600.0 h + 15.0 h = 615.0 h"),
        ("By calendar: unknown, because no record that it was ever done", "By calendar: overdue, because it was due no later than 2022-01-01, and 2021-10-01 is past 2022-01-01"),
        ("records begin 2020-01-01", "records begin 2019-01-01"),
    ],
    "event": [
        ("33.0 h - 31.4 h = 1.6 h", "33.0 h - 31.4 h = 1.5 h"),
        ("Last done 2026-05-01", "Last done 2026-05-04"),
        ("after: propeller strike, sudden", "after: sudden"),
        ("Happened 2026-05-03", "Happened 2026-06-03"),
    ],
    "open": [
        ("not known, no serial number of the crankshaft on record", "crankshaft `2107` is in 2000-2349"),
        ("not known, no serial number of the crankshaft on record", "not known, crankshaft `2107` does not end in a number"),
        ("Status: unknown", "Status: not due on record"),
    ],
    "planned": [
        ("= 22 days", "= 23 days"),
        ("by 2026-09-01", "by 2026-09-02"),
        ("2026-09-01 - 2026-08-10 = 22 days", "2026-09-01 - 2026-08-09 = 23 days"),
        ("Status: coming due", "Status: not due on record"),
    ],
    "permitted": [
        ("given 2026-03-01", "given 2026-04-16"),
        ("the permission ended 2026-05-30", "the permission ended 2026-05-31"),
        (", until 2026-05-30", ""),
        ("record b, given 2026-03-01, not after due 2026-04-15, until 2026-05-30", "none on record that was given before due 2026-04-15"),
        ("else overdue at once", "else never mind"),
    ],
    "preserved": [("good until 2026-06-30", "good until 2026-07-30"), ("20 days", "21 days")],
    "recheck": [
        ("100.0 h + 10.0 h = 110.0 h", "100.0 h + 12.0 h = 112.0 h"),
        ("by 2026-09-30", "by 2026-09-29"),
        (", whichever comes first", ""),
    ],
    "on condition": [
        ("at 280.0 h (record b): the life had not run out on record, so it does not count", "at 280.0 h (record b): the life had run out, so it counts"),
        ("at 362.0 h (record c): the life had run out, so it counts", "at 362.0 h (record c): the life had not run out on record, so it does not count"),
        ("Inspected 2021-07-01 at 362.0 h", "Inspected 2021-07-01 at 363.0 h"),
        ("and again every 100.0 h", "and again every 110.0 h"),
        ("due 360.0 h: this rule", "due 300.0 h: this rule"),
        ("due 2026-01-01: this rule", "due 2025-01-01: this rule"),
        ("300.0 h + 60.0 h = 360.0 h", "300.0 h + 70.0 h = 370.0 h"),
        ("2021-07-01 + 12 months = 2022-07-01", "2026-01-01 + 12 months = 2027-01-01"),
        ("Past due: extension of 20 % of the interval from its start, months and days rounded down, then on condition", "Past due: overdue at once"),
    ],
    "two calendars": [("45 days = 2026-03-17", "45 days = 2026-03-16"), ("By itself: 1 month", "By itself: 2 months")],
}
