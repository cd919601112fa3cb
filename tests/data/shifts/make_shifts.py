"""Plays shifts of a weld cell with SimPy and writes what came out to shifts.csv.

    python -m venv venv && venv/bin/pip install simpy==4.1.2
    venv/bin/python tests/data/shifts/make_shifts.py > tests/data/shifts/shifts.csv

Arm, people, tables and stoppages are processes that hand one another tokens; nothing of the program's own method (a recursion from
load to load) is used. Rules, as scenes/README.md states them: a load that was begun before a break is finished, and the break ends
when it should; what a stoppage interrupts goes on where it stopped; repairs of one worker follow one another; time between
stoppages starts when the one before is over; a stoppage on arc time makes its load longer; a service comes after the load that makes
its number full, and a table does not turn before it is over; a load counts when the arm has finished it before the shift ends; each
person does what is theirs in the order in which the arm makes it free; whoever waits for a table or a fixture loses what someone in the
light curtain holds it up, the last part of the wait.
"""

import math
import random
import sys

import simpy

HEAD = (
    "id,kind,arm_s,arc_s,load_s,unload_s,clamp_s,spread_s,turn_s,person,start,length_s,breaks,service,stoppages,curtain,"
    "shifts,place,ahead,parts_mean,parts_standard_error,finished_sum_s,people_working_s,people_curtain_s,source"
)


class Worker:
    """The arm or a person: works, is interrupted, repairs wait for one another."""

    def __init__(self, env, breaks):
        self.env = env
        self.breaks = breaks
        self.mechanic = simpy.Resource(env, 1)
        self.down = 0
        self.up = env.event()
        self.process = None
        self.worked = 0.0
        self.since = None

    def strikes(self, draw_between, draw_repair):
        while True:
            yield self.env.timeout(draw_between())
            self.down += 1
            if self.process is not None:
                self.process.interrupt()
            with self.mechanic.request() as turn:
                yield turn
                yield self.env.timeout(draw_repair())
            self.down -= 1
            if self.down == 0:
                self.up.succeed()
                self.up = self.env.event()

    def begin(self):
        while True:
            if self.down:
                yield self.up
                continue
            now = self.env.now
            pause = next((b for b in self.breaks if b[0] <= now < b[0] + b[1]), None)
            if pause is None:
                return
            yield self.env.timeout(pause[0] + pause[1] - now)

    def work(self, process, duration, length=math.inf):
        yield from self.begin()
        remaining = duration
        while remaining > 0:
            since = self.env.now
            self.process = process
            self.since = since
            try:
                yield self.env.timeout(remaining)
                remaining = 0
            except simpy.Interrupt:
                remaining -= self.env.now - since
            self.process = None
            self.since = None
            self.worked += max(0.0, min(self.env.now, length) - min(since, length))
            while remaining > 0 and self.down:
                yield self.up


