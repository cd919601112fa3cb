//! Decides how one shift goes: load by load, who begins when, what is finished.
//!
//! The rules: a place is loaded when the arm has left it, what was welded has cooled and its person is free; people do what is theirs in the order in which the arm
//! makes it free. It is welded when it is loaded and the arm is free. Axes go on to the next place when the arm has left and what they
//! move is loaded; what they move is loaded when they have stopped. A service that is due comes before them where they may have to wait
//! for someone who loads, and after them where not. A table turns when the arm has finished the side before it (and
//! a service that is due) and the side in front of the person is loaded; nothing at it begins before it stands. A load counts when the
//! arm has finished it before the shift ends. With times that do not vary and no stoppages the period is that of `round`:
//! tests/closed_form.

use rand_chacha::ChaCha8Rng;

use super::ledger::{ArmTime, PeopleTime};
use super::model::{Place, ShiftModel, Side};
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
        places: Vec::new(),
        loaded: vec![0.0; sides().count()],
        left: vec![f64::NEG_INFINITY; sides().count()],
        loading: (0..sides().count()).map(|side| stream(seed, shift, &format!("loading {side}"))).collect(),
        curtain: stream(seed, shift, "curtain"),
        scrap: stream(seed, shift, "scrap"),
        loads: 0,
        served: None,
        played: Played::default(),
    };
    let mut first_side = 0;
    for place in &model.places {
        let begun = run.begun(place, first_side);
        run.places.push(begun);
        first_side += place.sides.len();
    }
    for at in model.order.iter().cycle() {
        if !run.visits(*at) {
            break;
        }
    }
    run.closes()
}

/// How a place stands.
#[derive(Clone, Copy)]
struct State {
    /// Number of its first side among all.
    first_side: usize,
    /// How often the arm has been there.
    visits: usize,
    /// When it is ready for the arm: loaded and, where it is a table, turned.
    ready: f64,
    /// When it would have been if the arm had done no service after its last load.
    ready_unserved: f64,
    /// The table's last turn.
    turn: Option<Turn>,
    /// Where it is a table: when the side in front of the person is loaded.
    loaded: f64,
}

struct Run<'m> {
    model: &'m ShiftModel,
    arm: Worker<'m>,
    people: Vec<Worker<'m>>,
    places: Vec<State>,
    /// When each side of each place is loaded, as far as that is known.
    loaded: Vec<f64>,
    /// When the arm has left each side last.
    left: Vec<f64>,
    /// One for each side of each place.
    loading: Vec<ChaCha8Rng>,
    curtain: ChaCha8Rng,
    scrap: ChaCha8Rng,
    loads: u64,
    /// From when to when the arm did service after its last load.
    served: Option<[f64; 2]>,
    played: Played,
}

/// A table on its way: until when it would turn, and until when it does.
#[derive(Clone, Copy)]
struct Turn {
    start: f64,
    delay: f64,
    end: f64,
}

/// What someone waits for before loading.
struct Free {
    /// When it is there.
    at: f64,
    /// How long it was held up by someone in the light curtain.
    delay: f64,
}

