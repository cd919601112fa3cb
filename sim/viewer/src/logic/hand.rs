//! Moving the arm by hand: hold to run, letting go stops.

use bevy::prelude::*;
use seamwright_kinematics::{AxisValues, Pose};
use seamwright_sim::by_hand::{
    Around, Jog, JogFrame, Jogged, Jogger, MANUAL_SPEED, Slowed, Stop, against_joint, other_ways,
};
use seamwright_sim::cell::{SeamId, StationId};
use seamwright_sim::schedule::Stance;

use super::{Ask, Task};
use crate::show::Show;

/// Steps of the speed, as shares of the 250 mm/s that manual control allows.
pub const SPEEDS: [f64; 5] = [0.01, 0.05, 0.2, 0.5, 1.0];

/// What the move keys move.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Manner {
    /// One axis at a time.
    Axes,
    /// The tool along and about the axes of a frame.
    Tool(JogFrame),
}

impl Manner {
    /// All, in the order in which they are offered.
    pub const ALL: [Self; 4] =
        [Self::Axes, Self::Tool(JogFrame::World), Self::Tool(JogFrame::Base), Self::Tool(JogFrame::Tool)];

    /// As it is called on the screen.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Axes => "one axis",
            Self::Tool(JogFrame::World) => "along the floor",
            Self::Tool(JogFrame::Base) => "along the foot",
            Self::Tool(JogFrame::Tool) => "along the wire",
        }
    }
}

/// The arm under the hand.
#[derive(Resource)]
pub struct Hand {
    /// How it stands.
    pub stance: Stance,
    /// At which station: its fixture counts as loaded.
    pub station: StationId,
    /// After how many openings of the station's clamps.
    pub openings: usize,
    /// The seam at which the arm was taken over: until it is away from it, the wire may touch the parts that it joins.
    pub seam: Option<SeamId>,
    /// Index into [`SPEEDS`].
    pub speed: usize,
    /// What the keys move.
    pub manner: Manner,
    /// What stopped it last; gone with the next move that nothing stops.
    pub stopped: Option<Stop>,
    /// Whether a singularity slows it.
    pub slowed: Option<Slowed>,
    /// The other ways of holding the pose, where they are shown.
    pub others: Vec<AxisValues>,
    /// Whether they are shown.
    pub shows_others: bool,
    /// How often something stopped it.
    pub stops: u32,
    jogger: Jogger<'static>,
}

/// The jog that is held in this frame, by key, button or gamepad.
#[derive(Resource, Clone, Copy, Debug, Default, PartialEq)]
pub struct Held(pub Option<Jog>);

impl Hand {
    fn new(show: &Show) -> Self {
        let station = StationId(0);
        Self {
            stance: show.stance(0.0),
            station,
            openings: 0,
            seam: None,
            speed: 2,
            manner: Manner::Axes,
            stopped: None,
            slowed: None,
            others: Vec::new(),
            shows_others: false,
            stops: 0,
            jogger: Jogger::new(show.cell, station),
        }
    }

    /// Takes the arm over where it stands, after so many openings of the station's clamps.
    pub fn take(&mut self, show: &Show, stance: Stance, (station, openings): (StationId, usize)) {
        if (station, openings) != (self.station, self.openings) {
            self.jogger = Jogger::after(show.cell, station, openings);
            (self.station, self.openings) = (station, openings);
        }
        self.stance = stance;
        self.seam = None;
        self.stopped = None;
        self.slowed = None;
        self.refresh_others(show);
    }

    /// Goes on with a cell that was read anew: where the arm stands if it has as many external axes, else at the start.
    pub(super) fn start_anew(&mut self, show: &Show) {
        let fits = self.stance.external.len() == show.cell.frames.axes.len();
        let stance = if fits { self.stance.clone() } else { show.stance(0.0) };
        let station = StationId(self.station.0.min(show.cell.stations.len().saturating_sub(1)));
        self.jogger = Jogger::new(show.cell, station);
        (self.station, self.openings) = (station, 0);
        self.take(show, stance, (station, 0));
    }