def play(case, rng):
    if case["kind"] == "several":
        return play_several(case, rng)
    env = simpy.Environment()
    arm = Worker(env, [b for b in case["breaks"] if not b[2]])
    people = [Worker(env, case["breaks"]) for _ in range(max(case["person"]) + 1)]
    sides = len(case["arm"])
    finished = []

    def draw(law, mean):
        return (lambda: mean) if law == "fixed" else (lambda: rng.expovariate(1.0 / mean))

    arc_stops = []
    for who, clock, law, between, repair in case["stoppages"]:
        if clock == "arc":
            arc_stops.append([draw(law, between), draw(law, repair), 0.0])
        elif who == "arm":
            env.process(arm.strikes(draw(law, between), draw(law, repair)))
        else:
            assert len(people) == 1, "everyone is stopped at the same times"
            env.process(people[0].strikes(draw(law, between), draw(law, repair)))
    for stop in arc_stops:
        stop[2] = stop[0]()

    def trip():
        share, clear = case["curtain"]
        return clear if rng.random() < share else 0.0

    def person_time(side, empty):
        hands = case["load"][side] + (0.0 if empty else case["unload"][side])
        if case["spread"][side] > 0:
            hands = max(0.0, rng.gauss(hands, case["spread"][side]))
        return hands + case["clamp"][side]

    loads = 0

    def weld(side, extra):
        nonlocal loads
        work = case["arm"][side] + extra
        for stop in arc_stops:
            stop[2] -= case["arc"][side]
            while stop[2] <= 0:
                work += stop[1]()
                stop[2] += stop[0]()
        yield from arm.work(arm_process, work)
        finished.append(env.now)
        loads += 1

    def serve():
        due = sum(duration for duration, every in case["service"] if loads % every == 0)
        if due > 0:
            yield from arm.work(arm_process, due)

    loaded_start = case["start"] == "loaded"
    if case["kind"] == "fixed":
        loaded = [simpy.Store(env) for _ in range(sides)]
        left = [simpy.Store(env) for _ in range(sides)]
        if loaded_start:
            for store in loaded:
                store.put(1)

        def arm_goes():
            while True:
                for side in range(sides):
                    yield loaded[side].get()
                    yield from weld(side, trip())
                    left[side].put(1)
                    yield from serve()

        def person_goes(me):
            first = not loaded_start
            while True:
                for side in range(sides):
                    if case["person"][side] != me:
                        continue
                    if not first:
                        yield left[side].get()
                    yield from people[me].work(person_processes[me], person_time(side, first), case["length"])
                    loaded[side].put(1)
                first = False

        arm_process = env.process(arm_goes())
        person_processes = [env.process(person_goes(me)) for me in range(len(people))]
    else:
        assert len(people) == 1
        behind, before = simpy.Store(env), simpy.Store(env)
        stands_arm, stands_person = simpy.Store(env), simpy.Store(env)

        def table_turns():
            # The side in front, counted up; it begins with side 0 in front, or with the last one, which is empty.
            front = 0
            if loaded_start:
                stands_arm.put(0)
                stands_person.put(0)
            else:
                front = sides - 1
                before.put(1)
            while True:
                yield behind.get()
                yield before.get()
                yield env.timeout(case["turn"][front] + trip())
                front = (front + 1) % sides
                stands_arm.put(front)
                stands_person.put(front)

        def arm_goes():
            while True:
                side = yield stands_arm.get()
                yield from weld(side, 0.0)
                yield from serve()
                before.put(1)

        def person_goes():
            done = 0
            if not loaded_start:
                yield from people[0].work(person_processes[0], person_time(0, True), case["length"])
                behind.put(1)
                done = 1
            while True:
                front = yield stands_person.get()
                side = (front + 1) % sides
                empty = not loaded_start and done < sides
                yield from people[0].work(person_processes[0], person_time(side, empty), case["length"])
                behind.put(1)
                done += 1

        env.process(table_turns())
        arm_process = env.process(arm_goes())
        person_processes = [env.process(person_goes())]

    env.run(until=case["length"] + 1e-6)
    under_way = sum(case["length"] - person.since for person in people if person.since is not None and person.since < case["length"])
    return finished, under_way + sum(person.worked for person in people), 0.0


