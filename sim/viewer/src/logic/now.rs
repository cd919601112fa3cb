//! Where everything stands now, whatever the task.

use bevy::prelude::*;
use seamwright_kinematics::{AxisValues, Pose};
use seamwright_sim::cell::{SeamId, StationId};
use seamwright_sim::production::{Doing, Span};
use seamwright_sim::schedule::{EventKind, PathRow, Stance};

use super::{Chosen, Hand, Playing, ReachIn, Task};
use crate::show::Show;
use crate::site::Site;

/// This instant.
#[derive(Resource, Clone, Debug)]
pub struct Now {
    /// How arm and external axes stand.
    pub stance: Stance,
    /// Where the wire end is in the world.
    pub world_from_tool: Pose,
    /// How fast the axes turn, rad/s: by what they did since the last frame.
    pub rates: AxisValues,
    /// The station at work.
    pub station: StationId,
    /// What the arm does; none while it is moved by hand.
    pub span: Option<Span>,
    /// The row of path.csv.
    pub row: Option<PathRow>,
    /// Whether the arc burns.
    pub arc: bool,
    /// The seam that is looked at, else the one being welded.
    pub chosen_or_welded: Option<SeamId>,
}

impl Now {
    fn new(site: &Site) -> Self {
        let stance = site.at_home();
        Self {
            world_from_tool: site.world_from_tool(&stance),
            stance,
            rates: AxisValues::zeros(),
            station: StationId(0),
            span: None,
            row: None,
            arc: false,
            chosen_or_welded: None,
        }
    }
}

/// Until the cycle is known the arm stands at home.
pub(super) fn set_up(mut commands: Commands, site: Res<Site>) {
    commands.insert_resource(Now::new(&site));
}

/// Puts together where everything stands.
pub(super) fn tell(
    time: Res<Time>,
    show: Res<Show>,
    task: Res<Task>,
    playing: Res<Playing>,
    chosen: Res<Chosen>,
    hand: Option<Res<Hand>>,
    reach_in: Res<ReachIn>,
    mut now: ResMut<Now>,
) {
    let watched = matches!(*task, Task::Watch | Task::Seam);
    let by_hand = hand.filter(|_| !watched);
    let stopped = reach_in.stance(&show).filter(|_| watched);
    // At a seam that is not welded the arm stands as it would have to where it fails worst.
    let failing = chosen.0.filter(|_| *task == Task::Seam).and_then(|seam| show.failing_stance(seam));
    let watched_in_cycle = watched && failing.is_none();
    let in_cycle = || failing.or(stopped).unwrap_or_else(|| show.stance(playing.time));
    let stance = by_hand.as_ref().map_or_else(in_cycle, |hand| hand.stance.clone());
    let dt = time.delta_secs_f64();
    now.rates = if dt > 0.0 { (stance.axes - now.stance.axes) / dt } else { AxisValues::zeros() };
    now.world_from_tool = show.world_from_tool(&stance);
    now.stance = stance;
    now.span =
        if watched_in_cycle { show.day.span_at(playing.time).map(|at| show.day.spans[at]) } else { None };
    now.row = if watched_in_cycle { show.path_row(playing.time).cloned() } else { None };
    now.station = now.span.map_or(by_hand.map_or(now.station, |hand| hand.station), |span| span.station);
    // The arc is out while the arm is stopped.
    now.arc = now
        .span
        .filter(|_| !matches!(*reach_in, ReachIn::Stops { .. }))
        .is_some_and(|span| matches!(span.doing, Doing::Event(_, EventKind::Weld | EventKind::Crater)));
    now.chosen_or_welded = match *task {
        Task::Seam => chosen.0,
        _ => now.span.and_then(|span| span.seam).or(chosen.0),
    };
}
