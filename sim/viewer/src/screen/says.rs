//! Words that change: each line says one thing of what is known now.

use std::io::Write;

use bevy::prelude::*;
use seamwright_kinematics::{Drive, units};
use seamwright_sim::by_hand::Stop;
use seamwright_sim::cell::frames::AxisKind;
use seamwright_sim::findings::words::fixed;
use seamwright_sim::production::{Activity, Doing, PersonStep};
use seamwright_sim::schedule::EventKind;

use crate::logic::{Chosen, Hand, Manner, Now, PACES, Playing, ReachIn, Source, Task, Trouble, View};
use crate::show::Show;

/// What a line says.
#[derive(Component, Clone, Copy, Debug, PartialEq, Eq)]
pub enum Says {
    /// The cell and its verdict.
    Title,
    /// What happens now.
    Doing,
    /// Play or pause.
    PlayKey,
    /// The instant.
    Clock,
    /// How fast time goes.
    Pace,
    /// From where one looks, and the next view.
    ViewKey,
    /// How an axis stands.
    AxisValue(usize),
    /// How far it may still turn.
    AxisRoom(usize),
    /// How an external axis stands.
    ExternalValue(usize),
    /// How far it may still go.
    ExternalRoom(usize),
    /// What a pair of hold keys moves.
    Pair(usize),
    /// The speed by hand.
    Speed,
    /// The other ways.
    Ways,
    /// What stops or slows the arm that is moved by hand; what comes of it that somebody reaches in.
    Stop,
    /// What is wrong with the file.
    Trouble,
}

/// Whether every line that changes is also told on standard output: for those who listen, and for checks.
#[derive(Resource, Clone, Copy, Default)]
pub struct Aloud(pub bool);

impl Aloud {
    /// Tells a line, if it is to be told.
    pub(super) fn say(self, name: &str, text: &str) {
        if self.0 && !text.is_empty() {
            // Where standard output is closed nobody listens.
            let _ = writeln!(std::io::stdout(), "{name}: {text}");
        }
    }
}

/// Tells lines that have changed.
pub fn tell(aloud: Res<Aloud>, lines: Query<(&Says, &Text), Changed<Text>>) {
    lines.iter().for_each(|(says, text)| aloud.say(&says.name(), &text.0));
}

impl Says {
    /// What a line is called when it is told aloud.
    fn name(self) -> String {
        match self {
            Self::Title => "cell".to_owned(),
            Self::Doing => "now".to_owned(),
            Self::PlayKey => "key".to_owned(),
            Self::Clock => "time".to_owned(),
            Self::Pace => "pace".to_owned(),
            Self::ViewKey => "view".to_owned(),
            Self::AxisValue(axis) => format!("axis {}", axis + 1),
            Self::AxisRoom(axis) => format!("axis {} room", axis + 1),
            Self::ExternalValue(axis) => format!("external axis {}", axis + 1),
            Self::ExternalRoom(axis) => format!("external axis {} room", axis + 1),
            Self::Pair(pair) => format!("keys {}", pair + 1),
            Self::Speed => "speed".to_owned(),
            Self::Ways => "ways".to_owned(),
            Self::Stop => "stop".to_owned(),
            Self::Trouble => "problem".to_owned(),
        }
    }
}

/// Everything that lines tell of.
#[derive(bevy::ecs::system::SystemParam)]
pub struct Known<'w> {
    show: Res<'w, Show>,
    now: Res<'w, Now>,
    task: Res<'w, Task>,
    playing: Res<'w, Playing>,
    view: Res<'w, View>,
    hand: Res<'w, Hand>,
    chosen: Res<'w, Chosen>,
    trouble: Res<'w, Trouble>,
    source: Res<'w, Source>,
    reach_in: Res<'w, ReachIn>,
}

/// Writes every line that has changed.
pub fn say(known: Known, mut lines: Query<(&Says, &mut Text)>) {
    for (says, mut text) in &mut lines {
        let wanted = known.line(*says);
        if text.0 != wanted {
            text.0 = wanted;
        }
    }
}