impl Run<'_> {
    /// A place before the arm first comes to it.
    fn begun(&mut self, place: &Place, first_side: usize) -> State {
        let begins_empty = self.model.start == Start::Empty;
        let mut state =
            State { first_side, visits: 0, ready: 0.0, ready_unserved: 0.0, turn: None, loaded: 0.0 };
        let (sides, count) = (&place.sides, place.sides.len());
        if let [side] = sides.as_slice() {
            if begins_empty {
                state.ready = self.loads(side, first_side, &Free { at: 0.0, delay: 0.0 }, true);
                state.ready_unserved = state.ready;
            }
            return state;
        }
        let mut turn = Turn { start: 0.0, delay: 0.0, end: 0.0 };
        if begins_empty {
            // Side after side is loaded until the first of them comes before the arm.
            for side in 0..place.ahead {
                let free = Free { at: turn.end, delay: turn.delay };
                let loaded = self.loads(&sides[side % count], first_side + side % count, &free, side < count);
                turn = self.turns(loaded, &sides[(count - place.ahead + side) % count]);
            }
        }
        self.stands(state, place, turn)
    }

    /// The arm goes to a place; false when the shift is over.
    fn visits(&mut self, at: usize) -> bool {
        let place = &self.model.places[at];
        let index = self.places[at].visits % place.sides.len();
        let side = &place.sides[index];
        let State { first_side, ready, ready_unserved, turn, .. } = self.places[at];
        let stands = self.all_loaded(&side.moves);
        self.serves_while_waiting(ready_unserved.max(stands));
        let Some(left) = self.welds(side, ready.max(stands), turn) else { return false };
        self.left[first_side + index] = left.at;
        let left = self.goes_on(side, first_side + index, left);
        self.places[at].visits += 1;
        if place.sides.len() == 1 {
            let ready = self.loads(side, self.places[at].first_side, &left, false);
            self.places[at] = State { ready, ready_unserved: ready, ..self.places[at] };
        } else {
            // A service that is due comes before the turn.
            let loaded = self.places[at].loaded;
            let turn = self.turns(loaded.max(self.arm.free), side);
            let stands = self.stands(self.places[at], place, turn);
            let unserved = turn.end - turn.start + loaded.max(left.at);
            // A table that is never loaded never turns.
            let ready_unserved = if turn.end.is_finite() { unserved } else { turn.end };
            self.places[at] = State { ready_unserved, ..stands };
        }
        true
    }

    /// Axes go on to the next place, and a service that is due is done; from when what was welded can be loaded.
    fn goes_on(&mut self, side: &Side, number: usize, left: Free) -> Free {
        let waits = side.way_moves.iter().any(|moved| *moved != number);
        if waits {
            self.serves();
        }
        let stand = self.moves_on(side);
        if !waits {
            self.serves();
        }
        if side.way_moves.contains(&number) { Free { at: stand, ..left } } else { left }
    }

    /// The arm stands while axes go on with everything that they move loaded; when they stand.
    fn moves_on(&mut self, side: &Side) -> f64 {
        if side.way <= 0.0 {
            return self.arm.free;
        }
        let loaded = self.all_loaded(&side.way_moves);
        let served = self.served;
        self.serves_while_waiting(loaded);
        let free = self.arm.free;
        let ready = free.max(loaded);
        if ready >= self.model.length {
            self.waits(free, ready, None);
            self.arm.free = ready;
            return f64::INFINITY;
        }
        let done = self.arm.does(ready, side.way, 0.0);
        self.waits(free, done.ready, None);
        self.begins(&done);
        self.played.arm += ArmTime {
            moving: self.between(done.start, done.undisturbed),
            stopped: self.between(done.undisturbed, done.end),
            ..ArmTime::default()
        };
        // What of a service put off the axes may still take nothing from what comes after them.
        self.served = served
            .filter(|[_, end]| *end > loaded)
            .map(|[start, end]| [start.max(loaded) + side.way, end + side.way]);
        done.end
    }

    /// When all these sides are loaded.
    fn all_loaded(&self, sides: &[usize]) -> f64 {
        sides.iter().map(|side| self.loaded[*side]).fold(0.0, f64::max)
    }

    /// A table that someone may hold up turns away from `side`.
    fn turns(&mut self, start: f64, side: &Side) -> Turn {
        let delay = self.trips();
        Turn { start, delay, end: start + side.turn + delay }
    }

    /// A table stands after a turn, and the side that is then in front of the person is loaded.
    fn stands(&mut self, state: State, place: &Place, turn: Turn) -> State {
        let count = place.sides.len();
        let ahead = state.visits + place.ahead;
        let empty = self.model.start == Start::Empty && ahead < count;
        let free = Free { at: turn.end, delay: turn.delay };
        let side = ahead % count;
        let loaded = self.loads(&place.sides[side], state.first_side + side, &free, empty);
        State { ready: turn.end, ready_unserved: turn.end, turn: Some(turn), loaded, ..state }
    }

    /// A person loads a side; when that is done.
    fn loads(&mut self, side: &Side, number: usize, when: &Free, empty: bool) -> f64 {
        self.loaded[number] = self.when_loaded(side, number, when, empty);
        self.loaded[number]
    }

    fn when_loaded(&mut self, side: &Side, number: usize, when: &Free, empty: bool) -> f64 {
        let free = self.people[side.person].free;
        let ready = when.at.max(free).max(self.left[number] + side.cool);
        if ready >= self.model.length {
            return self.never_loads(side.person, ready, when);
        }
        let work = side.draw(empty, &mut self.loading[number]);
        let done = self.people[side.person].does(ready, work, 0.0);
        let (waiting, curtain, breaks) = self.waited(free, done.ready, when);
        let resting = self.breaks(done.ready, done.start);
        let stopped =
            self.between(done.ready, done.start) - resting + self.between(done.undisturbed, done.end);
        self.played.people += PeopleTime {
            working: self.between(done.start, done.undisturbed),
            stopped,
            curtain,
            waiting,
            breaks: breaks + resting,
        };
        done.end
    }

    /// What a person waits for does not come before the shift ends; they load nothing more.
    fn never_loads(&mut self, person: usize, ready: f64, when: &Free) -> f64 {
        let free = std::mem::replace(&mut self.people[person].free, ready);
        let (waiting, curtain, breaks) = self.waited(free, ready, when);
        self.played.people += PeopleTime { waiting, curtain, breaks, ..PeopleTime::default() };
        f64::INFINITY
    }

    /// Time that a person has waited from `free` to `ready`: for its own sake, for someone in the light curtain, and in breaks. The
    /// delay counts last, as it does for the arm.
    fn waited(&self, free: f64, ready: f64, when: &Free) -> (f64, f64, f64) {
        let breaks = self.breaks(free, ready);
        let [held_up, there] = [when.at - when.delay, when.at].map(|time| time.clamp(free, ready));
        let curtain =
            if when.delay > 0.0 { self.between(held_up, there) - self.breaks(held_up, there) } else { 0.0 };
        (self.between(free, ready) - breaks - curtain, curtain, breaks)
    }

    /// Someone may step into the light curtain: the time that costs.
    fn trips(&mut self) -> f64 {
        let Some(Curtain { share, clear }) = self.model.curtain else { return 0.0 };
        if even(&mut self.curtain) < share { clear } else { 0.0 }
    }

    /// The arm welds what stands before it; when it has left that, none when the shift is over before it begins.
    fn welds(&mut self, side: &Side, ready: f64, turn: Option<Turn>) -> Option<Free> {
        let free = self.arm.free;
        let ready = ready.max(free);
        if ready >= self.model.length {
            self.waits(free, ready, turn);
            self.arm.free = ready;
            return None;
        }
        let trip = if turn.is_some() { 0.0 } else { self.trips() };
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
            return None;
        }
        if done.end <= self.model.length + ROUNDING {
            let good = (0..side.parts).filter(|_| even(&mut self.scrap) >= self.model.scrap).count();
            self.played.finished.push(done.end);
            self.played.parts += u64::from(side.parts);
            self.played.good += good as u64;
        }
        self.loads += 1;
        Some(Free { at: done.end, delay: trip })
    }

    /// Regular stops that are due.
    fn serves(&mut self) {
        let loads = self.loads;
        let due = self.model.services.iter().filter(|stop| loads.is_multiple_of(u64::from(stop.every_loads)));
        // The remainder is below a number of places.
        let after = ((loads - 1) % self.model.order.len() as u64) as usize;
        let duration: f64 = due.map(|stop| stop.after[after]).sum();
        self.served = None;
        if duration > 0.0 {
            let done = self.arm.does(self.arm.free, duration, 0.0);
            self.begins(&done);
            self.played.arm.service += self.between(done.start, done.undisturbed);
            self.played.arm.stopped += self.between(done.undisturbed, done.end);
            self.served = Some([done.start, done.undisturbed]);
        }
    }

    /// What of the last service took nothing from the arm, since what comes next would have been `ready` no sooner without it.
    fn serves_while_waiting(&mut self, ready: f64) {
        let Some([start, end]) = self.served.take() else { return };
        let waiting = self.between(start, end.min(ready));
        self.played.arm += ArmTime { service: -waiting, waiting, ..ArmTime::default() };
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