def play_several(case, rng):
    """Tables beside tables and fixtures, without stoppages: every station is a process of tokens of its own."""
    assert not case["stoppages"] and not case["service"]
    env = simpy.Environment()
    length = case["length"]
    arm = Worker(env, [b for b in case["breaks"] if not b[2]])
    people = [Worker(env, case["breaks"]) for _ in range(max(case["person"]) + 1)]
    stations = len(case["arm"])
    members = {}
    for station, name in enumerate(case["place"]):
        members.setdefault(name, []).append(station)
    begins_empty = case["start"] == "empty"
    share, clear = case["curtain"]
    finished, loaded_before = [], set()
    # Tokens: a station is before the arm; a station may be loaded (with when that came, and how long it was held up).
    before_arm = [simpy.Store(env) for _ in range(stations)]
    may_load = [simpy.Store(env) for _ in range(stations)]
    # For tables: the side before the person is loaded; the arm has left the side before it.
    side_loaded = {name: simpy.Store(env) for name in members}
    side_left = {name: simpy.Store(env) for name in members}
    # What is on its way when the shift ends: until when, and how long of it someone holds it up.
    coming = {}
    curtain = [0.0] * len(people)
    waits = {}

    def trip():
        return clear if rng.random() < share else 0.0

    def ahead_of(name):
        return 1 + (case["ahead"] - 1) % (len(members[name]) - 1)

    def lost(since, end, delay):
        return max(0.0, min(end, length) - max(since, end - delay))

    def table_turns(name):
        sides, ahead = members[name], ahead_of(name)
        front = len(sides) - ahead if begins_empty else 0
        stands_empty = ahead if begins_empty else 0
        if not begins_empty:
            before_arm[sides[0]].put(1)
            may_load[sides[ahead % len(sides)]].put((0.0, 0.0))
        while True:
            yield side_loaded[name].get()
            if stands_empty > 0:
                stands_empty -= 1
            else:
                yield side_left[name].get()
            delay = trip()
            end = env.now + case["turn"][sides[front % len(sides)]] + delay
            front += 1
            behind = sides[(front + ahead) % len(sides)]
            coming[behind] = (end, delay)
            yield env.timeout(end - env.now)
            if stands_empty == 0:
                before_arm[sides[front % len(sides)]].put(1)
            may_load[behind].put((end, delay))

    def arm_goes():
        while True:
            for station, name in enumerate(case["place"]):
                yield before_arm[station].get()
                fixture = len(members[name]) == 1
                delay = trip() if fixture else 0.0
                yield from arm.begin()
                if fixture:
                    coming[station] = (env.now + case["arm"][station] + delay, delay)
                yield from arm.work(arm_process, case["arm"][station] + delay)
                finished.append(env.now)
                if fixture:
                    may_load[station].put((env.now, delay))
                else:
                    side_left[name].put(1)

    def loads(me, station, waits_for_it):
        name = case["place"][station]
        if waits_for_it:
            since = env.now
            waits[me] = (since, station)
            end, delay = yield may_load[station].get()
            del waits[me]
            curtain[me] += lost(since, end, delay)
        empty = begins_empty and station not in loaded_before
        loaded_before.add(station)
        hands = case["load"][station] + (0.0 if empty else case["unload"][station])
        if case["spread"][station] > 0:
            hands = max(0.0, rng.gauss(hands, case["spread"][station]))
        yield from people[me].work(person_processes[me], hands + case["clamp"][station], length)
        if len(members[name]) == 1:
            before_arm[station].put(1)
        else:
            side_loaded[name].put(1)

    def person_goes(me):
        # Before the arm first comes, place after place.
        for sides in members.values():
            if len(sides) == 1:
                tasks = [(sides[0], False)] if begins_empty else []
            else:
                ahead = ahead_of(case["place"][sides[0]])
                firsts = range(ahead + 1) if begins_empty else [ahead]
                tasks = [(sides[side % len(sides)], not begins_empty or side > 0) for side in firsts]
            for station, waits_for_it in tasks:
                if case["person"][station] == me:
                    yield from loads(me, station, waits_for_it)
        while True:
            for station, name in enumerate(case["place"]):
                sides = members[name]
                if len(sides) > 1:
                    station = sides[(sides.index(station) + 1 + ahead_of(name)) % len(sides)]
                if case["person"][station] == me:
                    yield from loads(me, station, True)

    for name, sides in members.items():
        if len(sides) > 1:
            env.process(table_turns(name))
        elif not begins_empty:
            before_arm[sides[0]].put(1)
    arm_process = env.process(arm_goes())
    person_processes = [env.process(person_goes(me)) for me in range(len(people))]
    env.run(until=length + 1e-6)
    for me, (since, station) in waits.items():
        if station in coming and coming[station][0] > length:
            curtain[me] += lost(since, *coming[station])
    under_way = sum(length - person.since for person in people if person.since is not None and person.since < length)
    return finished, under_way + sum(person.worked for person in people), sum(curtain)


def case(id, kind, arm, load, **more):
    sides = len(arm)
    whole = dict(
        id=id, kind=kind, arm=arm, load=load, arc=[0.75 * t for t in arm], unload=[0.0] * sides, clamp=[0.0] * sides,
        spread=[0.0] * sides, turn=[0.0] * sides, person=[0] * sides, start="loaded", length=28800.0, breaks=[],
        service=[], stoppages=[], curtain=(0.0, 0.0), shifts=1, place=[], ahead=1,
    )
    whole.update(more)
    return whole