impl Known<'_> {
    fn line(&self, says: Says) -> String {
        match says {
            Says::Title => self.title(),
            Says::Doing => self.doing(),
            Says::PlayKey => if self.playing.going { "pause" } else { "play" }.to_owned(),
            Says::Clock => format!("{:.1} s of {:.1} s", self.playing.time, self.show.day.period),
            Says::Pace => format!("× {}", PACES[self.playing.pace]),
            Says::ViewKey => format!("view: {}", self.view.name()),
            Says::AxisValue(axis) => format!("{}°", fixed(units::to_deg(self.now.stance.axes[axis]), 1)),
            Says::AxisRoom(axis) => {
                let at = self.show.cell.arm.arm.range_uses(&self.now.stance.axes);
                let left = at.filter(|at| at.drive == Drive::Axis(axis)).map(|at| at.margin()).next();
                left.map_or_else(String::new, |left| format!("{:.0}° left", units::to_deg(left)))
            }
            Says::ExternalValue(axis) => self.external(axis, self.now.stance.external.get(axis).copied(), ""),
            Says::ExternalRoom(axis) => {
                let value = self.now.stance.external.get(axis).copied();
                let left = value.map(|value| self.show.cell.frames.axes[axis].range.margin(value));
                self.external(axis, left, " left")
            }
            Says::Pair(pair) => pair_name(self.hand.manner, pair),
            Says::Speed => format!("{} mm/s", units::to_mm(self.hand.metres_per_second())),
            Says::Ways => match (self.hand.shows_others, self.hand.others.len()) {
                (false, _) => "other ways".to_owned(),
                (true, 0) => "no other way".to_owned(),
                (true, 1) => "1 other way".to_owned(),
                (true, count) => format!("{count} other ways"),
            },
            Says::Stop => match *self.task {
                Task::Hand | Task::Learn => self.stop(),
                Task::Watch => self.reach_in.sentence(&self.show).unwrap_or_default(),
                Task::Seam => String::new(),
            },
            Says::Trouble => self.trouble.0.join("\n"),
        }
    }

    fn title(&self) -> String {
        let overall = &self.show.checked.findings.overall;
        let unasked = match overall.not_checked {
            0 => String::new(),
            unasked => format!(", {unasked} not checked"),
        };
        let all = format!("{} of {} seams hold{unasked}", overall.holding, overall.seams);
        let loading = self.source.far().map(|far| format!(" · checking the changed file: {}", far.words()));
        let loading = loading.unwrap_or_default();
        format!("{} · {all}{loading}", self.show.cell.name)
    }

    fn doing(&self) -> String {
        match *self.task {
            Task::Watch => self.watched(),
            Task::Seam => self
                .chosen
                .0
                .and_then(|seam| self.show.findings_of(seam))
                .map_or_else(String::new, |seam| format!("{} · {}", seam.full_name(), seam.answer())),
            // The goal of a lesson stands on its card, what stops the arm above the band.
            Task::Hand | Task::Learn => self.wire_end(),
        }
    }

    fn wire_end(&self) -> String {
        // A control tells where it believes the wire end to be.
        let believed = self.hand.believed(&self.show);
        let [x, y, z] = believed.translation.vector.map(units::to_mm).into();
        let [x, y, z] = [x, y, z].map(|value: f64| fixed(value, 1));
        let so =
            if self.hand.is_misled(&self.show) { "the control believes the wire end" } else { "wire end" };
        format!("{so} at x {x}, y {y}, z {z} mm on the floor's axes")
    }

    fn watched(&self) -> String {
        let mut parts = Vec::new();
        if let Some(span) = self.now.span {
            let station = &self.show.cell.stations[span.station.0].name;
            let seam = span.seam.map(|seam| format!(" {} {}", seam.0 + 1, self.show.cell.seams[seam.0].name));
            let what = match span.doing {
                Doing::Event(_, kind) => event_words(kind),
                Doing::Index => "table turns",
                Doing::Wait { .. } => "arm waits",
            };
            parts.push(format!("{station}: {what}{}", seam.unwrap_or_default()));
        }
        for row in self.show.people_at(self.playing.time) {
            let station = &self.show.cell.stations[row.station.0].name;
            let words = match row.activity {
                Activity::Step(PersonStep::Cool) => "part cools",
                Activity::Step(PersonStep::Unload) => "person takes out",
                Activity::Step(PersonStep::Load) => "person loads",
                Activity::Step(PersonStep::PartPresent) => "parts are looked for",
                Activity::Step(PersonStep::Clamp) => "person clamps",
                Activity::Step(PersonStep::Leave) => "person walks out",
                Activity::Step(PersonStep::Acknowledge) => "person steps back",
                Activity::Wait | Activity::Event(_) => "person waits",
            };
            // A step may have begun before this cycle did.
            let left = (row.start + row.duration - self.playing.time).rem_euclid(self.show.day.period);
            parts.push(format!("{station}: {words}, {left:.0} s left"));
        }
        parts.join("  ·  ")
    }

    fn external(&self, axis: usize, value: Option<f64>, tail: &str) -> String {
        let Some(value) = value.filter(|value| value.is_finite()) else { return String::new() };
        match self.show.cell.frames.axes[axis].kind {
            AxisKind::Turn if tail.is_empty() => format!("{}°", fixed(units::to_deg(value), 1)),
            AxisKind::Turn => format!("{:.0}°{tail}", units::to_deg(value)),
            AxisKind::Slide => format!("{} mm{tail}", fixed(units::to_mm(value), 0)),
        }
    }

    fn stop(&self) -> String {
        let external = |axis: usize| &self.show.cell.frames.axes[axis].name;
        match (&self.hand.stopped, &self.hand.slowed) {
            (Some(Stop::Limit(drive, end)), _) => {
                format!("stopped: {drive} is at the end of its range, {:.1}°", units::to_deg(*end))
            }
            (Some(Stop::Hose(name, end)), _) => format!("stopped: {name}, {:.1}°", units::to_deg(*end)),
            (Some(Stop::ExternalLimit(axis, _)), _) => {
                format!("stopped: {} is at the end of its range", external(*axis))
            }
            (Some(Stop::Contact(one, other)), _) => format!("stopped: {one} touches {other}"),
            (Some(Stop::Singular(axis)), _) => {
                format!(
                    "stopped: singularity, axis {} would have to race; move single axes past it",
                    axis + 1
                )
            }
            (None, Some(slowed)) => format!(
                "slowed to {:.0} %: near a singularity {} turns fast",
                units::to_percent(slowed.to),
                slowed.drive
            ),
            (None, None) => String::new(),
        }
    }
}

