//! Decides what one cycle of the arm, and of the people beside it, goes into.

use super::instant::{ArmDay, Doing};
use super::timeline::{Activity, PersonStep, TimelineRow, Who};
use crate::schedule::{GoesInto, Schedule, Times};

/// One cycle of the arm, s.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ArmTimes {
    /// What it does; tables and axes that go on to the next station count as external.
    pub at_work: Times,
    /// How long it waits.
    pub waits: f64,
}

/// One cycle of all people together, s.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PeopleTimes {
    /// Taking finished parts out.
    pub unload: f64,
    /// Putting parts in.
    pub load: f64,
    /// Everything else: cooling, sensors, clamps, the way out.
    pub rest: f64,
    /// How long they wait.
    pub waits: f64,
}

impl ArmDay {
    /// What the cycle goes into; together its period.
    #[must_use]
    pub fn times(&self, schedule: &Schedule) -> ArmTimes {
        let mut all = ArmTimes::default();
        for visit in &schedule.visits {
            let times = visit.times();
            for what in GoesInto::ALL {
                all.at_work.add(what, times.of(what));
            }
        }
        for span in &self.spans {
            match span.doing {
                Doing::Event(..) => {}
                Doing::Index => all.at_work.external += span.end - span.start,
                Doing::Wait { .. } => all.waits += span.end - span.start,
            }
        }
        all
    }
}

/// What the people's part of a timeline goes into.
#[must_use]
pub fn people_times(rows: &[TimelineRow]) -> PeopleTimes {
    let mut all = PeopleTimes::default();
    for row in rows.iter().filter(|row| row.who == Who::Person) {
        let part = match row.activity {
            Activity::Step(PersonStep::Unload) => &mut all.unload,
            Activity::Step(PersonStep::Load) => &mut all.load,
            Activity::Step(_) | Activity::Event(_) => &mut all.rest,
            Activity::Wait => &mut all.waits,
        };
        *part += row.duration;
    }
    all
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::check::{Options, check};
    use crate::production::timeline;

    /// The arm's parts are the whole period, since it is always somewhere in it; what people do and wait is the period for each of
    /// them, for the same reason. Both are told apart from what the cycle itself says of arc and waits.
    #[test]
    fn the_parts_of_a_cycle_are_the_whole_of_it() {
        let scenes = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes");
        for scene in ["gate-bracket/cell.toml", "round-flange/cell.toml"] {
            let cell = crate::cell::read::read_cell(&scenes.join(scene)).unwrap();
            let checked = check(&cell, &Options { seed: 1, watch: &() });
            let cycle = checked.cycle.as_ref().unwrap();
            let day = ArmDay::new(&cell, &checked.schedule, Some(cycle));
            let arm = day.times(&checked.schedule);
            let near = |one: f64, other: f64| assert!((one - other).abs() < 1e-3, "{scene}: {one} {other}");
            near(arm.at_work.total() + arm.waits, cycle.period);
            near(arm.waits, cycle.arm_waits);
            near(arm.at_work.arc, cycle.arc_share() * cycle.period);
            let people = people_times(&timeline(&cell, &checked.schedule, cycle));
            near(people.unload + people.load + people.rest + people.waits, cycle.period);
        }
    }
}
