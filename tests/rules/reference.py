#!/usr/bin/env python3
"""A second reading of the rules of a follow-up, R1 to R29, to hold the core against.

Written from the text of the rules and of the rehearsal format alone, by somebody who had not seen
the core, in another language and another style: it steps through the instants of a scenario and
prints the lines that `fadewatch rehearse --json` prints. Where both agree on thousands of random
scenarios, a slip in one of them shows. Where the text left a choice open, `rulings.rs` of the core
says what was chosen; the places below name the rule.

    python3 reference.py SCENARIO.toml
    python3 reference.py --many FILE...

Needs Python 3.11 and the package tzdata (tests/python-packages.txt).
"""

import heapq
import json
import os
import re
import sys
import tomllib
from datetime import date, datetime, time, timedelta
from fractions import Fraction
from functools import lru_cache
from zoneinfo import ZoneInfo, reset_tzpath

import tzdata  # noqa: F401  (the newest time-zone rules, wherever the system's stand)

reset_tzpath(to=[])

CARE = (
    "clear",
    "marked",
    "faded",
    "persisting",
    "alarming",
    "not-looked",
    "no-sitting",
    "started",
    "unclear",
)
FINDINGS = ("clear", "faded", "marked", "persisting", "alarming")
RANK = {r: i for i, r in enumerate(FINDINGS)}
CLIN = ("seen", "resume", "keep-stopped", "close")
SIDED = (
    "ischium",
    "buttock",
    "trochanter",
    "thigh",
    "heel",
    "ankle",
    "foot",
    "knee",
    "shoulder-blade",
    "elbow",
)


def duration(text):
    if isinstance(text, int):
        return text
    parts = re.findall(r"(\d+)\s*(d|h|min|m|s)", text)
    if not parts or "".join(a + b for a, b in parts) != text.replace(" ", ""):
        raise ValueError(f"duration {text!r}")
    unit = {"d": 86400, "h": 3600, "min": 60, "m": 60, "s": 1}
    return sum(int(a) * unit[b] for a, b in parts)


def clock(text):
    if isinstance(text, time):
        return text
    h, m = text.split(":")[:2]
    return time(int(h), int(m))


def expand(sites):
    out = set()
    for s in sites:
        if s in SIDED:
            out.add(s + "-left")
            out.add(s + "-right")
        else:
            out.add(s)
    return out


class Zone:
    def __init__(self, name):
        self.z = ZoneInfo(name)
        self.cache = {}

    def local(self, t):
        return datetime.fromtimestamp(t, self.z)

    def day(self, t):
        return self.local(t).date()

    def fmt(self, t):
        return self.local(t).isoformat(timespec="seconds")

    def resolve(self, d, tm):
        """Wall clock to instant, R25."""
        key = (d, tm)
        v = self.cache.get(key)
        if v is None:
            v = self.cache[key] = self._resolve(d, tm)
        return v

    def _resolve(self, d, tm):
        w = datetime.combine(d, tm)
        u0 = int(w.replace(tzinfo=self.z, fold=0).timestamp())
        if self.local(u0).replace(tzinfo=None) == w:
            return u0
        u1 = int(w.replace(tzinfo=self.z, fold=1).timestamp())
        lo, hi = min(u0, u1) - 1, max(u0, u1) + 1  # the change lies in (lo, hi]
        before = self.local(lo).utcoffset()
        while hi - lo > 1:
            mid = (lo + hi) // 2
            if self.local(mid).utcoffset() == before:
                lo = mid
            else:
                hi = mid
        return hi

    def latest(self, t, tm):
        """The latest instant with this wall-clock time that is not after t."""
        d = self.day(t) + timedelta(days=1)
        while True:
            v = self.resolve(d, tm)
            if v <= t:
                return v
            d -= timedelta(days=1)


class Sitting:
    def __init__(self, num, step, sit, start):
        self.num, self.step, self.sit, self.start = num, step, sit, start
        self.looks = []
        self.cancelled = self.ended = self.void = self.cut = False
        self.needs_settle = True
        self.credited = False
        self.run_id = None
        self.counted = False
        self.sites = set()
        self.repeat_told = False
        self.any_asked = False

    def ann_open(self):
        return not (self.cancelled or self.ended or self.void or self.any_asked)

    def end(self):
        return self.start + self.sit


class Look:
    def __init__(self, kind, sitting, due, offset=None, parent=None, first_to=0):
        self.kind, self.sitting, self.due, self.offset, self.parent = (
            kind,
            sitting,
            due,
            offset,
            parent,
        )
        self.state = "pending"  # pending open answered missed withdrawn
        self.asked_at = None  # first request
        self.asked_seq = None
        self.last_seq = None
        self.counts = {}
        self.next_at = None
        self.miss_at = None
        self.idx = first_to  # contact asked now
        self.n = 0
        self.order = None
        self.finding = None
        self.fade = None
        self.sites = []
        self.look_time = None
        self.ans_seq = None
        self.closed_at = None
        self.missed = False
        self.by_mark = False  # withdrawn by a mark
        self.sev = None  # (rank, fade) of its finding, for R18
        self.no_settle = False  # its mark settles nothing anew (R18, fine print)
        self.unclears = 0
        self.recheck = None
        self.unasked = False

    def open(self):
        return self.state == "open"

    def live(self):
        return self.state in ("pending", "open")