BREAKS = [(7000.0, 900.0, False), (14400.0, 1800.0, False), (21600.0, 900.0, False)]
COVERED = [(7000.0, 900.0, True), (14400.0, 1800.0, True)]
CASES = [
    case("table, the arm sets the pace", "table", [60.0, 60.0], [45.0, 45.0], turn=[5.0, 5.0]),
    case("table, the person sets the pace", "table", [60.0, 60.0], [75.0, 75.0], turn=[5.0, 5.0]),
    case("table, unlike sides, begins empty", "table", [60.0, 40.0], [35.0, 41.0], unload=[6.0, 9.0], clamp=[4.0, 5.0],
         turn=[5.0, 6.5], start="empty"),
    case("table of three sides", "table", [50.0, 61.0, 40.0], [30.0, 44.0, 52.0], turn=[4.0, 4.0, 4.0], start="empty"),
    case("table with service and breaks", "table", [60.0, 60.0], [40.0, 40.0], unload=[9.0, 9.0], clamp=[7.0, 7.0],
         turn=[5.0, 5.0], service=[(12.0, 10), (45.5, 37)], breaks=BREAKS, start="empty"),
    case("table, the arm goes on in breaks", "table", [400.0, 400.0], [90.0, 90.0], turn=[5.0, 5.0], breaks=COVERED),
    case("one fixture", "fixed", [60.0], [45.0], start="empty"),
    case("two fixed, one person", "fixed", [50.0, 50.0], [20.0, 90.0]),
    case("two fixed, two people", "fixed", [50.0, 55.0], [70.0, 90.0], person=[0, 1], start="empty"),
    case("three fixed, one person, service", "fixed", [50.0, 71.0, 33.0], [40.0, 38.0, 57.0], service=[(20.0, 7)],
         breaks=BREAKS, start="empty"),
    case("three fixed, two people", "fixed", [50.0, 71.0, 33.0], [90.0, 88.0, 77.0], person=[0, 1, 0], breaks=BREAKS),
    case("regular stoppages of the arm", "table", [60.0, 60.0], [45.0, 45.0], turn=[5.0, 5.0],
         stoppages=[("arm", "clock", "fixed", 3601.0, 300.5), ("arm", "clock", "fixed", 1753.0, 77.25)]),
    case("regular stoppages on arc time", "table", [60.0, 60.0], [45.0, 45.0], turn=[5.0, 5.0],
         stoppages=[("arm", "arc", "fixed", 1001.0, 123.0)]),
    case("parts run out at regular times", "fixed", [60.0, 60.0], [45.0, 45.0],
         stoppages=[("people", "clock", "fixed", 3601.0, 300.5)], breaks=BREAKS),
    case("load times vary, table", "table", [60.0, 60.0], [40.0, 40.0], unload=[10.0, 10.0], clamp=[9.0, 9.0],
         spread=[8.0, 8.0], turn=[5.0, 5.0], start="empty", shifts=2000),
    case("load times vary, two fixed, two people", "fixed", [50.0, 55.0], [50.0, 60.0], spread=[10.0, 15.0], person=[0, 1],
         start="empty", shifts=2000),
    case("stoppages as they come", "table", [60.0, 60.0], [45.0, 45.0], clamp=[9.0, 9.0], turn=[5.0, 5.0], start="empty",
         stoppages=[("arm", "clock", "exponential", 7200.0, 300.0), ("arm", "arc", "exponential", 3600.0, 240.0)],
         shifts=2000),
    case("everything at once", "table", [60.0, 58.0], [40.0, 40.0], unload=[10.0, 10.0], clamp=[9.0, 9.0], spread=[6.0, 6.0],
         turn=[5.0, 5.0], start="empty", breaks=BREAKS, service=[(12.0, 10)], curtain=(0.02, 40.0),
         stoppages=[("arm", "clock", "exponential", 7200.0, 300.0), ("arm", "arc", "exponential", 3600.0, 240.0),
                    ("people", "clock", "exponential", 5400.0, 400.0)], shifts=2000),
    case("everything at once, three fixed", "fixed", [60.0, 58.0, 40.0], [40.0, 35.0, 50.0], clamp=[9.0, 9.0, 9.0],
         spread=[6.0, 6.0, 6.0], start="empty", breaks=BREAKS, service=[(12.0, 10)], curtain=(0.02, 40.0),
         stoppages=[("arm", "clock", "exponential", 7200.0, 300.0), ("arm", "arc", "exponential", 3600.0, 240.0),
                    ("people", "clock", "exponential", 5400.0, 400.0)], shifts=2000),
    case("table of four sides, loaded two turns ahead", "several", [50.0, 61.0, 40.0, 33.0], [30.0, 44.0, 52.0, 71.0],
         unload=[5.0, 6.0, 7.0, 8.0], turn=[4.0, 4.5, 4.0, 6.0], place=[0, 0, 0, 0], ahead=2, start="empty"),
    case("table of six sides, one without seams, zero load time at one", "several", [50.0, 61.0, 0.0, 33.0, 47.0, 52.0],
         [30.0, 44.0, 52.0, 0.0, 61.0, 40.0], turn=[4.0] * 6, place=[0] * 6, ahead=5, start="empty"),
    case("two tables, one person", "several", [60.0, 55.0, 41.0, 58.0], [30.0, 42.0, 37.0, 25.0], turn=[5.0, 6.0, 5.5, 7.0],
         place=[0, 1, 0, 1], start="empty"),
    case("two tables side after side, two people", "several", [60.0, 55.0, 41.0, 58.0], [90.0, 82.0, 77.0, 85.0],
         turn=[5.0, 6.0, 5.5, 7.0], person=[0, 0, 1, 1], place=[0, 0, 1, 1], breaks=BREAKS),
    case("table beside a fixture", "several", [60.0, 40.0, 50.0], [30.0, 20.0, 30.0], turn=[5.0, 0.0, 5.0], place=[0, 1, 0],
         unload=[9.0, 8.0, 7.0], start="empty", breaks=BREAKS),
    case("table of three beside two fixtures, two people", "several", [60.0, 40.0, 50.0, 35.0, 44.0],
         [80.0, 95.0, 70.0, 66.0, 72.0], turn=[5.0, 0.0, 5.0, 0.0, 5.0], person=[0, 1, 0, 1, 0], place=[0, 1, 0, 2, 0], ahead=2),
    case("someone in the curtain at every turn", "several", [60.0, 40.0, 50.0], [30.0, 20.0, 30.0], turn=[5.0, 0.0, 5.0],
         place=[0, 1, 0], curtain=(1.0, 17.0), start="empty"),
    case("someone in the curtain at every turn of a table of three", "several", [60.0, 40.0, 50.0], [30.0, 70.0, 30.0],
         turn=[5.0, 4.0, 5.0], place=[0, 0, 0], curtain=(1.0, 12.5)),
    case("one person for three fixtures in the curtain at every load", "several", [60.0, 40.0, 50.0], [30.0, 20.0, 30.0],
         place=[0, 1, 2], curtain=(1.0, 11.0), start="empty"),
    case("load times vary, two tables and a fixture, two people", "several", [60.0, 55.0, 40.0, 41.0, 58.0],
         [50.0, 62.0, 80.0, 57.0, 65.0], spread=[8.0, 9.0, 12.0, 7.0, 9.0], turn=[5.0, 6.0, 0.0, 5.5, 7.0],
         person=[0, 0, 1, 0, 0], place=[0, 1, 2, 0, 1], start="empty", breaks=BREAKS, curtain=(0.03, 40.0), shifts=2000),
]


