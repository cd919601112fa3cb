//! Decides what each thing that can be changed is worth: one at a time, on the same luck.
//!
//! Every change is played with the same random numbers as the shift as it stands, and compared shift by shift.

use super::many::{Mean, Shifts, many};
use super::model::{ShiftModel, Side};
use crate::cell::{Start, Stoppage};

/// One thing that can be changed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Knob {
    /// The person needs a second less for each load.
    PersonSecond,
    /// The arm needs a second less for each load, off the arc.
    ArmSecond,
    /// Travel speed higher by [`FASTER`] on all seams.
    TravelSpeed,
    /// Load times that do not vary.
    EvenLoading,
    /// The table turns in half the time.
    Turn,
    /// No regular stops.
    NoService,
    /// This stoppage strikes half as often.
    Rarer(String),
    /// This stoppage is over in half the time.
    SoonerOver(String),
    /// Nobody steps into the light curtain.
    NoTrips,
    /// The arm goes on in breaks with what is loaded.
    ArmThroughBreaks,
    /// The places are loaded when the shift begins.
    LoadedStart,
    /// Another person, loads shared out in turn.
    AnotherPerson,
    /// No scrap.
    NoScrap,
}

/// By how much travel speed is raised, as a share.
pub const FASTER: f64 = 0.1;

/// What turning a knob is worth.
#[derive(Clone, Debug, PartialEq)]
pub struct Effect {
    /// The knob.
    pub knob: Knob,
    /// Parts more in a shift, good and scrap.
    pub parts: Mean,
    /// Good parts more in a shift.
    pub good: Mean,
}

impl Knob {
    /// Every knob that there is something to turn at, in this order.
    #[must_use]
    pub fn all(model: &ShiftModel) -> Vec<Self> {
        let sides = || model.places.iter().flat_map(|place| &place.sides);
        let mut knobs = vec![Self::PersonSecond, Self::ArmSecond, Self::TravelSpeed];
        let mut add = |there: bool, knob| knobs.extend(there.then_some(knob));
        add(sides().any(|side| side.spread > 0.0), Self::EvenLoading);
        add(model.places.iter().any(|place| place.sides.len() > 1), Self::Turn);
        add(!model.services.is_empty(), Self::NoService);
        for stoppage in &model.stoppages {
            add(true, Self::Rarer(stoppage.name.clone()));
            add(true, Self::SoonerOver(stoppage.name.clone()));
        }
        add(model.curtain.is_some_and(|curtain| curtain.share > 0.0), Self::NoTrips);
        add(model.breaks.iter().any(|pause| !pause.arm_works_on), Self::ArmThroughBreaks);
        add(model.start == Start::Empty, Self::LoadedStart);
        add(model.people == 1 && model.places.len() > 1, Self::AnotherPerson);
        add(model.scrap > 0.0, Self::NoScrap);
        knobs
    }

    /// The model with this knob turned; `faster` is that with travel speed 10 % higher, since what must cool then waits longer.
    #[must_use]
    pub fn turned(&self, model: &ShiftModel, faster: &ShiftModel) -> ShiftModel {
        let mut turned = model.clone();
        let each = |model: &mut ShiftModel, change: &dyn Fn(&mut Side)| {
            model.places.iter_mut().flat_map(|place| &mut place.sides).for_each(change);
        };
        match self {
            Self::PersonSecond => each(&mut turned, &|side| side.load = (side.load - 1.0).max(0.0)),
            Self::ArmSecond => each(&mut turned, &|side| side.arm = (side.arm - 1.0).max(side.arc)),
            Self::TravelSpeed => turned = faster.clone(),
            Self::EvenLoading => each(&mut turned, &|side| side.spread = 0.0),
            Self::Turn => each(&mut turned, &|side| side.turn /= 2.0),
            Self::NoService => turned.services.clear(),
            Self::Rarer(name) => change(&mut turned, name, |stoppage| {
                stoppage.between = stoppage.between.scaled(2.0);
            }),
            Self::SoonerOver(name) => change(&mut turned, name, |stoppage| {
                stoppage.repair = stoppage.repair.scaled(0.5);
            }),
            Self::NoTrips => turned.curtain = None,
            Self::ArmThroughBreaks => turned.breaks.iter_mut().for_each(|pause| pause.arm_works_on = true),
            Self::LoadedStart => turned.start = Start::Loaded,
            Self::AnotherPerson => {
                turned.people += 1;
                let sides = turned.places.iter_mut().flat_map(|place| &mut place.sides);
                sides.enumerate().for_each(|(number, side)| side.person = number % 2);
            }
            Self::NoScrap => turned.scrap = 0.0,
        }
        turned
    }
}

fn change(model: &mut ShiftModel, name: &str, how: impl Fn(&mut Stoppage)) {
    model.stoppages.iter_mut().filter(|stoppage| stoppage.name == name).for_each(how);
}

/// More shifts than these tell what a knob is worth no better than anyone can use: played on the same luck, two shifts differ little but for
/// the knob.
pub const MOST_SHIFTS: u32 = 10_000;

/// What each knob is worth over the first shifts of those that were played `as_it_stands` with the same seed, the greatest gain of good
/// parts first; `faster` as in [`Knob::turned`]. After each shift `one_more` is called, from any thread.
#[must_use]
pub fn effects(
    model: &ShiftModel,
    faster: &ShiftModel,
    as_it_stands: &Shifts,
    seed: u64,
    one_more: &(dyn Fn() + Sync),
) -> Vec<Effect> {
    let shifts = as_it_stands.shifts.min(MOST_SHIFTS);
    let knobs = Knob::all(model).into_iter();
    let effect = |knob: Knob| {
        // The ideal time only goes into indicators that are not asked for.
        let turned = many(&knob.turned(model, faster), seed, shifts, 0.0, one_more);
        let more = |now: &[u64], before: &[u64]| {
            // Parts of a shift are few: the numbers are exact.
            let more: Vec<f64> =
                now.iter().zip(before).map(|(now, before)| *now as f64 - *before as f64).collect();
            Mean::of(&more)
        };
        Effect {
            parts: more(&turned.parts_each, &as_it_stands.parts_each),
            good: more(&turned.good_each, &as_it_stands.good_each),
            knob,
        }
    };
    let mut effects: Vec<Effect> = knobs.map(effect).collect();
    effects.sort_by(|one, other| other.good.mean.total_cmp(&one.good.mean));
    effects
}
