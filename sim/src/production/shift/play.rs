//! Decides how one shift goes: load by load, who begins when, what is finished.
//!
//! The rules: a place is loaded when the arm has left it and its person is free; people go round their places in the arm's order. It
//! is welded when it is loaded and the arm is free. A table turns when the arm has finished the side in front (and a service that
//! is due) and the side behind is loaded; nothing at it begins before it stands. A load counts when the arm has finished it before
//! the shift ends. With times that do not vary and no stoppages the period is that of `rhythm`: tests/closed_form.

use rand_chacha::ChaCha8Rng;

use super::ledger::{ArmTime, PeopleTime};
use super::model::{ShiftModel, Side};
use super::worker::{Done, Worker};
use crate::cell::{Curtain, Start};
use crate::streams::{even, stream};

/// How one shift went.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Played {
    /// When each load was finished, s from the start of the shift.
    pub finished: Vec<f64>,
    /// Parts finished.
    pub parts: u64,
    /// Of these, good ones.
    pub good: u64,
    /// Where the arm's time went.
    pub arm: ArmTime,
    /// Where the people's time went.
    pub people: PeopleTime,
}

/// A load that ends with the shift is not lost to rounding of a long sum, s.
const ROUNDING: f64 = 1e-6;

/// Plays one shift; `shift` numbers it among those of one `seed`.
#[must_use]
pub fn play(model: &ShiftModel, seed: u64, shift: u64) -> Played {
    let sides = || model.places.iter().flat_map(|place| &place.sides);
    // Where nothing takes time the shift would never end.
    if sides().map(|side| side.arm).sum::<f64>() <= 0.0 {
        return Played::default();
    }
    let mut run = Run {
        model,
        arm: Worker::new(model, None, seed, shift),
        people: (0..model.people).map(|person| Worker::new(model, Some(person), seed, shift)).collect(),
        places: model.places.iter().map(|_| State { loaded: 0.0, left: 0.0 }).collect(),
        loading: (0..sides().count()).map(|side| stream(seed, shift, &format!("loading {side}"))).collect(),
        curtain: stream(seed, shift, "curtain"),
        scrap: stream(seed, shift, "scrap"),
        loads: 0,
        played: Played::default(),
    };
    let last = (0..).find(|round| !run.round(*round)).unwrap_or_default();
    // The arm begins nothing more, but people load what it has left.
    run.round(last + 1);
    run.closes()
}

/// How a place stands.
struct State {
    /// When the next side to be welded is loaded.
    loaded: f64,
    /// When the arm has left it.
    left: f64,
}

struct Run<'m> {
    model: &'m ShiftModel,
    arm: Worker<'m>,
    people: Vec<Worker<'m>>,
    places: Vec<State>,
    /// One for each side of each place.
    loading: Vec<ChaCha8Rng>,
    curtain: ChaCha8Rng,
    scrap: ChaCha8Rng,
    loads: u64,
    played: Played,
}

/// A table on its way: until when it would turn, and until when it does.
struct Turn {
    start: f64,
    delay: f64,
    end: f64,
}

