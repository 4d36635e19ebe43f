#!/usr/bin/env python3
"""Random valid scenarios, to hold the core against the reference: same seed, same files.

    python3 make_scenarios.py SEED COUNT FOLDER

A scenario is run on the reference as it grows, so that replies fall on exactly the instants where
something happens (requests, waits, misses, midnights, sittings) and near them. There are three
families: calm weeks with a few surprises, chaotic ones, and ones aimed at a single rule. The zones
are ones whose clock changes of 2026 all current time-zone databases agree on.
"""

import os
import random
import sys
from datetime import date, datetime, timedelta

# The reference is read afresh each time and leaves nothing behind in the source folder.
sys.dont_write_bytecode = True
import reference  # noqa: E402

ZONES = {
    "Europe/Paris": [date(2026, 3, 29), date(2026, 10, 25)],
    "America/Denver": [date(2026, 3, 8), date(2026, 11, 1)],
    "Australia/Lord_Howe": [date(2026, 4, 5), date(2026, 10, 4)],
    "Africa/Cairo": [date(2026, 4, 24), date(2026, 10, 30)],
    "America/Santiago": [date(2026, 4, 5), date(2026, 9, 6)],
    "Asia/Kolkata": [date(2026, 5, 1)],
    "UTC": [date(2026, 6, 1)],
}
SITES = [
    "ischium-left",
    "ischium-right",
    "ischium",
    "buttock-left",
    "buttock",
    "sacrum",
    "coccyx",
    "trochanter-right",
    "trochanter",
    "perineum",
    "heel-left",
    "heel-right",
    "heel",
    "thigh",
    "thigh-left",
    "shoulder-blade",
    "shoulder-blade-left",
    "spine",
    "elsewhere",
    "foot",
    "foot-right",
    "knee-left",
    "elbow",
]
CARE = [
    "clear",
    "marked",
    "faded",
    "persisting",
    "alarming",
    "not-looked",
    "no-sitting",
    "started",
    "unclear",
]
CLIN = ["seen", "resume", "keep-stopped", "close"]


def dur(m):
    if m % 1440 == 0 and m:
        return f"{m // 1440}d"
    if m % 60 == 0 and m:
        return f"{m // 60}h"
    if m > 60:
        return f"{m // 60}h{m % 60}min"
    return f"{m}min"


def hm(m):
    m %= 1440
    return f"{m // 60:02d}:{m % 60:02d}"


