//! Decides when everything happens at a station: plan and procedures in, a timeline of events out.
//!
//! Events of a visit follow one another without overlap: gas flows before the arc when the torch already stands at the seam,
//! and the torch leaves when the gas after the arc has ended. Every run of a stitched seam has an arc start and a crater of
//! its own. Seams given by length only come last, each run after an assumed air time. Leaves to `production` who waits for
//! whom, and regular stops.

mod device;
mod event;
mod moment;
mod path_rows;
mod running;
mod service_way;
mod table_turns;
mod times;
mod visit;

pub use device::DeviceTimes;
pub use event::{Event, EventKind, Motion, Stance};
pub use moment::Moment;
pub use path_rows::{CLEARANCE_CAP, PathRow, Place, ServiceRow, path_rows, service_rows};
pub(crate) use path_rows::{ROW_INTERVAL, serves_a_weld};
pub use running::{Instant, Running, TablesApart, Turns};
pub use service_way::{ServicePhase, ServiceWay};
pub use table_turns::{TableTurn, TableTurns, Turning};
pub use times::{GoesInto, Times};
pub use visit::{
    ASSUMED_AIR_TIME, Coverage, SeamTimes, VisitSchedule, duration_of, seam_times, time_without_moves,
};

use crate::cell::{Cell, StationId};
use crate::plan::Plan;

/// When everything happens, for the whole cell.
#[derive(Clone, Debug)]
pub struct Schedule {
    /// One for each visit of the plan, in its order: the arm's round.
    pub visits: Vec<VisitSchedule>,
    /// The ways to devices that serve the torch, after each visit; not in the visits' times.
    pub devices: Vec<DeviceTimes>,
    /// The same, instant by instant: one way after the other, after the round.
    pub service_ways: Vec<ServiceWay>,
}

impl Schedule {
    /// When the arm comes to each station if it never has to wait for anyone, s, and at the end of the list the time of
    /// the whole round: visits one after the other, each followed by the move of the external axes to the next.
    #[must_use]
    pub fn round(&self) -> Vec<f64> {
        let mut starts = vec![0.0];
        let mut time = 0.0;
        for visit in &self.visits {
            time += visit.duration() + visit.changeover.duration;
            starts.push(time);
        }
        starts
    }
}

/// Times the first visit to a station alone; none where the plan does not go there.
#[must_use]
pub fn visit_of(cell: &Cell, plan: &Plan, station: StationId) -> Option<VisitSchedule> {
    let index = plan.visits.iter().position(|visit| visit.station == station)?;
    let next = &plan.visits[(index + 1) % plan.visits.len()];
    Some(visit::schedule_visit(cell, &plan.visits[index], next))
}

/// Times the whole plan.
#[must_use]
pub fn schedule(cell: &Cell, plan: &Plan) -> Schedule {
    let next = plan.visits.iter().cycle().skip(1);
    let visits =
        plan.visits.iter().zip(next).map(|(visit, next)| visit::schedule_visit(cell, visit, next)).collect();
    let mut schedule = Schedule { visits, devices: Vec::new(), service_ways: Vec::new() };
    let end = schedule.round().last().copied().unwrap_or_default();
    (schedule.service_ways, schedule.devices) = device::service_ways(cell, plan, end);
    schedule
}
