//! Somebody reaches in at the instant that is watched: worked out beside, then seen as it stops.

use bevy::prelude::*;
use seamwright_sim::cell::ZoneId;
use seamwright_sim::findings::reach_in::reached_in;
use seamwright_sim::findings::words::LengthUnit;
use seamwright_sim::safety::bodies::MovingBodies;
use seamwright_sim::safety::intrusion::{Intrusion, Scene};
use seamwright_sim::safety::stopping::Stops;
use seamwright_sim::schedule::{Running, Stance};

use super::beside::{Beside, BrokeOff, Wake};
use super::{Ask, PACES, Playing, Task};
use crate::show::Show;

/// Whether somebody reaches in.
#[derive(Resource, Default)]
pub enum ReachIn {
    /// Nobody does.
    #[default]
    Nobody,
    /// What that leads to is worked out.
    Looking(Beside<Option<Broken>>),
    /// Nothing that a device stops moves at this instant, or none watches.
    NothingStops,
    /// It stops.
    Stops {
        /// What it leads to.
        broken: Box<Broken>,
        /// How long ago it was, s.
        since: f64,
    },
}

/// A field is broken.
pub struct Broken {
    /// What that leads to.
    pub intrusion: Intrusion,
    bodies: MovingBodies,
    stops: Stops,
}

/// Whether there is a device whose field somebody may break.
#[must_use]
pub fn can_reach_in(show: &Show) -> bool {
    show.checked.safety.is_some() && show.cell.zones.iter().any(|zone| zone.device.is_some())
}

impl Broken {
    /// The field of which least way is left, broken at `time` (s of the cycle); none where no device stops anything then.
    #[must_use]
    pub fn at(show: &Show, time: f64) -> Option<Self> {
        let (bodies, stops) =
            (MovingBodies::new(show.cell), Stops::new(show.cell, show.cell.safeguarding.category));
        let (running, clock) = (show.running(), show.clock(time));
        let scene = scene(show, &running, &bodies, &stops);
        let fields = (0..show.cell.zones.len()).map(ZoneId);
        let intrusion = fields
            .filter_map(|zone| scene.intrusion(zone, clock))
            .min_by(|a, b| a.left_with_intrusion.total_cmp(&b.left_with_intrusion))?;
        Some(Self { intrusion, bodies, stops })
    }

    /// How everything stands so long (s) after it.
    #[must_use]
    pub fn stance(&self, show: &Show, since: f64) -> Stance {
        scene(show, &show.running(), &self.bodies, &self.stops).stance(&self.intrusion, since)
    }
}

fn scene<'s>(
    show: &'s Show,
    running: &'s Running<'s>,
    bodies: &'s MovingBodies,
    stops: &'s Stops,
) -> Scene<'s> {
    Scene { cell: show.cell, bodies, running, instants: &[], stops }
}

impl ReachIn {
    fn shown(broken: Option<Broken>) -> Self {
        broken.map_or(Self::NothingStops, |broken| Self::Stops { broken: Box::new(broken), since: 0.0 })
    }

    /// How everything stands, where somebody has reached in.
    #[must_use]
    pub fn stance(&self, show: &Show) -> Option<Stance> {
        match self {
            Self::Stops { broken, since } => Some(broken.stance(show, *since)),
            Self::Nobody | Self::Looking(_) | Self::NothingStops => None,
        }
    }

    /// Whether anything still moves.
    #[must_use]
    pub fn goes_on(&self) -> bool {
        match self {
            Self::Stops { broken, since } => *since < broken.intrusion.stands_after,
            Self::Nobody | Self::Looking(_) | Self::NothingStops => false,
        }
    }

    /// What is said of it; nothing where nobody does.
    #[must_use]
    pub fn sentence(&self, show: &Show) -> Option<String> {
        match self {
            Self::Nobody => None,
            Self::Looking(_) => Some("somebody reaches in: what then stops, and when?".to_owned()),
            Self::NothingStops => {
                Some("somebody reaches in: nothing moves now that a device stops while it watches".to_owned())
            }
            Self::Stops { broken, .. } => {
                Some(reached_in(show.cell, &broken.intrusion, LengthUnit::Millimetre))
            }
        }
    }
}

/// Begins when it is asked for, and ends when anything else is asked of time or task.
pub(super) fn obey(
    mut asks: MessageReader<Ask>,
    show: Res<Show>,
    task: Res<Task>,
    wake: Res<Wake>,
    mut playing: ResMut<Playing>,
    mut reach_in: ResMut<ReachIn>,
) {
    let is_other_cell = show.is_changed() && !matches!(*reach_in, ReachIn::Nobody);
    if is_other_cell {
        *reach_in = ReachIn::Nobody;
    }
    for ask in asks.read() {
        match ask {
            Ask::ReachIn if *task == Task::Watch && can_reach_in(&show) => {
                playing.going = false;
                let (time, show) = (playing.time, show.clone());
                *reach_in = ReachIn::Looking(Beside::begin(&wake, move || Broken::at(&show, time)));
            }
            Ask::PlayOrPause
            | Ask::Step(_)
            | Ask::GoTo(_)
            | Ask::GoToTightest
            | Ask::NextBlocked
            | Ask::Seam(_)
            | Ask::NextSeam(_)
            | Ask::Do(_) => *reach_in = ReachIn::Nobody,
            _ => {}
        }
    }
    let came = match &*reach_in {
        ReachIn::Looking(beside) => match beside.came() {
            Ok(came) => came.map(ReachIn::shown),
            // Asked for again it breaks off again, and says nothing wrong meanwhile.
            Err(BrokeOff) => Some(ReachIn::Nobody),
        },
        ReachIn::Nobody | ReachIn::NothingStops | ReachIn::Stops { .. } => None,
    };
    if let Some(came) = came {
        *reach_in = came;
    }
}

/// Time goes on from the break of the field until everything stands.
pub(super) fn go_on(time: Res<Time>, playing: Res<Playing>, mut reach_in: ResMut<ReachIn>) {
    if !reach_in.goes_on() {
        return;
    }
    if let ReachIn::Stops { broken, since } = &mut *reach_in {
        let on = time.delta_secs_f64() * PACES[playing.pace];
        *since = (*since + on).min(broken.intrusion.stands_after);
    }
}