    /// How contacts count, and where the controller believes the wire end to be.
    pub fn jogger(&mut self) -> &mut Jogger<'static> {
        &mut self.jogger
    }

    /// Where the controller believes the wire end to be, in the world.
    #[must_use]
    pub fn believed(&self, show: &Show) -> Pose {
        show.world_from_base(&self.stance.external)
            * show.cell.arm.arm.base_from_flange(&self.stance.axes)
            * self.jogger.flange_from_tool
    }

    /// Whether it believes it to be where it is not.
    #[must_use]
    pub fn is_misled(&self, show: &Show) -> bool {
        self.jogger.flange_from_tool != show.cell.torch.flange_from_tool
    }

    /// The speed asked, m/s.
    #[must_use]
    pub fn metres_per_second(&self) -> f64 {
        SPEEDS[self.speed] * MANUAL_SPEED
    }

    /// Whether the wire end is away from the seam at which the arm was taken over.
    fn is_away(&self, show: &Show, seam: SeamId) -> bool {
        /// So far off the wire touches nothing of the joint any more, m.
        const AWAY: f64 = 0.01;
        let Some(path) = &show.cell.seams[seam.0].path else { return true };
        let world_from_station = show.world_from_station(seam, &self.stance.external);
        let station_from_tool = world_from_station.inverse() * show.world_from_tool(&self.stance);
        against_joint(path, &station_from_tool, show.cell.torch.nominal_ctwd).distance > AWAY
    }

    fn refresh_others(&mut self, show: &Show) {
        self.others = if self.shows_others { other_ways(show.cell, &self.stance.axes) } else { Vec::new() };
    }
}

pub(super) fn set_up(mut commands: Commands, show: Res<Show>) {
    commands.insert_resource(Hand::new(&show));
}

/// Does what is asked of the hand.
pub(super) fn obey(
    mut asks: MessageReader<Ask>,
    show: Res<Show>,
    mut hand: ResMut<Hand>,
    mut held: ResMut<Held>,
) {
    held.0 = None;
    for ask in asks.read() {
        match ask {
            Ask::Hold(jog) => held.0 = Some(*jog),
            Ask::Speed(by) => {
                let speed = hand.speed as i64 + i64::from(*by);
                hand.speed = speed.clamp(0, SPEEDS.len() as i64 - 1) as usize;
            }
            Ask::Manner(manner) => hand.manner = *manner,
            Ask::OtherWays => {
                hand.shows_others = !hand.shows_others;
                hand.refresh_others(&show);
            }
            Ask::NextWay => {
                // The ways in order of their axis values, so that stepping comes round to all of them.
                let mut ways = other_ways(show.cell, &hand.stance.axes);
                let here = hand.stance.axes;
                ways.push(here);
                ways.sort_by(|a, b| {
                    a.iter()
                        .zip(b.iter())
                        .map(|(a, b)| a.total_cmp(b))
                        .find(|o| o.is_ne())
                        .unwrap_or(std::cmp::Ordering::Equal)
                });
                let at = ways.iter().position(|way| *way == here).unwrap_or(0);
                hand.stance.axes = ways[(at + 1) % ways.len()];
                hand.stopped = None;
                hand.refresh_others(&show);
            }
            Ask::Home => {
                let home = Stance { axes: show.cell.arm.home, external: hand.stance.external.clone() };
                let at = (hand.station, hand.openings);
                hand.take(&show, home, at);
            }
            _ => {}
        }
    }
}

/// Moves the arm while a key is held.
pub(super) fn go_on(
    time: Res<Time>,
    show: Res<Show>,
    task: Res<Task>,
    held: Res<Held>,
    mut hand: ResMut<Hand>,
) {
    let Some(jog) = held.0.filter(|_| matches!(*task, Task::Hand | Task::Learn)) else {
        if hand.slowed.is_some() {
            hand.slowed = None;
        }
        return;
    };
    let Jogged { stance, slowed, stopped } =
        hand.jogger.step(&hand.stance, jog, hand.metres_per_second(), time.delta_secs_f64());
    if stopped.is_some() && hand.stopped.is_none() {
        hand.stops += 1;
    }
    hand.stance = stance;
    if let Some(seam) = hand.seam.filter(|seam| hand.is_away(&show, *seam)) {
        hand.seam = None;
        if hand.jogger.around == Around::Everything(Some(seam)) {
            hand.jogger.around = Around::Everything(None);
        }
    }
    hand.slowed = slowed;
    hand.stopped = stopped;
    hand.refresh_others(&show);
}