def words(values):
    return ";".join(f"{value:g}" for value in values)


def main():
    print(HEAD)
    for one in CASES:
        rng = random.Random(20240611)
        runs = [play(one, rng) for _ in range(one["shifts"])]
        counts = [len(finished) for finished, *_ in runs]
        mean = sum(counts) / len(counts)
        error = 0.0
        if len(counts) > 1:
            error = math.sqrt(sum((count - mean) ** 2 for count in counts) / (len(counts) - 1) / len(counts))
        sums = sum(sum(finished) for finished, *_ in runs) / len(runs)
        working = sum(working for _, working, _ in runs) / len(runs)
        curtain = sum(curtain for *_, curtain in runs) / len(runs)
        columns = [
            f'"{one["id"]}"', one["kind"], words(one["arm"]), words(one["arc"]), words(one["load"]), words(one["unload"]),
            words(one["clamp"]), words(one["spread"]), words(one["turn"]), words(one["person"]), one["start"],
            f'{one["length"]:g}', ";".join(f"{s:g}:{d:g}:{int(a)}" for s, d, a in one["breaks"]),
            ";".join(f"{d:g}:{n}" for d, n in one["service"]),
            ";".join(f"{w}:{c}:{l}:{b:g}:{r:g}" for w, c, l, b, r in one["stoppages"]),
            f'{one["curtain"][0]:g}:{one["curtain"][1]:g}', str(one["shifts"]), words(one["place"]), str(one["ahead"]), f"{mean:.6f}",
            f"{error:.6f}", f"{sums:.6f}", f"{working:.6f}", f"{curtain:.6f}" if one["kind"] == "several" else "", f"SimPy {simpy.__version__}",
        ]
        print(",".join(columns))
        print(one["id"], mean, error, file=sys.stderr)


main()