/// What a pair of hold keys moves.
pub fn pair_name(manner: Manner, pair: usize) -> String {
    match manner {
        Manner::Axes => format!("axis {}", pair + 1),
        Manner::Tool(_) if pair < 3 => format!("along {}", ["x", "y", "z"][pair]),
        Manner::Tool(_) => format!("about {}", ["x", "y", "z"][pair - 3]),
    }
}

/// What the arm does, in words.
fn event_words(kind: EventKind) -> &'static str {
    match kind {
        EventKind::AirMove => "arm moves to",
        EventKind::AssumedAirMove => "arm moves (assumed) to",
        EventKind::Interpass => "waits until the pass before is cool at",
        EventKind::Cooling => "waits until its neighbours are cool at",
        EventKind::SearchWay => "on the way of a touch search at",
        EventKind::Search => "feels for the plates of",
        EventKind::CraterBack => "goes back for the crater of",
        EventKind::Approach => "approach to",
        EventKind::GasBefore => "gas flows at",
        EventKind::RunIn => "wire runs in at",
        EventKind::ArcStart => "arc starts at",
        EventKind::ArcRetry => "arc is struck again at",
        EventKind::Weld => "welding",
        EventKind::Crater => "crater fill at",
        EventKind::BurnBack => "wire burns back at",
        EventKind::WireCheck => "wire is tested at",
        EventKind::GasAfter => "gas after",
        EventKind::Retract => "retract from",
        EventKind::Shift => "next stitch of",
        EventKind::Position => "positioner moves for",
        EventKind::Index => "table turns",
        EventKind::Settle => "arm comes to rest at",
        EventKind::StartSignal => "arm waits for its signal",
        EventKind::ArmClear => "cell makes sure that the arm is home",
        EventKind::ClampsOpen => "arm waits while clamps open",
    }
}