class Alert:
    def __init__(self, at):
        self.at = at
        self.counts = {}
        self.last = at
        self.acked_by = None
        self.acked_at = None
        self.decided = False


class Reply:
    def __init__(self, d, at):
        self.at = at
        self.who = d["who"]
        self.reading = d["reading"]
        self.sites = list(d.get("sites", []))
        self.minutes = d.get("minutes")
        self.look_at = clock(d["look_at"]) if "look_at" in d else None
        self.started_at = clock(d["started_at"]) if "started_at" in d else None
        self.step = d.get("step")
        self.sit = duration(d["sit"]) if "sit" in d else None
        self.answers = d.get("answers")


class FollowUp:
    def __init__(self, scen, base):
        plan = scen["plan"]
        if isinstance(plan, str):
            with open(os.path.join(base, plan), "rb") as f:
                plan = tomllib.load(f)
        cl = scen["client"]
        self.zone = Zone(cl["time_zone"])
        looks = plan["looks"]
        self.fade_limit = duration(looks["fade_limit"])
        self.slow_fade = duration(looks["slow_fade"])
        self.answer_within = duration(looks["answer_within"])
        self.ask_again = looks["ask_again"]
        self.tell_after = duration(looks["tell_clinic_after"])
        self.recheck_within = duration(looks["recheck_within"])
        self.missed_to_suspend = looks["missed_to_suspend"]
        self.rest = duration(looks["rest_after_mark"])
        self.repeat = plan.get("watch", {}).get("repeat_marks")
        stop = plan["stop"]
        self.repeat_alert = duration(stop["repeat_alert"])
        self.pass_on = duration(stop["pass_on_after"])
        self.bring_back = clock(stop["bring_back_at"])
        self.step_back = stop["step_back"]
        risk = plan["risk"][cl["risk"]]
        self.steps = [
            {
                "sit": duration(s["sit"]),
                "per_day": s["sittings_per_day"],
                "need": s["clear_to_advance"],
                "every": duration(s["look_every"]) if "look_every" in s else None,
            }
            for s in risk["step"]
        ]
        self.look_at = sorted({clock(x) for x in risk.get("look_at", [])})
        self.routine = risk.get("routine")
        self.routine_at = sorted({clock(x) for x in self.routine["look_at"]}) if self.routine else []
        self.sittings_at = sorted(clock(x) for x in cl["sittings_at"])
        if len(self.sittings_at) < max(s["per_day"] for s in self.steps):
            raise ValueError("fewer sittings_at than sittings_per_day")
        q = cl.get("quiet")
        self.quiet = (clock(q[0]), clock(q[1])) if q else None
        self.contacts = [c["id"] for c in scen["contact"]]
        self.cover = [c["id"] for c in scen["cover"]]
        self.habit = scen.get("habit")
        self.habit_after = duration(self.habit["after"]) if self.habit else None
        self.begins = scen["begins"]
        if isinstance(self.begins, str):
            self.begins = date.fromisoformat(self.begins)
        self.days = scen["days"]
        z = self.zone
        self.t0 = z.resolve(self.begins, time(0))
        self.t_end = z.resolve(self.begins + timedelta(days=self.days), time(0))
        self.says = {}
        for d in scen.get("says", []):
            at = self.instant(d["at"])
            self.says.setdefault(at, []).append(Reply(d, at))
        # fixed instants
        self.midnights, self.sit_at, self.build_looks, self.routine_looks = {}, {}, {}, {}
        fixed = set(self.says)
        for k in range(self.days):
            day = self.begins + timedelta(days=k)
            self.midnights[z.resolve(day, time(0))] = day
            for i, tm in enumerate(self.sittings_at):
                self.sit_at.setdefault(z.resolve(day, tm), []).append((day, i))
            for tm in self.look_at:
                t = z.resolve(day, tm)
                self.build_looks[t] = self.build_looks.get(t, 0) + 1
            for tm in self.routine_at:
                t = z.resolve(day, tm)
                self.routine_looks[t] = self.routine_looks.get(t, 0) + 1
        for m in (self.midnights, self.sit_at, self.build_looks, self.routine_looks):
            fixed.update(m)
        self.fixed = sorted(x for x in fixed if self.t0 <= x < self.t_end)
        self.fi = 0
        self.habits = []
        # state
        self.out = []
        self.now = self.t0
        self.seq = 0
        self.step = 1
        self.run = 0
        self.run_id = 0
        self.phase = None  # local day the routine phase began
        self.suspended = self.stopped = self.closed = False
        self.alert = None
        self.row = 0
        self.gone_at = None
        self.resume_seq = 0
        self.sittings = []
        self.active = []  # looks pending or open
        self.asked_looks = []
        self.requests = {c: [] for c in self.contacts}
        self.consumed = set()
        self.points = {}
        self.later = []  # suspended / rising lines at the end of one occasion

    # ---- small helpers
    def instant(self, v):
        if isinstance(v, str):
            v = datetime.fromisoformat(v)
        if v.tzinfo is not None:
            return int(v.timestamp())
        return self.zone.resolve(v.date(), v.time())

    def emit(self, what, **kw):
        line = {"at": self.zone.fmt(self.now), "what": what}
        line.update(kw)
        self.out.append(json.dumps(line, separators=(",", ":"), ensure_ascii=False))

    def told(self, why):
        self.emit("clinic-told", why=why)

    def set_aside(self, by, why):
        self.emit("set-aside", by=by, why=why)

    def next_seq(self):
        self.seq += 1
        return self.seq

    def quiet_end(self, t):
        """The end of the quiet hours t falls into, else None. Intervals of instants (R24, R25)."""
        if not self.quiet or self.quiet[0] == self.quiet[1]:
            return None
        f, to = self.quiet
        d = self.zone.day(t)
        for k in (-1, 0):
            day = d + timedelta(days=k)
            a = self.zone.resolve(day, f)
            b = self.zone.resolve(day if to > f else day + timedelta(days=1), to)
            if a <= t < b:
                return b
        return None

    def unsettled(self):
        for k in self.active:
            if k.kind == "routine":
                if k.state == "open":
                    return True
            elif k.live():
                return True
        return False

    def planned_today(self, day):
        """Planned (instant, index) of one day for the present step."""
        n = self.steps[self.step - 1]["per_day"]
        return [(self.zone.resolve(day, tm), i) for i, tm in enumerate(self.sittings_at[:n])]

    def break_run(self):
        self.run = 0
        self.run_id += 1

    def withdraw(self, look, by_mark=False):
        look.state = "withdrawn"
        look.by_mark = by_mark
        look.closed_at = self.now
        if look in self.active:
            self.active.remove(look)

    # ---- the loop
    def next_time(self):
        best = self.t_end
        if self.fi < len(self.fixed):
            best = min(best, self.fixed[self.fi])
        if self.habits:
            best = min(best, self.habits[0][0])
        for k in self.active:
            if k.state == "pending":
                best = min(best, k.due)
            else:
                if k.next_at is not None:
                    best = min(best, k.next_at)
                best = min(best, k.miss_at)
        if self.alert is not None and not self.closed:
            n = self.alert_next()
            if n is not None:
                best = min(best, n)
        return best

    def main(self):
        last = None
        while True:
            t = self.next_time()
            if t >= self.t_end:
                return self.out
            if last is not None and t <= last:
                raise RuntimeError(f"no progress at {self.zone.fmt(t)}")
            last = t
            while self.fi < len(self.fixed) and self.fixed[self.fi] <= t:
                self.fi += 1
            self.now = t
            self.instant_at(t)

    def instant_at(self, t):
        for r in self.says.get(t, []):
            self.reply(r, None)
            self.flush()
        while self.habits and self.habits[0][0] <= t:
            _, _, look = heapq.heappop(self.habits)
            if look.open() and not self.closed:
                h = dict(self.habit)
                h["who"] = self.contacts[0]
                self.reply(Reply(h, t), look)
                self.flush()
        if self.closed:
            return
        # waits that run out
        for k in sorted(
            (k for k in self.active if k.open() and k.kind != "recheck" and k.miss_at <= t),
            key=lambda k: k.order,
        ):
            self.miss(k)
            self.flush()
        for k in sorted(
            (k for k in self.active if k.open() and k.kind == "recheck" and k.miss_at <= t),
            key=lambda k: k.order,
        ):
            if k.open():
                self.do_stop("recheck-unreported", self.mark_sites(k), k.sitting)
        for k in sorted(
            (k for k in self.active if k.open() and k.next_at is not None and k.next_at <= t),
            key=lambda k: k.order,
        ):
            self.remind(k)
        if self.alert is not None:
            self.alert_due()
        if t in self.midnights:
            self.midnight(self.midnights[t])
        # routine looks
        for k in [
            k for k in self.active if k.state == "pending" and k.kind == "routine" and k.due <= t
        ]:
            self.first_request(k)
        if not self.stopped:
            for _ in range((self.routine_looks if self.phase else self.build_looks).get(t, 0)):
                k = Look("routine", None, t)
                self.active.append(k)
                q = self.quiet_end(t)
                if q is not None:
                    k.due = q
                else:
                    self.first_request(k)
        for k in sorted(
            (k for k in self.active if k.state == "pending" and k.kind == "recheck" and k.due <= t),
            key=lambda k: k.due,
        ):
            self.first_request(k)
        for k in sorted(
            (k for k in self.active if k.state == "pending" and k.kind == "first" and k.due <= t),
            key=lambda k: (k.due, k.sitting.num),
        ):
            self.first_request(k)
        for key in self.sit_at.get(t, []):
            self.plan_sitting(key)

    def flush(self):
        todo, self.later = self.later, []
        for what in ("suspended", "rising"):
            for w in todo:
                if w == what:
                    if what == "suspended":
                        self.emit("suspended")
                    self.told(what)

    # ---- sittings
    def plan_sitting(self, key):
        day, i = key
        if self.stopped or self.suspended or self.phase or key in self.consumed:
            return
        if i >= self.steps[self.step - 1]["per_day"]:
            return
        if self.unsettled():
            self.emit("dropped", step=self.step, why="unsettled")
        elif self.gone_at is not None and self.now - self.gone_at < self.rest:
            self.emit("dropped", step=self.step, why="resting")
        else:
            self.begin(self.now)

    def make_looks(self, s):
        st = self.steps[s.step - 1]
        offs = []
        if st["every"]:
            k = st["every"]
            while k < s.sit:
                offs.append(k)
                k += st["every"]
        offs.append(s.sit)
        for o in offs:
            k = Look("first", s, s.start + o, o)
            s.looks.append(k)
            self.active.append(k)

    def begin(self, start):
        st = self.steps[self.step - 1]
        s = Sitting(len(self.sittings) + 1, self.step, st["sit"], start)
        self.sittings.append(s)
        self.emit(
            "sitting",
            sitting=s.num,
            step=s.step,
            minutes=s.sit // 60 if s.sit % 60 == 0 else s.sit / 60,
        )
        self.requests[self.contacts[0]].append((self.next_seq(), "ann", s))
        self.make_looks(s)
        return s

    def stated(self, t, tm):
        """A stated wall-clock time, if within the last tell_clinic_after (inclusive), else t."""
        if tm is None:
            return t
        v = self.zone.latest(t, tm)
        return v if t - v <= self.tell_after else t

    def try_early(self, rep):
        """R2: `started` begins the next planned sitting early."""
        if self.stopped or self.suspended or self.phase or self.unsettled():
            return False
        nxt = None
        d = self.zone.day(self.now)
        for k in range(-1, 3 + self.tell_after // 86400):
            for at, i in sorted(self.planned_today(d + timedelta(days=k))):
                if at >= self.now and (d + timedelta(days=k), i) not in self.consumed:
                    nxt = (at, (d + timedelta(days=k), i))
                    break
            if nxt:
                break
        if nxt is None or nxt[0] - self.now >= self.tell_after:
            return False
        start = self.stated(self.now, rep.started_at)
        if rep.started_at is not None and self.asked_looks:
            if start < max(k.asked_at for k in self.asked_looks):
                return False
        self.consumed.add(nxt[1])
        s = self.begin(start)
        self.emit("started", sitting=s.num, start=self.zone.fmt(start))
        return True

    # ---- asking
    def ask(self, look, who):
        n = look.counts.get(who, 0)
        look.counts[who] = n + 1
        seq = self.next_seq()
        look.last_seq = seq
        self.emit(
            "asked",
            look=look.kind,
            sitting=look.sitting.num if look.sitting else None,
            to=who,
            again=n,
        )
        self.requests[who].append((seq, "look", look))
        if self.habit and who == self.contacts[0]:
            heapq.heappush(self.habits, (self.now + self.habit_after, seq, look))

    def first_request(self, look):
        look.state = "open"
        look.asked_at = self.now
        self.ask(look, self.contacts[look.idx])
        look.order = look.asked_seq = look.last_seq
        look.n = 1
        look.miss_at = self.now + (
            self.recheck_within if look.kind == "recheck" else self.tell_after
        )
        self.asked_looks.append(look)
        if look.sitting and look.kind == "first":
            look.sitting.any_asked = True
        self.schedule(look)

    def following(self, look):
        """Index of the contact asked after the present one, None if there is none."""
        return look.idx + 1 if look.idx + 1 < len(self.contacts) else None

    def schedule(self, look):
        """When the next request of this look goes out (R12, R14, R24)."""
        if look.n > self.ask_again and self.following(look) is None and look.kind != "recheck":
            look.next_at = None
            return
        t = self.now + self.answer_within
        if look.kind != "recheck":
            q = self.quiet_end(t)
            if q is not None:
                t = q
        look.next_at = t

    def remind(self, look):
        if look.n > self.ask_again:
            f = self.following(look)
            if f is not None:
                look.idx = f
                look.n = 0
        look.n += 1
        self.ask(look, self.contacts[look.idx])
        self.schedule(look)

    def miss(self, look):
        look.state = "missed"
        look.missed = True
        look.closed_at = self.now
        self.active.remove(look)
        self.emit("missed", look=look.kind, sitting=look.sitting.num if look.sitting else None)
        self.told("missed")
        if look.sitting:
            self.try_settle(look.sitting)

    # ---- settling
    def marks_of(self, s):
        """Fade times (seconds) of the marks of a sitting that have gone."""
        out = []
        for k in s.looks:
            if k.finding == "faded" and k.fade is not None:
                out.append(k.fade)
            elif k.finding == "marked" and k.recheck is not None and k.recheck.fade is not None:
                out.append(k.recheck.fade)
        return out

    def take_back(self, s):
        if s.credited:
            s.credited = False
            if s.run_id == self.run_id and self.run > 0:
                self.run -= 1

    def try_settle(self, s):
        if not s.needs_settle or s.void:
            return
        for k in s.looks:
            if k.live() or (k.recheck is not None and k.recheck.live()):
                return
        s.needs_settle = False
        first = s.run_id is None
        self.take_back(s)
        fades = self.marks_of(s)
        missed = any(k.missed for k in s.looks)
        cut = s.cut or any(k.by_mark for k in s.looks)
        why = None
        if s.cancelled:
            why = "no-sitting"
        elif missed:
            why = "missed"
        elif any(f > self.slow_fade for f in fades):
            why = "slow-fade"
        elif cut:
            why = "cut-short"
        if why is None:
            if first or s.run_id == self.run_id:
                self.run += 1
                s.run_id = self.run_id
            s.credited = True
            self.emit("credit", sitting=s.num, run=self.run)
        else:
            if why != "no-sitting":
                # a sitting from before a break by another counts in no run after it
                belongs = first or s.run_id == self.run_id
                self.break_run()
                if belongs:
                    s.run_id = self.run_id
            self.emit("no-credit", sitting=s.num, why=why)
        if not s.cancelled and not s.counted:
            s.counted = True
            if missed:
                self.row += 1
                if self.row >= self.missed_to_suspend and not self.suspended:
                    self.suspended = True
                    self.later.append("suspended")
            else:
                self.row = 0
        self.point(s, missed, cut)

    def point(self, s, missed, cut):
        """R19, R20."""
        self.points.pop(s.num, None)
        if s.cancelled or s.void or all(k.finding is None for k in s.looks):
            return
        seen = any(k.finding in ("faded", "marked") for k in s.looks)
        if (missed or cut) and not seen:
            return
        fades = self.marks_of(s)
        self.points[s.num] = (
            s.step,
            Fraction(s.sit, 60),
            Fraction(max(fades), 60) if fades else Fraction(0),
        )
        values = [self.points[n][2] for n in sorted(self.points) if self.points[n][0] == s.step]
        if rising(values):
            self.later.append("rising")

    # ---- midnight
    def midnight(self, day):
        st = self.steps[self.step - 1]
        if not self.stopped and not self.phase and self.run >= st["need"] and not self.unsettled():
            if self.step < len(self.steps):
                expect = self.projection(self.steps[self.step]["sit"])
                if expect is not None and expect > Fraction(self.fade_limit, 60):
                    self.break_run()
                    self.emit("held", step=self.step, expect_minutes=float(f"{float(expect):.1f}"))
                    self.told("projection")
                else:
                    self.step += 1
                    self.break_run()
                    self.emit("advanced", step=self.step)
            elif self.routine is not None:
                self.phase = day
                self.break_run()
                self.emit("routine")
        if self.phase:
            for n in sorted(set(self.routine["review_after_days"])):
                if self.phase + timedelta(days=n) == day:
                    self.emit("review", day=n)

    def projection(self, sit):
        pts = [self.points[n][1:] for n in sorted(self.points)][-10:]
        if len(pts) < 5 or len({p[0] for p in pts}) < 2:
            return None
        slopes = []
        for i in range(len(pts)):
            for j in range(i + 1, len(pts)):
                if pts[i][0] != pts[j][0]:
                    slopes.append((pts[j][1] - pts[i][1]) / (pts[j][0] - pts[i][0]))
        slope = median(slopes)
        inter = median([p[1] for p in pts]) - slope * median([p[0] for p in pts])
        return inter + slope * Fraction(sit, 60)

    # ---- stop and alerts
    def lift(self):
        self.suspended = False
        self.emit("unsuspended")
        self.resume_seq = self.next_seq()

    def mark_sites(self, look):
        if look.parent is not None:
            return look.parent.sites or look.sites
        return look.sites

    def do_stop(self, why, sites, sitting, alert=True):
        if self.suspended:
            self.lift()
        self.stopped = True
        self.emit("stopped", why=why, sites=list(sites))
        if sitting is not None:
            sitting.void = True
            self.points.pop(sitting.num, None)
        for s in self.sittings:
            if not s.void and s.needs_settle:
                s.void = True
        for k in list(self.active):
            self.withdraw(k)
        self.break_run()
        for c in self.contacts:
            self.emit("told-to-stop", to=c)
        self.alert = None
        if alert:
            self.raise_alert()

    def raise_alert(self):
        self.alert = Alert(self.now)
        self.send_alert(self.cover[0])

    def send_alert(self, to):
        n = self.alert.counts.get(to, 0)
        self.alert.counts[to] = n + 1
        self.alert.last = self.now
        self.emit("alerted", to=to, again=n)

    def alert_next(self):
        """Next sending after self.now (strictly), None if none."""
        a = self.alert
        if a is None or a.decided:
            return None
        if a.acked_by is not None:
            d = self.zone.day(self.now) - timedelta(days=1)
            while True:
                t = self.zone.resolve(d, self.bring_back)
                if t > self.now and t > a.acked_at:
                    return t
                d += timedelta(days=1)
        e = self.now - a.at
        t = a.at + (e // self.repeat_alert + 1) * self.repeat_alert
        if len(self.cover) > 1:
            t = min(t, a.at + (e // self.pass_on + 1) * self.pass_on)
        return t

    def alert_due(self):
        a = self.alert
        if a.decided or self.now == a.at:
            return
        if a.acked_by is not None:
            if self.now > a.acked_at and self.now in (
                self.zone.resolve(self.zone.day(self.now) + timedelta(days=k), self.bring_back)
                for k in (-1, 0, 1)
            ):
                self.send_alert(a.acked_by)
            return
        e = self.now - a.at
        due = e % self.repeat_alert == 0
        if len(self.cover) > 1 and e % self.pass_on == 0:
            due = True
        if due:
            self.send_alert(self.cover[(e // self.pass_on) % len(self.cover)])

    # ---- replies
    def reply(self, rep, look):
        if self.closed:
            self.set_aside(rep.who, "closed")
        elif rep.who in self.cover:
            self.clinician(rep)
        elif rep.who in self.requests:
            self.contact(rep, look)
        else:
            self.set_aside(rep.who, "not-asked")

    def clinician(self, rep):
        r, by = rep.reading, rep.who
        if r == "automatic":
            return
        if r not in CLIN:
            self.set_aside(by, "does-not-fit")
            return
        a = self.alert
        is_open = a is not None and not a.decided and a.acked_by is None
        if r == "seen":
            if is_open:
                self.ack(by)
            else:
                self.set_aside(by, "no-open-alert")
        elif r == "resume":
            if not self.stopped and not self.suspended:
                self.set_aside(by, "nothing-stopped")
                return
            to = None
            if rep.step is not None:
                if not 1 <= rep.step <= len(self.steps):
                    self.set_aside(by, "no-such-step")
                    return
                to = rep.step
            elif rep.sit is not None:
                for i, st in enumerate(self.steps):
                    if st["sit"] == rep.sit:
                        to = i + 1
                        break
                else:
                    self.set_aside(by, "no-such-step")
                    return
            named = to is not None
            if is_open:
                self.ack(by)
            if self.stopped:
                if to is None:
                    to = max(1, self.step - self.step_back)
                self.stopped = False
                self.alert = None
                self.phase = None
                self.step = to
                self.break_run()
                self.emit("resumed", by=by, step=to)
                self.resume_seq = self.next_seq()
            else:
                if named:
                    self.step = to
                    self.phase = None
                self.break_run()
                self.emit("resumed", by=by, step=self.step)
                self.lift()
        elif r == "keep-stopped":
            if self.stopped:
                if is_open:
                    self.ack(by)
                if self.alert is not None:
                    self.alert.decided = True
                self.emit("kept-stopped", by=by)
            else:
                self.do_stop("clinician", [], None, alert=False)
        elif r == "close":
            if is_open:
                self.ack(by)
            self.emit("closed", by=by)
            self.closed = True
            self.active = []
            self.alert = None
            self.habits = []

    def ack(self, by):
        self.alert.acked_by = by
        self.alert.acked_at = self.now
        self.emit("acknowledged", by=by)

    @staticmethod
    def fits(reading, kind):
        if kind == "ann":
            return reading in ("started", "no-sitting", "faded", "marked", "persisting", "alarming")
        if kind == "first":
            return True
        return reading not in ("started", "no-sitting")

    def select(self, rep):
        """The request a reply answers: ('ann', sitting), ('look', look) or None."""
        reqs = self.requests[rep.who]
        if rep.answers is not None:
            want = {
                "look": "first",
                "recheck": "recheck",
                "routine": "routine",
                "start": "ann",
            }.get(rep.answers)
            reqs = [q for q in reqs if (q[2].kind if q[1] == "look" else "ann") == want]
        if not reqs:
            return None
        if rep.answers is None and reqs[-1][1] == "look" and reqs[-1][2].unasked:
            return reqs[-1][1:]
        opened = [q for q in reqs if (q[2].ann_open() if q[1] == "ann" else q[2].open())]
        for q in reversed(opened):
            if self.fits(rep.reading, q[2].kind if q[1] == "look" else "ann"):
                return q[1:]
        if opened:
            return opened[-1][1:]
        return reqs[-1][1:]

    def newest_look(self, sitting=None):
        looks = [k for k in self.asked_looks if sitting is None or k.sitting is sitting]
        if not looks:
            return None
        return max(looks, key=lambda k: k.asked_seq)

    def open_sitting(self):
        for s in reversed(self.sittings):
            if s.ann_open():
                return s
        return None

    def new_unasked(self, who, sitting):
        k = Look("first" if sitting else "routine", sitting, self.now)
        k.unasked = True
        k.state = "open"
        k.asked_at = self.now
        k.order = k.asked_seq = k.last_seq = self.next_seq()
        k.counts[who] = 1
        k.miss_at = self.now + self.tell_after
        k.idx = self.contacts.index(who)
        if sitting:
            sitting.looks.append(k)
            if not sitting.void and not self.stopped:
                sitting.needs_settle = True
        self.active.append(k)
        self.asked_looks.append(k)
        self.requests[who].append((k.asked_seq, "look", k))
        return k

    def contact(self, rep, look):
        r, who = rep.reading, rep.who
        if r == "automatic":
            return
        if r in CLIN:
            self.set_aside(who, "does-not-fit")
            return
        if r not in CARE:
            raise ValueError(f"reading {r!r}")
        target = ("look", look) if look is not None else None
        if r == "started":
            if self.try_early(rep):
                return
        if target is None:
            target = self.select(rep)
        if target is None:
            if r in ("marked", "persisting", "alarming"):
                s = self.open_sitting()
                if s is not None:
                    target = ("look", self.new_unasked(who, s))
                else:
                    k = self.newest_look()
                    target = ("look", k if k is not None else self.new_unasked(who, None))
            else:
                self.set_aside(who, "not-asked")
                if r == "started":
                    self.told("unclear")
                return
        kind, what = target
        if kind == "ann":
            s = what
            if r in ("faded", "marked", "persisting", "alarming"):
                k = None if s.ann_open() else self.newest_look(s)
                if k is None:
                    k = self.new_unasked(who, s)
                self.to_look(rep, k)
            elif self.stopped:
                self.told("late-report")
            elif r in ("clear", "not-looked", "unclear"):
                self.set_aside(who, "does-not-fit")
            elif r == "no-sitting":
                self.no_sitting(s)
            else:
                self.started(rep, s, False, target)
            return
        self.to_look(rep, what)

    # ---- a reply to a look
    def answered(self, look, rep):
        shown = look.kind
        self.emit(
            "answered",
            look=shown,
            sitting=look.sitting.num if look.sitting else None,
            by=rep.who,
            reading=rep.reading,
            sites=rep.sites,
            minutes=rep.minutes,
        )

    def redirect(self, look, r):
        k = look.recheck
        if k is None:
            return look
        if k.asked_at is not None or k.finding is not None:
            return k
        if r == "faded" and k.state == "pending":
            return k
        return look

    def to_look(self, rep, look):
        r, who = rep.reading, rep.who
        look = self.redirect(look, r)
        shown = look
        if self.stopped:
            self.answered(shown, rep)
            self.told("late-report")
            if look.unasked and look.open():
                self.withdraw(look)
            if look.sitting and r in ("marked", "faded", "persisting", "alarming"):
                look.sitting.sites |= expand(rep.sites)
            if r == "alarming" and (
                self.alert is None or self.alert.decided or self.alert.acked_by is not None
            ):
                self.raise_alert()
            return
        if r == "not-looked":
            self.answered(shown, rep)
            return
        if r in FINDINGS:
            self.finding(rep, look, shown)
            return
        if r == "unclear" or not self.fits(r, look.kind):
            self.answered(shown, rep)
            self.unclear(look, who, r == "started")
            return
        s = look.sitting
        self.answered(shown, rep)
        if r == "no-sitting":
            self.no_sitting(s)
        else:
            self.started(rep, s, True, ("look", look))

    def unclear(self, look, who, tell):
        look.unclears += 1
        was_open = look.open()
        if was_open:
            self.ask(look, who)
        if look.unclears >= 2 or not was_open or tell:
            self.told("unclear")

    def no_sitting(self, s):
        if any(k.finding is not None for k in s.looks):
            self.told("correction")
        elif s.cancelled or s.void or s.ended or any(k.missed for k in s.looks):
            self.told("late-report")
        else:
            s.cancelled = True
            for k in s.looks:
                if k.live():
                    self.withdraw(k)
            self.try_settle(s)

    def takes_up(self, target):
        kind, what = target
        if kind == "look" and what.kind != "first":
            return False
        s = what if kind == "ann" else what.sitting
        return (
            s.cancelled
            and all(k.recheck is None for k in s.looks)
            and not self.suspended
            and not self.stopped
            and self.zone.day(s.start) == self.zone.day(self.now)
        )

    def take_up(self, rep, target):
        kind, what = target
        s = what if kind == "ann" else what.sitting
        s.cancelled = False
        s.needs_settle = True
        s.start = self.stated(self.now, rep.started_at)
        self.make_looks(s)
        self.emit("started", sitting=s.num, start=self.zone.fmt(s.start))

    def started(self, rep, s, to_look, target):
        if self.takes_up(target):
            self.take_up(rep, target)
            return
        if s.cancelled or s.ended or s.void:
            self.told("unclear")
            return
        if any(k.finding is not None or k.missed for k in s.looks):
            if not to_look:
                self.set_aside(rep.who, "does-not-fit")
            self.told("unclear")
            return
        s.start = self.stated(self.now, rep.started_at)
        self.emit("started", sitting=s.num, start=self.zone.fmt(s.start))
        for k in list(s.looks):
            if not k.live():
                continue
            due = s.start + k.offset
            if k.state == "pending":
                k.due = due
            elif due > self.now:
                self.withdraw(k)
                n = Look("first", s, due, k.offset)
                s.looks.append(n)
                self.active.append(n)

    def fade_of(self, rep, look, early):
        """R6, in seconds; None where the reply reports no mark gone."""
        r = rep.reading
        if r == "faded":
            if rep.minutes is not None:
                return rep.minutes * 60
            if early:
                return -((look.parent.look_time - self.now) // 60) * 60
            return self.fade_limit
        if r == "clear" and look.kind == "recheck":
            return rep.minutes * 60 if rep.minutes is not None else self.fade_limit
        return None

    def severity(self, r, look, fade, minutes):
        """(rank, fade) for the order of R18; what R11 stops on ranks with `persisting`."""
        if r == "alarming":
            return (4, 0)
        if r == "persisting" or (r == "marked" and look.kind == "recheck"):
            return (3, 0)
        if r == "marked":
            return (3, 0) if minutes is not None and minutes * 60 > self.fade_limit else (2, 0)
        if fade is not None and fade > self.fade_limit:
            return (3, 0)
        if r == "faded":
            return (1, fade)
        return (0, 0)

    def finding(self, rep, look, shown):
        r, who = rep.reading, rep.who
        early = look.kind == "recheck" and look.state == "pending"
        fade = self.fade_of(rep, look, early)
        sev = self.severity(r, look, fade, rep.minutes)
        same = False
        if look.finding is not None:
            same = sev == look.sev or (
                r == "faded" and look.finding == "faded" and rep.minutes is None
            )
        # R18: a look closed on an earlier local day
        if (
            r != "clear"
            and not early
            and not look.live()
            and look.closed_at is not None
            and self.zone.day(look.closed_at) < self.zone.day(self.now)
            and (look.recheck is None or not look.recheck.live())
            and not (r == look.finding == "faded" and (rep.minutes is None or fade == look.fade))
        ):
            look = self.new_unasked(who, self.open_sitting())
            shown = look
            early = look.kind == "recheck" and look.state == "pending"
            fade = self.fade_of(rep, look, early)
            sev = self.severity(r, look, fade, rep.minutes)
            same = False
        if look.live():
            cls = "answer"
        elif look.finding is not None and look.ans_seq > self.resume_seq:
            cls = "correction"
        else:
            cls = "late"
        had = look.finding is not None
        self.answered(shown, rep)
        if self.suspended:
            self.lift()
        s = look.sitting
        if cls == "correction":
            if same:
                return
            if sev < look.sev:
                self.told("correction")
                return
            if s is not None:
                self.take_back(s)
        elif cls == "late":
            self.told("late-report")
        # record
        old_sites = look.sites
        look.finding, look.fade, look.sev = r, fade, sev
        if rep.sites and r != "clear":
            look.sites = rep.sites
        look.ans_seq = self.next_seq()
        look.closed_at = self.now
        if look in self.active:
            self.active.remove(look)
        look.state = "answered"
        stops = sev[0] >= 3
        resettle = not (
            cls == "late" and had
        )  # an answer to a look answered before the last resume settles nothing anew
        if s is not None and not s.void and resettle:
            if cls == "correction":
                s.needs_settle = True
            elif cls == "late" and r != "clear":
                s.needs_settle = True
        # R13
        if s is not None and r != "clear":
            s.sites |= expand(rep.sites)
            if not stops and self.repeat and not s.repeat_told and rep.sites:
                last = [x for x in self.sittings if not x.cancelled][-self.repeat["of_last"] :]
                if any(
                    sum(site in x.sites for x in last) >= self.repeat["count"]
                    for site in expand(rep.sites)
                ):
                    s.repeat_told = True
                    self.told("repeat-marks")
        if stops:
            self.do_stop(
                "alarming" if r == "alarming" else "persisting",
                rep.sites or self.mark_sites(look) or old_sites,
                s,
            )
            return
        if r == "marked":
            self.mark(rep, look)
        elif r == "faded" or look.kind == "recheck":
            self.gone_at = self.now
        if s is not None:
            self.try_settle(s)
        elif (
            fade is not None
            and fade > self.slow_fade
            and resettle
            and not (look.parent is not None and look.parent.no_settle)
        ):
            self.break_run()
        if r == "marked":
            look.no_settle = not resettle

    def mark(self, rep, look):
        """R10."""
        look.look_time = self.stated(self.now, rep.look_at)
        own = look.sitting
        ended = []
        for s in self.sittings:
            if s.cancelled or s.void:
                continue
            if s is own:
                ended.append(s)
            elif not s.ended:
                if s.start <= self.now < s.end():
                    ended.append(s)
        for s in ended:
            if self.now < s.end() and not s.ended:
                s.cut = True
            s.ended = True
            for k in s.looks:
                if k is not look and k.live():
                    self.withdraw(k, by_mark=True)
        if look.recheck is None or not look.recheck.live():
            k = Look(
                "recheck",
                own,
                look.look_time + self.fade_limit,
                parent=look,
                first_to=self.contacts.index(rep.who),
            )
            look.recheck = k
            self.active.append(k)
        for s in ended:
            if s is not own:
                self.try_settle(s)


def median(v):
    v = sorted(v)
    n = len(v)
    return v[n // 2] if n % 2 else (v[n // 2 - 1] + v[n // 2]) / Fraction(2)


@lru_cache(maxsize=None)
def inversions(sizes):
    """Cumulative counts of inversions over all orders of a multiset with these group sizes.

    The counts are the coefficients of a Gaussian multinomial.
    """
    poly = [1]
    m = sizes[0]
    for k in sizes[1:]:
        for i in range(1, k + 1):
            a = m + i  # times (1 - q^a) / (1 - q^i)
            poly = poly + [0] * a
            for j in range(len(poly) - 1, a - 1, -1):
                poly[j] -= poly[j - a]
            for j in range(i, len(poly)):
                poly[j] += poly[j - i]
            while len(poly) > 1 and poly[-1] == 0:
                poly.pop()
        m += k
    total = 0
    cum = []
    for c in poly:
        total += c
        cum.append(total)
    return cum


def mann_kendall(values):
    """(S, P(S' >= S)) over all orders of the values, exact."""
    s = nontied = 0
    n = len(values)
    for i in range(n):
        for j in range(i + 1, n):
            if values[j] > values[i]:
                s += 1
                nontied += 1
            elif values[j] < values[i]:
                s -= 1
                nontied += 1
    groups = {}
    for v in values:
        groups[v] = groups.get(v, 0) + 1
    cum = inversions(tuple(sorted(groups.values(), reverse=True))) if values else [1]
    inv = (nontied - s) // 2
    return s, Fraction(cum[inv], cum[-1])


def rising(values):
    n = len(values)
    if n < 4 or values[-1] == values[0] == max(values) == min(values):
        return False
    s = 0
    for i in range(n):
        for j in range(i + 1, n):
            s += (values[j] > values[i]) - (values[j] < values[i])
    if s <= 0:
        return False  # by symmetry p >= 1/2
    return mann_kendall(values)[1] < Fraction(1, 20)


def run_text(text, base="."):
    return FollowUp(tomllib.loads(text), base).main()


def run_file(path):
    with open(path, "rb") as f:
        scen = tomllib.load(f)
    return FollowUp(scen, os.path.dirname(os.path.abspath(path))).main()


if __name__ == "__main__":
    if len(sys.argv) >= 2 and sys.argv[1] == "--many":
        for p in sys.argv[2:]:
            print("== " + p)
            try:
                lines = run_file(p)
                if lines:
                    print("\n".join(lines))
            except Exception as e:  # noqa: BLE001
                print("!! " + (str(e) or type(e).__name__))
    else:
        for line in run_file(sys.argv[1]):
            print(line)
