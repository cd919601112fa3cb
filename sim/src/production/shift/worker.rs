//! Decides when someone can begin, and when what was begun is done: breaks and stoppages come between.

use rand_chacha::ChaCha8Rng;

use super::model::{ShiftModel, draw, draw_first};
use crate::cell::{Break, Clock, Stoppage, Stopped};
use crate::streams::stream;

/// The arm, or one of the people.
pub(super) struct Worker<'m> {
    /// When it is free.
    pub(super) free: f64,
    breaks: Vec<Break>,
    on_clock: Vec<Ticker<'m>>,
    on_arc: Vec<Ticker<'m>>,
    /// When the last repair is over; another one begins no sooner.
    repaired: f64,
}

/// One kind of stoppage on its way to the next.
struct Ticker<'m> {
    stoppage: &'m Stoppage,
    stream: ChaCha8Rng,
    /// When it strikes: a time, or the arc time that is left until then.
    next: f64,
}

/// When something was done.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Done {
    /// When everything was ready for it.
    pub(super) ready: f64,
    /// When it was begun.
    pub(super) start: f64,
    /// When it would have ended if nothing had stopped it.
    pub(super) undisturbed: f64,
    /// When it ended.
    pub(super) end: f64,
}

impl<'m> Worker<'m> {
    /// The arm (`None`), or the person with this number.
    pub(super) fn new(model: &'m ShiftModel, person: Option<usize>, seed: u64, shift: u64) -> Self {
        let who = if person.is_some() { Stopped::People } else { Stopped::Arm };
        let ticker = |stoppage: &'m Stoppage| {
            // Everyone who loads is stopped at the same times: one stream, not one for each person.
            let mut stream = stream(seed, shift, &format!("stoppage {}", stoppage.name));
            let next = draw_first(&stoppage.between, &mut stream);
            Ticker { stoppage, stream, next }
        };
        let of = |clock: Clock| {
            let mine = model.stoppages.iter().filter(|it| it.stops == who && it.clock == clock);
            mine.map(ticker).collect()
        };
        let breaks = model.breaks.iter().filter(|pause| person.is_some() || !pause.arm_works_on);
        Self {
            free: 0.0,
            breaks: breaks.copied().collect(),
            on_clock: of(Clock::Shift),
            on_arc: of(Clock::Arc),
            repaired: 0.0,
        }
    }

    /// Does something that takes `work` s, `arc` s of it with the arc on, once it is free and everything is ready.
    pub(super) fn does(&mut self, ready: f64, work: f64, arc: f64) -> Done {
        let ready = ready.max(self.free);
        let start = self.begins(ready);
        let undisturbed = start + work;
        let mut end = undisturbed;
        for ticker in &mut self.on_arc {
            ticker.next -= arc;
            while ticker.next <= 0.0 {
                end += draw(&ticker.stoppage.repair, &mut ticker.stream);
                ticker.next += draw(&ticker.stoppage.between, &mut ticker.stream);
            }
        }
        while let Some(repair) = self.struck_before(end) {
            end += repair;
        }
        self.free = end;
        Done { ready, start, undisturbed, end }
    }

    /// The first time from `ready` on that lies in no break and in no repair.
    fn begins(&mut self, ready: f64) -> f64 {
        let mut time = ready;
        loop {
            while self.struck_before(time).is_some() {
                time = time.max(self.repaired);
            }
            let pause =
                self.breaks.iter().find(|pause| (pause.start..pause.start + pause.duration).contains(&time));
            match pause {
                Some(pause) => time = pause.start + pause.duration,
                None => return time,
            }
        }
    }

    /// The repair of the next stoppage that strikes before `time`; each begins when the one before is over.
    fn struck_before(&mut self, time: f64) -> Option<f64> {
        let next = self.on_clock.iter_mut().min_by(|a, b| a.next.total_cmp(&b.next))?;
        if next.next >= time {
            return None;
        }
        let repair = draw(&next.stoppage.repair, &mut next.stream);
        self.repaired = next.next.max(self.repaired) + repair;
        next.next = self.repaired + draw(&next.stoppage.between, &mut next.stream);
        Some(repair)
    }
}