class Gen:
    def __init__(self, rng, name):
        self.r = rng
        self.name = name

    def plan(self, kind, big=False):
        r = self.r
        p = {}
        p["fade"] = r.choice([20, 30, 30, 30, 40, 45])
        p["slow"] = r.choice([10, 15, 15, 20, p["fade"]])
        p["within"] = r.choice([5, 10, 15, 20, 20, 25, 30, 45])
        p["again"] = r.choice([0, 1, 1, 2, 2, 3])
        p["tell"] = r.choice([45, 60, 90, 120, 120, 120, 180, 240])
        p["recheck"] = r.choice([30, 60, 60, 60, 90, 120])
        p["suspend"] = r.choice([1, 2, 2, 2, 3])
        p["rest"] = r.choice([30, 60, 120, 120, 240, 720])
        p["watch"] = r.choice([None, (2, 3), (3, 5), (2, 5), (1, 1), (3, 4)])
        p["ralert"] = r.choice([10, 15, 20, 30, 30, 45, 60])
        p["pass"] = r.choice([30, 40, 60, 60, 90, 120])
        p["bring"] = r.choice(["08:00", "07:30", "09:00", "12:00", "00:00", "02:30", "23:00"])
        p["back"] = r.choice([1, 1, 2, 2, 3])
        n = r.randint(1, 5)
        steps = []
        sit = r.choice([10, 15, 15, 20, 30])
        for i in range(n):
            # equal `sit` now and then
            if i and r.random() < 0.75:
                sit += r.choice([5, 10, 15, 15, 30, 45])
            every = None
            if r.random() < 0.35 and sit >= 10:
                every = r.choice(
                    [x for x in (5, 10, 15, 20, 30, 60, sit) if x * 7 > sit and x <= sit]
                )
            steps.append([sit, r.choice([1, 1, 2, 2, 2, 3]), r.choice([1, 2, 2, 3, 4, 5]), every])
        p["steps"] = steps
        self.quiet = r.choice(
            [
                ("21:00", "07:00"),
                ("22:00", "06:30"),
                ("20:30", "08:00"),
                ("23:30", "05:00"),
                ("13:00", "14:00"),
                ("00:30", "05:30"),
                ("22:00", "02:30"),
            ]
        )
        return p

    def in_quiet(self, m):
        f, t = [int(x[:2]) * 60 + int(x[3:]) for x in self.quiet]
        m %= 1440
        return f <= m < t if f < t else (m >= f or m < t)

    def times(self, p):
        """sittings_at, look_at, routine look_at; None where no room was found."""
        r = self.r
        need = max(s[1] for s in p["steps"])
        longest = max(s[0] for s in p["steps"])
        grid = [m for m in range(0, 1440, 15)] + ([r.randrange(1440) for _ in range(20)])
        if r.random() < 0.3:
            grid = list(range(120, 1400, 30))
        want = need + (1 if r.random() < 0.3 else 0)
        for _ in range(60):
            got = []
            for _ in range(200):
                m = r.choice(grid)
                span = range(m, m + longest + 1)
                # All looks of every step, the end look included; over midnight only now and then.
                if any(self.in_quiet(x) for x in span):
                    continue
                if m + longest >= 1440 and r.random() < 0.9:
                    continue
                if any(abs(m - g) <= longest + (0 if r.random() < 0.15 else 5) for g in got):
                    continue
                if any(abs(m - g) >= 1440 - longest - 5 for g in got):
                    continue
                got.append(m)
                if len(got) >= want:
                    break
            if len(got) >= need:
                break
        else:
            return None
        free = [m for m in range(0, 1440, 5) if not self.in_quiet(m)]
        look_at = []
        if r.random() < 0.4:
            look_at = r.sample(free, r.choice([1, 1, 2]))
            if r.random() < 0.25:
                look_at[0] = r.choice(got)
        routine = None
        if r.random() < 0.75:
            routine = (
                r.sample(free, r.choice([1, 2, 2, 3])),
                sorted(r.sample(range(1, 31), r.choice([1, 2, 3]))),
            )
        return got, look_at, routine

    def setting(self, kind):
        r = self.r
        while True:
            p = self.plan(kind)
            t = self.times(p)
            if t:
                break
        self.p, (self.sit_at, self.look_at, self.routine) = p, t
        self.zone = r.choice(list(ZONES))
        change = r.choice(ZONES[self.zone])
        self.days = r.choice([1, 2, 3, 5, 7, 7, 10, 14, 14, 21, 40])
        self.begins = change - timedelta(days=r.randint(0, max(0, min(self.days, 12))))
        self.contacts = r.choice(
            [["first"], ["first", "second"], ["first", "second"], ["first", "second", "third"]]
        )
        self.cover = r.choice(
            [["clinic"], ["clinic"], ["clinic", "clinic-2"], ["ann", "bob", "cleo"]]
        )
        self.habit = None
        self.says = []

    def head(self):
        p = self.p
        o = []
        o.append(f"# {self.name}")
        o.append(f"begins = {self.begins.isoformat()}")
        o.append(f"days = {self.days}")
        o.append("[client]")
        o.append('ref = "A7"\nrisk = "high"')
        o.append(f'time_zone = "{self.zone}"')
        o.append("sittings_at = [" + ", ".join(f'"{hm(m)}"' for m in self.sit_at) + "]")
        o.append(f'quiet = ["{self.quiet[0]}", "{self.quiet[1]}"]')
        for c in self.contacts:
            o.append(f'[[contact]]\nid = "{c}"')
        for c in self.cover:
            o.append(f'[[cover]]\nid = "{c}"')
        if self.habit:
            o.append(f'[habit]\nreading = "{self.habit[0]}"\nafter = "{dur(self.habit[1])}"')
        o.append(
            '[plan]\n'
            'id = "gen"\n'
            'title = "Generated"\n'
            'approved_by = "Nobody"\n'
            'approved_on = 2026-01-02'
        )
        o.append(
            '[plan.looks]\n'
            f'fade_limit = "{dur(p["fade"])}"\n'
            f'slow_fade = "{dur(p["slow"])}"\n'
            f'answer_within = "{dur(p["within"])}"\n'
            f'ask_again = {p["again"]}'
        )
        o.append(
            f'tell_clinic_after = "{dur(p["tell"])}"\n'
            f'recheck_within = "{dur(p["recheck"])}"\n'
            f'missed_to_suspend = {p["suspend"]}\n'
            f'rest_after_mark = "{dur(p["rest"])}"'
        )
        if p["watch"]:
            o.append("[plan.watch]\nrepeat_marks = { count = %d, of_last = %d }" % p["watch"])
        o.append(
            '[plan.stop]\n'
            f'repeat_alert = "{dur(p["ralert"])}"\n'
            f'pass_on_after = "{dur(p["pass"])}"\n'
            f'bring_back_at = "{p["bring"]}"\n'
            f'step_back = {p["back"]}'
        )
        if self.look_at:
            o.append(
                "[plan.risk.high]\nlook_at = ["
                + ", ".join(f'"{hm(m)}"' for m in self.look_at)
                + "]"
            )
        for s in p["steps"]:
            o.append(
                '[[plan.risk.high.step]]\n'
                f'sit = "{dur(s[0])}"\n'
                f'sittings_per_day = {s[1]}\n'
                f'clear_to_advance = {s[2]}'
            )
            if s[3]:
                o.append(f'look_every = "{dur(s[3])}"')
        if self.routine:
            o.append(
                "[plan.risk.high.routine]\nlook_at = ["
                + ", ".join(f'"{hm(m)}"' for m in self.routine[0])
                + "]"
            )
            o.append("review_after_days = [" + ", ".join(map(str, self.routine[1])) + "]")
        return "\n".join(o) + "\n"

    def text(self):
        o = [self.head()]
        for s in self.says:
            o.append("[[says]]")
            for k, v in s.items():
                if k == "sites":
                    o.append("sites = [" + ", ".join(f'"{x}"' for x in v) + "]")
                elif isinstance(v, int):
                    o.append(f"{k} = {v}")
                else:
                    o.append(f'{k} = "{v}"')
        return "\n".join(o) + "\n"

    def lines(self):
        """The run so far, on the reference: [(datetime local with offset, line as a dict)]."""
        import json
        import tomllib

        out = []
        for x in reference.FollowUp(tomllib.loads(self.text()), ".").main():
            d = json.loads(x)
            out.append((datetime.fromisoformat(d["at"]), d))
        return out

    def stamp(self, at):
        """An instant: with its offset, or as wall clock where that means the same."""
        if self.r.random() < 0.7:
            return at.strftime("%Y-%m-%dT%H:%M:%S%z")[:16] + at.isoformat()[-6:]
        naive = at.replace(tzinfo=None)
        z = reference.Zone(self.zone)
        if z.resolve(naive.date(), naive.time()) == int(at.timestamp()):
            return naive.isoformat(timespec="minutes")
        return at.isoformat(timespec="minutes")

    def wall(self, day, m):
        return datetime.combine(self.begins + timedelta(days=day), datetime.min.time()) + timedelta(
            minutes=m
        )

    def say(self, at, who, reading, **kw):
        d = {"at": at if isinstance(at, str) else self.stamp(at), "who": who, "reading": reading}
        d.update({k: v for k, v in kw.items() if v is not None})
        self.says.append(d)

    def extras(self, reading, at_min=None, p_answers=0.3):
        r = self.r
        kw = {}
        if reading in ("marked", "faded", "persisting", "alarming"):
            if r.random() < 0.6:
                kw["sites"] = sorted(set(r.sample(SITES, r.choice([1, 1, 1, 2]))))
            if (
                reading in ("faded",)
                and r.random() < 0.6
                or reading == "marked"
                and r.random() < 0.12
                or reading == "persisting"
                and r.random() < 0.2
            ):
                f, s = self.p["fade"], self.p["slow"]
                kw["minutes"] = r.choice(
                    [1, 5, s - 1, s, s, s + 1, f - 1, f, f, f + 1, r.randint(1, 60)]
                )
                if reading == "marked":
                    kw["minutes"] = r.choice([5, f, f, f + 1, 50])
        if reading == "clear" and r.random() < 0.08:
            kw["minutes"] = r.choice([5, self.p["slow"], self.p["fade"], self.p["fade"] + 1])
        if reading in ("marked", "faded") and r.random() < 0.3 and at_min is not None:
            kw["look_at"] = hm(
                at_min
                - r.choice(
                    [0, 1, 3, 5, 10, 20, 30, self.p["fade"], self.p["tell"], self.p["tell"] + 1, -5]
                )
            )
        if reading == "started" and r.random() < 0.55 and at_min is not None:
            kw["started_at"] = hm(
                at_min
                - r.choice([0, 1, 3, 5, 10, 20, 30, 60, self.p["tell"], self.p["tell"] + 1, -5])
            )
        if r.random() < p_answers:
            kw["answers"] = r.choice(
                ["look", "look", "look", "recheck", "recheck", "routine", "start", "start", "alert"]
            )
        return kw

    def clin(self, reading):
        r = self.r
        kw = {}
        if reading == "resume":
            x = r.random()
            if x < 0.3:
                kw["step"] = r.randint(1, len(self.p["steps"]))
            elif x < 0.36:
                kw["step"] = len(self.p["steps"]) + r.randint(1, 2)
            elif x < 0.6:
                kw["sit"] = dur(r.choice(self.p["steps"])[0])
            elif x < 0.66:
                kw["sit"] = "7min"
        return kw

    def near(self, at):
        """An instant at or near a thing that happened."""
        r = self.r
        p = self.p
        off = r.choice(
            [
                0,
                0,
                0,
                0,
                1,
                1,
                2,
                3,
                5,
                -1,
                p["within"],
                p["within"],
                p["within"] * (p["again"] + 1),
                p["tell"],
                p["tell"] + 1,
                p["fade"],
                p["recheck"],
                p["slow"],
                30,
                90,
                r.randint(1, 200),
                1440,
            ]
        )
        return at + timedelta(minutes=off)

    def finish(self):
        """Clinicians look after most stops; replies in time order, inside the run."""
        import tomllib

        r = self.r
        if r.random() < 0.75:
            for _ in range(r.choice([1, 2, 3, 4])):
                ls = self.lines()
                if any(x[1]["what"] == "closed" for x in ls):
                    break
                stops = [x for x in ls if x[1]["what"] in ("stopped", "suspended")]
                back = [x for x in ls if x[1]["what"] in ("resumed", "unsuspended")]
                if not stops or (back and back[-1][0] > stops[-1][0]):
                    break
                t = stops[-1][0] + timedelta(minutes=r.choice([1, 5, 20, 60, 61, 400, 1300]))
                if r.random() < 0.4:
                    self.say(t, r.choice(self.cover), r.choice(["seen", "seen", "keep-stopped"]))
                    t = t + timedelta(minutes=r.choice([0, 1, 30, 600, 1440, 3000]))
                self.say(
                    t,
                    r.choice(self.cover),
                    "resume",
                    **(self.clin("resume") if r.random() < 0.7 else {}),
                )
        f = reference.FollowUp(tomllib.loads(self.text()), ".")
        keep = [(f.instant(d["at"]), d) for d in self.says]
        self.says = [
            d for t, d in sorted((x for x in keep if f.t0 <= x[0] < f.t_end), key=lambda x: x[0])
        ]

    # ---- three families
    def calm(self):
        r = self.r
        self.setting("calm")
        self.habit = (r.choice(["clear"] * 8 + ["faded"]), r.randint(1, 19))
        if self.habit[0] == "clear" and r.random() < 0.5:
            self.p["rest"] = min(self.p["rest"], 120)
        ls = self.lines()
        asked = [x for x in ls if x[1]["what"] in ("asked", "sitting")]
        for _ in range(r.randint(1, 6)):
            if not asked:
                break
            at, d = r.choice(asked)
            rd = r.choice(
                [
                    "faded",
                    "faded",
                    "faded",
                    "marked",
                    "marked",
                    "clear",
                    "no-sitting",
                    "started",
                    "unclear",
                    "not-looked",
                ]
            )
            t = at + timedelta(minutes=r.randint(0, max(1, self.habit[1] - 1)))
            self.say(
                t, d.get("to", self.contacts[0]), rd, **self.extras(rd, t.hour * 60 + t.minute, 0.1)
            )
        if r.random() < 0.5:
            for _ in range(2):
                ls = self.lines()
                st = [x for x in ls if x[1]["what"] in ("stopped", "suspended")]
                if not st:
                    break
                t = st[-1][0] + timedelta(minutes=r.choice([0, 10, 45, 300, 1500]))
                self.say(
                    t, r.choice(self.cover), r.choice(["seen", "resume", "resume", "keep-stopped"])
                )
                if r.random() < 0.5:
                    t = t + timedelta(minutes=r.choice([1, 60, 700]))
                    self.say(t, r.choice(self.cover), "resume", **self.clin("resume"))
        return self

    def chaotic(self):
        r = self.r
        self.setting("chaotic")
        self.days = min(self.days, 14)
        if r.random() < 0.5:
            self.habit = (
                r.choice(
                    ["clear"] * 5
                    + ["faded", "not-looked", "marked", "unclear", "persisting", "no-sitting"]
                ),
                r.randint(2, 25),
            )
        weights = r.choice(
            [
                [6, 3, 4, 1, 1, 2, 2, 3, 2],
                [4, 2, 6, 0, 0, 2, 2, 3, 1],
                [5, 4, 4, 0, 0, 1, 3, 4, 2],
                [2, 2, 2, 2, 2, 2, 2, 2, 2],
                [8, 1, 3, 0, 0, 1, 1, 2, 1],
            ]
        )
        n = r.choice([5, 10, 15, 25, 40])
        for i in range(n):
            if i % 5 == 0:
                ls = self.lines()
            if not ls:
                break
            at, d = r.choice(ls) if r.random() < 0.7 else r.choice(ls[: 1 + len(ls) // 3])
            t = self.near(at)
            stops = [x for x in ls if x[1]["what"] in ("stopped", "suspended")]
            if r.random() < 0.12 or (stops and r.random() < 0.3):
                if stops and r.random() < 0.8:
                    at = r.choice(stops)[0]
                    t = at + timedelta(
                        minutes=r.choice(
                            [0, 0, 5, self.p["ralert"], self.p["pass"], 60, 200, 1000, 2000]
                        )
                    )
                rd = r.choice(
                    ["seen", "seen", "resume", "resume", "resume", "resume"]
                    + (["keep-stopped", "keep-stopped"] if stops or r.random() < 0.2 else [])
                    + (["close"] if r.random() < 0.08 else [])
                    + (["unclear", "clear"] if r.random() < 0.1 else [])
                )
                self.say(t, r.choice(self.cover), rd, **self.clin(rd))
            else:
                rd = r.choices(CARE, weights)[0]
                who = r.choice(self.contacts) if r.random() < 0.5 else d.get("to", self.contacts[0])
                if who not in self.contacts:
                    who = self.contacts[0]
                if r.random() < 0.02:
                    rd = r.choice(CLIN[:3])
                self.say(
                    t, who, rd, **self.extras(rd, t.hour * 60 + t.minute, r.choice([0.1, 0.5]))
                )
                if r.random() < 0.15:
                    u = t + timedelta(minutes=r.choice([0, 0, 1, 5]))
                    rd = r.choices(CARE, weights)[0]
                    self.say(u, who, rd, **self.extras(rd, u.hour * 60 + u.minute))
        return self

    def pick(self, ls, *whats, **kw):
        c = [
            x for x in ls if x[1]["what"] in whats and all(x[1].get(k) == v for k, v in kw.items())
        ]
        return self.r.choice(c) if c else None

    def targeted(self):
        r = self.r
        self.setting("targeted")
        which = r.choice(
            [
                "trend",
                "trend",
                "trend",
                "trend",
                "trend",
                "unclear",
                "late",
                "correction",
                "correction",
                "stop",
                "stop",
                "suspend",
                "start",
                "start",
                "nositting",
                "repeat",
                "recheck",
                "recheck",
                "next-day",
                "r29",
                "early",
                "early",
                "edge",
                "takeup",
                "announce",
            ]
        )
        self.name += " " + which
        p = self.p
        z = reference.Zone(self.zone)

        def mins(t):
            return t.hour * 60 + t.minute

        C = self.contacts

        def some(rd, t, who=None, **kw):
            e = self.extras(rd, mins(t), 0.0)
            e.update(kw)
            self.say(t, who or C[0], rd, **e)

        if which == "trend":
            # fade minutes growing with sitting time (R9, R19, R20)
            self.days = r.choice([10, 14, 21, 40])
            p["steps"] = [
                [10 + 15 * i + (r.randint(0, 2) and 0), 1 + (i % 2), r.choice([1, 2, 2, 3]), None]
                for i in range(r.randint(2, 4))
            ]
            if r.random() < 0.3:
                p["steps"][1][0] = p["steps"][0][0]
            p["rest"] = r.choice([10, 30])
            p["slow"] = p["fade"] if r.random() < 0.6 else p["fade"] - r.randint(1, 8)
            self.sit_at, self.look_at = [600, 840], []
            self.quiet = ("21:00", "07:00")
            if self.routine:
                self.routine = ([480], self.routine[1])
            self.habit = None if r.random() < 0.7 else ("clear", r.randint(5, 15))
            rate = r.choice([0.1, 0.3, 0.5, 0.7, 0.9])
            done = set()
            for _ in range(r.choice([10, 20, 30])):
                ls = self.lines()
                todo = [
                    x
                    for x in ls
                    if x[1]["what"] == "asked"
                    and x[1]["again"] == 0
                    and x[1]["sitting"] is not None
                    and x[1]["look"] == "first"
                    and x[1]["sitting"] not in done
                ]
                if not todo:
                    break
                for at, d in todo[:2]:
                    done.add(d["sitting"])
                    s = next(
                        x[1]
                        for x in ls
                        if x[1]["what"] == "sitting" and x[1]["sitting"] == d["sitting"]
                    )
                    v = int(
                        s["minutes"] * rate
                        + r.choice([0, 0, 1, 2, 3, -2])
                        + (d["sitting"] * r.choice([0, 0, 1])) * 0.5
                    )
                    v = max(0, min(v, p["fade"]))
                    t = at + timedelta(minutes=r.randint(0, 4))
                    if v == 0:
                        self.say(t, C[0], "clear")
                    elif r.random() < 0.85:
                        self.say(t, C[0], "faded", minutes=v)
                    else:
                        self.say(t, C[0], "marked")
                        self.say(
                            t + timedelta(minutes=max(1, v)),
                            C[0],
                            "faded",
                            **({} if r.random() < 0.5 else {"minutes": v}),
                        )
            return self
        if which in (
            "unclear",
            "late",
            "correction",
            "recheck",
            "next-day",
            "nositting",
            "repeat",
            "edge",
            "announce",
            "start",
            "r29",
            "takeup",
            "early",
        ):
            if r.random() < 0.6:
                self.habit = (r.choice(["clear", "clear", "clear", "faded"]), r.randint(2, 20))
        rounds = r.randint(2, 6)
        for _ in range(rounds):
            ls = self.lines()
            if not ls:
                break
            a = self.pick(ls, "asked") or r.choice(ls)
            t = a[0]
            who = a[1].get("to", C[0])
            if who not in C:
                who = C[0]
            M = lambda *xs: timedelta(minutes=r.choice(xs))
            if which == "unclear":
                for k in range(r.randint(1, 4)):
                    t = t + M(0, 1, 5, p["within"], 300)
                    some(
                        r.choice(["unclear", "unclear", "not-looked", "started", "clear"]),
                        t,
                        r.choice([who, who, C[-1]]),
                        **(
                            {"answers": r.choice(["look", "recheck", "routine"])}
                            if r.random() < 0.4
                            else {}
                        ),
                    )
            elif which == "late":
                m = self.pick(ls, "missed") or a
                t = m[0] + M(0, 1, 5, 60, 300, 1440, -1)
                some(
                    r.choice(
                        [
                            "clear",
                            "faded",
                            "faded",
                            "marked",
                            "marked",
                            "not-looked",
                            "unclear",
                            "persisting",
                            "no-sitting",
                            "started",
                        ]
                    ),
                    t,
                    None,
                    answers=r.choice(["look", "look", "routine", "start"]),
                )
            elif which == "correction":
                m = self.pick(ls, "answered") or a
                w = m[1].get("by", who)
                t = m[0]
                for k in range(r.randint(1, 4)):
                    t = t + M(0, 1, 1, 2, 10, p["fade"], 120)
                    rd = r.choice(
                        ["clear", "faded", "faded", "faded", "marked", "no-sitting"]
                        + (["persisting"] if r.random() < 0.15 else [])
                    )
                    some(
                        rd,
                        t,
                        w,
                        **(
                            {"answers": r.choice(["look", "look", "recheck", "routine"])}
                            if r.random() < 0.5
                            else {}
                        ),
                    )
            elif which == "recheck":
                f = self.pick(ls, "asked", again=0) or a
                t = f[0] + M(0, 1, 2)
                w = r.choice([f[1].get("to", C[0]), f[1].get("to", C[0]), C[-1]])
                if w not in C:
                    w = C[0]
                some("marked", t, w, **({"answers": "look"} if r.random() < 0.3 else {}))
                t2 = t + timedelta(
                    minutes=r.choice(
                        [
                            1,
                            p["slow"],
                            p["slow"] + 1,
                            p["fade"] - 1,
                            p["fade"],
                            p["fade"] + 1,
                            p["fade"] + p["within"],
                            p["fade"] + p["recheck"],
                            p["fade"] + p["recheck"] - 1,
                        ]
                    )
                )
                some(
                    r.choice(
                        [
                            "faded",
                            "faded",
                            "faded",
                            "clear",
                            "clear",
                            "not-looked",
                            "unclear",
                            "marked",
                            "started",
                            "no-sitting",
                        ]
                    ),
                    t2,
                    r.choice([w, w, C[0]]),
                    **({"answers": r.choice(["look", "recheck"])} if r.random() < 0.4 else {}),
                )
                if r.random() < 0.4:
                    some(
                        r.choice(["faded", "clear", "unclear", "faded", "marked"]),
                        t2 + M(0, 1, 30, 600),
                        w,
                        **({"answers": r.choice(["look", "recheck"])} if r.random() < 0.5 else {}),
                    )
            elif which == "next-day":
                t = t + timedelta(minutes=r.choice([600, 1440, 1445, 1000, 2880]))
                some(
                    r.choice(
                        [
                            "faded",
                            "faded",
                            "marked",
                            "marked",
                            "clear",
                            "unclear",
                            "persisting",
                            "not-looked",
                        ]
                    ),
                    t,
                    who,
                    answers=r.choice(["look", "recheck", "routine", "start"]),
                )
            elif which == "nositting":
                s = self.pick(ls, "sitting", "asked") or a
                t = s[0] + M(0, 1, 5, 10, 30, 120, 500)
                some(
                    "no-sitting",
                    t,
                    None,
                    **({"answers": r.choice(["start", "look"])} if r.random() < 0.6 else {}),
                )
                if r.random() < 0.5:
                    some(
                        r.choice(["started", "marked", "clear", "no-sitting", "faded", "alarming"]),
                        t + M(0, 1, 30, 200),
                        None,
                        **({"answers": r.choice(["start", "look"])} if r.random() < 0.6 else {}),
                    )
            elif which == "takeup":
                s = self.pick(ls, "sitting") or a
                t = s[0] + M(0, 2, 10, 60)
                some("no-sitting", t, None, answers=r.choice(["start", "start", "look"]))
                t = t + M(0, 1, 20, 100, 400, 900)
                some("started", t, None, answers=r.choice(["start", "start", "look"]))
                if r.random() < 0.5:
                    some(
                        r.choice(["marked", "clear", "faded", "no-sitting", "started"]),
                        t + M(0, 5, 10, 60),
                        None,
                    )
            elif which == "repeat":
                if not p["watch"]:
                    p["watch"] = (2, 3)
                t = t + M(0, 1, 2)
                some(
                    r.choice(["faded", "faded", "marked"]),
                    t,
                    who,
                    sites=[r.choice(["heel-left", "heel", "heel-right", "ischium"])],
                    minutes=r.choice([3, 8, p["slow"]]),
                )
            elif which == "edge":
                m = r.choice(ls)
                t = m[0]
                some(
                    r.choice(["clear", "faded", "marked", "started", "no-sitting", "unclear"]),
                    t,
                    r.choice(C),
                )
            elif which == "start":
                s = self.pick(ls, "sitting") or a
                t = s[0] + M(0, 1, 5, 10, 20, 30, 60, 90)
                some(
                    "started",
                    t,
                    r.choice([C[0], C[0], C[-1]]),
                    **(
                        {"answers": r.choice(["start", "look", "start"])}
                        if r.random() < 0.5
                        else {}
                    ),
                )
                if r.random() < 0.4:
                    some(r.choice(["started", "marked", "faded", "clear"]), t + M(0, 1, 10), None)
            elif which == "early":
                day = r.randrange(self.days)
                m = r.choice(self.sit_at)
                t0 = z.resolve(self.begins + timedelta(days=day), reference.clock(hm(m)))
                t = z.local(t0) - M(0, 0, 1, 10, 30, p["tell"] - 1, p["tell"], 60)
                t = datetime.fromtimestamp(int(t.timestamp()), z.z)
                some("started", t, r.choice(C))
                if r.random() < 0.3:
                    some(
                        r.choice(["no-sitting", "started", "marked", "clear"]),
                        t + M(0, 1, 5, 20),
                        r.choice(C),
                    )
            elif which == "announce":
                s = self.pick(ls, "sitting") or a
                t = s[0] + M(0, 1, 2, 5, 10, 40)
                some(
                    r.choice(
                        ["faded", "faded", "marked", "clear", "unclear", "not-looked"]
                        + (["persisting", "alarming"] if r.random() < 0.2 else [])
                    ),
                    t,
                    None,
                    answers="start",
                )
                if r.random() < 0.5:
                    some(
                        r.choice(["faded", "marked", "started", "clear", "unclear", "no-sitting"]),
                        t + M(0, 1, 5),
                        None,
                    )
            elif which == "r29":
                t = t + M(-1, 0, 1, 3, -30, 30)
                rd = r.choice(
                    ["marked", "marked", "faded", "clear", "not-looked"]
                    + (["alarming", "persisting"] if r.random() < 0.25 else [])
                )
                some(
                    rd,
                    t,
                    C[-1],
                    **(
                        {"answers": r.choice(["look", "recheck", "routine", "alert"])}
                        if r.random() < 0.3
                        else {}
                    ),
                )
                if r.random() < 0.5:
                    some(
                        r.choice(["faded", "marked", "clear", "unclear"]),
                        t + M(0, 1, 10, p["fade"] + 1),
                        C[-1],
                    )
            elif which == "stop":
                st = self.pick(ls, "stopped")
                if st is None:
                    t = t + M(0, 1, 3)
                    x = r.random()
                    if x < 0.5:
                        some(r.choice(["persisting", "alarming"]), t, who)
                    elif x < 0.65:
                        some("marked", t, who)
                    elif x < 0.8:
                        some("faded", t, who, minutes=p["fade"] + r.choice([0, 1, 9]))
                    else:
                        self.say(t, r.choice(self.cover), "keep-stopped")
                else:
                    t = st[0]
                    for _ in range(r.randint(1, 4)):
                        t = t + M(0, 1, p["ralert"], p["pass"], p["pass"] + 1, 100, 400, 1500)
                        if r.random() < 0.6:
                            rd = r.choice(["seen", "seen", "resume", "resume", "keep-stopped"])
                            self.say(t, r.choice(self.cover), rd, **self.clin(rd))
                        else:
                            some(
                                r.choice(
                                    [
                                        "alarming",
                                        "clear",
                                        "marked",
                                        "faded",
                                        "unclear",
                                        "started",
                                        "no-sitting",
                                    ]
                                ),
                                t,
                                r.choice(C),
                            )
            elif which == "suspend":
                p["suspend"] = min(p["suspend"], 2)
                if not self.look_at and r.random() < 0.6:
                    self.look_at = [
                        m
                        for m in range(self.sit_at[0] - 20, self.sit_at[0] - 10, 5)
                        if m >= 0 and not self.in_quiet(m)
                    ][:1]
                if r.random() < 0.5:
                    a = self.pick(ls, "asked", look="routine", again=0) or a
                    t = a[0]
                su = self.pick(ls, "suspended")
                if su is not None:
                    t = su[0] + M(0, 1, 10, 60, 300, 1000, 2000)
                    if r.random() < 0.5:
                        rd = r.choice(["resume", "resume", "seen", "keep-stopped"])
                        self.say(t, r.choice(self.cover), rd, **self.clin(rd))
                    else:
                        some(
                            r.choice(
                                [
                                    "clear",
                                    "clear",
                                    "faded",
                                    "marked",
                                    "not-looked",
                                    "started",
                                    "no-sitting",
                                    "unclear",
                                ]
                            ),
                            t,
                            None,
                            **(
                                {"answers": r.choice(["look", "routine", "start"])}
                                if r.random() < 0.5
                                else {}
                            ),
                        )
                else:
                    some(r.choice(["clear", "faded", "marked"]), t + M(0, 1), who)
        return self


def main():
    seed, count, outdir = int(sys.argv[1]), int(sys.argv[2]), sys.argv[3]
    os.makedirs(outdir, exist_ok=True)
    for i in range(count):
        rng = random.Random(f"{seed}/{i}")
        g = Gen(rng, f"seed {seed} number {i}")
        fam = [g.calm, g.chaotic, g.targeted][i % 3]
        fam()
        g.finish()
        with open(os.path.join(outdir, f"s{seed}-{i:05d}.toml"), "w") as f:
            f.write(g.text())


if __name__ == "__main__":
    main()
