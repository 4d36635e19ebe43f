#!/usr/bin/env python3
"""Random scenarios at the edges of what a scenario may hold: same seed, same files.

    python3 make_corners.py SEED COUNT FOLDER

As make_scenarios.py, but with what clinics hardly write: nights of clock changes of every kind (at
midnight, of half an hour, of two hours), sittings at and over midnight, quiet hours of every length
and none, odd numbers in the plan (a minute, the same everywhere, longer than a day), people who say
everything twice, and answers that come hours and days late. The settings may be ones that are
refused; whoever compares leaves those out.
"""

import os
import random
import sys
from datetime import date, timedelta

sys.dont_write_bytecode = True
import reference  # noqa: E402
from make_scenarios import CARE, Gen  # noqa: E402

ZONES = {
    # At midnight: a day without a midnight, a day with two.
    "Asia/Beirut": [date(2026, 3, 29), date(2026, 10, 25)],
    "America/Havana": [date(2026, 3, 8), date(2026, 11, 1)],
    "Atlantic/Azores": [date(2026, 3, 29), date(2026, 10, 25)],
    "Africa/Cairo": [date(2026, 4, 24), date(2026, 10, 30)],
    "America/Santiago": [date(2026, 4, 5), date(2026, 9, 6)],
    # By half an hour, by two hours, at 2:45.
    "Australia/Lord_Howe": [date(2026, 4, 5), date(2026, 10, 4)],
    "Antarctica/Troll": [date(2026, 3, 29), date(2026, 10, 25)],
    "Pacific/Chatham": [date(2026, 4, 5), date(2026, 9, 27)],
    "Europe/London": [date(2026, 3, 29), date(2026, 10, 25)],
    "America/St_Johns": [date(2026, 3, 8), date(2026, 11, 1)],
}
QUIET = [
    ("21:00", "07:00"),
    ("23:59", "00:01"),
    ("00:00", "00:30"),
    ("02:00", "03:00"),
    ("01:30", "02:15"),
    ("12:00", "12:01"),
    ("23:00", "04:00"),
    ("00:30", "00:45"),
]


class Corner(Gen):
    def plan(self, kind, big=False):
        r = self.r
        p = super().plan(kind, big)
        odd = [1, 2, 3, 7, 13, 30, 59, 60, 61, 120, 121]
        for key in ("fade", "within", "tell", "recheck", "rest", "ralert", "pass"):
            if r.random() < 0.45:
                p[key] = r.choice(odd + [180, 1439, 1440, 1441, 2880])
        p["slow"] = r.choice([1, p["fade"], max(1, p["fade"] // 2)])
        if r.random() < 0.2:
            p["within"] = p["tell"] = p["recheck"] = p["ralert"] = p["pass"] = r.choice([7, 30, 60])
        p["again"] = r.choice([0, 0, 1, 2, 5, 9])
        p["suspend"] = r.choice([1, 1, 2, 4])
        p["watch"] = r.choice([None, (1, 1), (2, 2), (1, 9), (5, 9)])
        p["bring"] = r.choice(["00:00", "00:30", "01:00", "02:00", "02:30", "02:45", "23:59"])
        p["back"] = r.choice([0, 1, 2, 9])
        p["steps"] = [
            [
                r.choice([1, 2, 7, 15, 30, 30, 61, 90, 181]),
                r.choice([1, 1, 2, 3]),
                r.choice([1, 1, 2, 3]),
                None,
            ]
            for _ in range(r.choice([1, 2, 2, 3, 4, 6]))
        ]
        for step in p["steps"]:
            if r.random() < 0.4:
                step[3] = r.choice([x for x in (1, 2, 7, 15, 30, 60, step[0]) if x * 12 >= step[0]])
        self.quiet = r.choice(QUIET)
        return p

    def setting(self, kind):
        r = self.r
        super().setting(kind)
        self.zone = r.choice(list(ZONES))
        change = r.choice(ZONES[self.zone])
        self.days = r.choice([1, 2, 3, 3, 4, 6, 9])
        self.begins = change - timedelta(days=r.choice([0, 1, 1, 2, min(self.days, 5)]))
        if r.random() < 0.5:
            # Sittings and looks on the instants around the change.
            night = [0, 1, 15, 30, 59, 60, 61, 90, 119, 120, 121, 135, 150, 165, 180, 1410, 1439]
            need = max(step[1] for step in self.p["steps"])
            spread = sorted(r.sample(night, need))
            longest = max(step[0] for step in self.p["steps"])
            if all(b - a > longest for a, b in zip(spread, spread[1:])):
                self.sit_at = spread
            self.look_at = r.sample(night, r.choice([0, 1, 2]))
            if self.routine:
                self.routine = (r.sample(night, r.choice([1, 2, 3])), self.routine[1])
        if r.random() < 0.3:
            said = r.choice(["clear", "clear", "faded", "unclear", "marked"])
            self.habit = (said, r.choice([1, 2, 7, 30, 61]))

    def head(self):
        # What aims at a single rule reckons from these, and may leave what can be written.
        self.p["slow"] = min(max(self.p["slow"], 1), self.p["fade"])
        return super().head()

    def say(self, at, who, reading, **kw):
        if kw.get("minutes") is not None:
            kw["minutes"] = max(kw["minutes"], 0)
        super().say(at, who, reading, **kw)

    def doubled(self):
        """Things said twice, at once or soon after, in the same words or others; and days late."""
        r = self.r
        again = []
        for said in self.says:
            x = r.random()
            if x < 0.25:
                again.append(dict(said))
            elif x < 0.35 and said["reading"] in CARE:
                other = {key: said[key] for key in ("at", "who", "answers") if key in said}
                again.append({**other, "reading": r.choice(CARE)})
        follow_up = reference.FollowUp(self.parsed(), ".")
        late = []
        for said in again:
            if r.random() < 0.5:
                wait = r.choice([1, 2, 7, 60, 61, 180, 1440, 1441, 2880])
                at = follow_up.zone.local(follow_up.instant(said["at"]) + 60 * wait)
                said = {**said, "at": at.isoformat(timespec="minutes")}
            late.append(said)
        self.says += late
        keep = [(follow_up.instant(said["at"]), said) for said in self.says]
        keep = [x for x in keep if follow_up.t0 <= x[0] < follow_up.t_end]
        self.says = [said for _, said in sorted(keep, key=lambda x: x[0])]

    def parsed(self):
        import tomllib

        return tomllib.loads(self.text())


def main():
    seed, count, folder = int(sys.argv[1]), int(sys.argv[2]), sys.argv[3]
    os.makedirs(folder, exist_ok=True)
    for number in range(count):
        rng = random.Random(f"corner {seed}/{number}")
        corner = Corner(rng, f"corner seed {seed} number {number}")
        [corner.calm, corner.chaotic, corner.targeted][number % 3]()
        corner.finish()
        if rng.random() < 0.7:
            corner.doubled()
        with open(os.path.join(folder, f"s{seed}-{number:05d}.toml"), "w") as file:
            file.write(corner.text())


if __name__ == "__main__":
    main()