impl Run<'_> {
    /// The arm goes once round; false when the shift is over.
    fn round(&mut self, round: usize) -> bool {
        let mut first_side = 0;
        let mut goes_on = true;
        for (at, place) in self.model.places.iter().enumerate() {
            let side = &place.sides[round % place.sides.len()];
            let (ready, turn) = match place.sides.as_slice() {
                [side] => (self.stands(round, at, first_side, side), None),
                sides => {
                    let turn = self.turns(round, at, first_side, sides);
                    (turn.end, Some(turn))
                }
            };
            goes_on &= self.welds(at, side, ready, turn);
            first_side += place.sides.len();
        }
        goes_on
    }

    /// Loads a place that stands where it is; when it is ready for the arm.
    fn stands(&mut self, round: usize, at: usize, number: usize, side: &Side) -> f64 {
        if round > 0 || self.model.start == Start::Empty {
            let empty = round == 0;
            self.places[at].loaded = self.loads(side, number, self.places[at].left, empty);
        }
        self.places[at].loaded
    }

    /// Turns a table and loads the side that is then behind it.
    fn turns(&mut self, round: usize, at: usize, first: usize, sides: &[Side]) -> Turn {
        let count = sides.len();
        let begins_empty = self.model.start == Start::Empty;
        if round == 0 && begins_empty {
            self.places[at].loaded = self.loads(&sides[0], first, 0.0, true);
        }
        let turn = if round == 0 && !begins_empty {
            Turn { start: 0.0, delay: 0.0, end: 0.0 }
        } else {
            let start = self.places[at].loaded.max(self.places[at].left);
            let delay = self.trips();
            Turn { start, delay, end: start + sides[(round + count - 1) % count].turn + delay }
        };
        let behind = (round + 1) % count;
        let empty = begins_empty && round + 1 < count;
        self.places[at].loaded = self.loads(&sides[behind], first + behind, turn.end, empty);
        turn
    }

    /// A person loads a side; when that is done.
    fn loads(&mut self, side: &Side, number: usize, ready: f64, empty: bool) -> f64 {
        let free = self.people[side.person].free;
        let ready = ready.max(free);
        if ready >= self.model.length {
            return self.never_loads(side.person, ready);
        }
        let work = side.draw(empty, &mut self.loading[number]);
        let done = self.people[side.person].does(ready, work, 0.0);
        let waited = self.between(free, done.ready) - self.breaks(free, done.ready);
        let resting = self.breaks(done.ready, done.start);
        let stopped =
            self.between(done.ready, done.start) - resting + self.between(done.undisturbed, done.end);
        self.played.people += PeopleTime {
            working: self.between(done.start, done.undisturbed),
            stopped,
            waiting: waited,
            breaks: self.breaks(free, done.ready) + resting,
        };
        done.end
    }

    /// What a person waits for does not come before the shift ends; they load nothing more.
    fn never_loads(&mut self, person: usize, ready: f64) -> f64 {
        let free = std::mem::replace(&mut self.people[person].free, ready);
        let breaks = self.breaks(free, ready);
        let waiting = self.between(free, ready) - breaks;
        self.played.people += PeopleTime { waiting, breaks, ..PeopleTime::default() };
        f64::INFINITY
    }

    /// Someone may step into the light curtain: the time that costs.
    fn trips(&mut self) -> f64 {
        let Some(Curtain { share, clear }) = self.model.curtain else { return 0.0 };
        if even(&mut self.curtain) < share { clear } else { 0.0 }
    }

    /// The arm welds what stands before it, and then does what service is due; false when the shift is over before it begins.
    fn welds(&mut self, at: usize, side: &Side, ready: f64, turn: Option<Turn>) -> bool {
        let free = self.arm.free;
        let at_table = turn.is_some();
        let ready = ready.max(free);
        if ready >= self.model.length {
            self.waits(free, ready, turn);
            self.arm.free = ready;
            self.places[at].left = f64::INFINITY;
            return false;
        }
        let trip = if at_table { 0.0 } else { self.trips() };
        let done = self.arm.does(ready, side.arm + trip, side.arc);
        self.waits(free, done.ready, turn);
        self.begins(&done);
        let worked = self.between(done.start, done.undisturbed);
        let work = side.arm + trip;
        let of_work = |part: f64| if work > 0.0 { worked * part / work } else { 0.0 };
        self.played.arm += ArmTime {
            arc: of_work(side.arc),
            moving: of_work(side.arm - side.arc),
            curtain: of_work(trip),
            stopped: self.between(done.undisturbed, done.end),
            ..ArmTime::default()
        };
        if done.start >= self.model.length {
            self.places[at].left = f64::INFINITY;
            return false;
        }
        self.places[at].left = done.end;
        if done.end <= self.model.length + ROUNDING {
            let good = (0..side.parts).filter(|_| even(&mut self.scrap) >= self.model.scrap).count();
            self.played.finished.push(done.end);
            self.played.parts += u64::from(side.parts);
            self.played.good += good as u64;
        }
        self.loads += 1;
        self.serves();
        if at_table {
            self.places[at].left = self.arm.free;
        }
        true
    }

    /// Regular stops that are due.
    fn serves(&mut self) {
        let loads = self.loads;
        let due = self.model.services.iter().filter(|stop| loads.is_multiple_of(u64::from(stop.every_loads)));
        let duration: f64 = due.map(|stop| stop.duration).sum();
        if duration > 0.0 {
            let done = self.arm.does(self.arm.free, duration, 0.0);
            self.begins(&done);
            self.played.arm.service += self.between(done.start, done.undisturbed);
            self.played.arm.stopped += self.between(done.undisturbed, done.end);
        }
    }

    /// The arm was free and nothing was ready.
    fn waits(&mut self, free: f64, ready: f64, turn: Option<Turn>) {
        let (until, turning, curtain) = match turn {
            Some(turn) => {
                let from = turn.start.clamp(free, ready);
                // The delay counts last: the time without it is the turn's own.
                let own = (turn.end - turn.delay).clamp(from, ready);
                (from, self.between(from, own), self.between(own, ready))
            }
            None => (ready, 0.0, 0.0),
        };
        let breaks = self.breaks(free, until);
        let waiting = self.between(free, until) - breaks;
        self.played.arm += ArmTime { turning, curtain, waiting, breaks, ..ArmTime::default() };
    }

    /// What was ready for the arm was not begun at once: a break, or a repair.
    fn begins(&mut self, done: &Done) {
        let breaks = self.breaks(done.ready, done.start);
        let stopped = self.between(done.ready, done.start) - breaks;
        self.played.arm += ArmTime { stopped, breaks, ..ArmTime::default() };
    }

    /// What is left of everyone's time when the arm begins nothing more.
    fn closes(mut self) -> Played {
        for person in 0..self.people.len() {
            let free = self.people[person].free;
            let breaks = self.breaks(free, self.model.length);
            let waiting = self.between(free, self.model.length) - breaks;
            self.played.people += PeopleTime { waiting, breaks, ..PeopleTime::default() };
        }
        self.played
    }

    /// Time from `start` to `end` within the shift.
    fn between(&self, start: f64, end: f64) -> f64 {
        (end.min(self.model.length) - start.min(self.model.length)).max(0.0)
    }

    /// Of it, breaks.
    fn breaks(&self, start: f64, end: f64) -> f64 {
        let breaks = self.model.breaks.iter();
        breaks.map(|pause| self.between(start.max(pause.start), end.min(pause.start + pause.duration))).sum()
    }
}
