//! What is watched, moved and practised. Runs without a picture; the tests drive it by stated time steps.
//!
//! Keys, buttons, gamepad and lessons all put [`Ask`]s; one system obeys them. Then time goes on, the arm is moved by hand, the
//! lesson is measured, and [`Now`] says where everything stands.

mod ask;
mod hand;
mod input;
pub mod lesson;
mod now;
mod playing;
mod reload;
mod remedies;

pub use ask::{Ask, Before, Chosen, Task, View, ZonesShown};
pub use hand::{Hand, Held, Manner, SPEEDS};
pub use input::{KEYS, KeyMeans, PadAxis};
pub use lesson::{Learner, Practice};
pub use now::Now;
pub use playing::{PACES, Playing};
pub use reload::{Source, Trouble};
pub use remedies::{OfSeam, Remedies};

use bevy::prelude::*;

/// Everything but pictures and words.
pub struct LogicPlugin;

/// The order of the work in a frame.
#[derive(SystemSet, Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Work {
    /// Keys and gamepad become asks.
    Listen,
    /// Asks are obeyed.
    Obey,
    /// Time goes on, the arm moves.
    Move,
    /// The cell is drawn.
    Draw,
    /// The screen tells of it.
    Tell,
}

impl Plugin for LogicPlugin {
    fn build(&self, app: &mut App) {
        app.add_message::<Ask>()
            .init_resource::<Task>()
            .init_resource::<View>()
            .init_resource::<Before>()
            .init_resource::<Chosen>()
            .init_resource::<ZonesShown>()
            .init_resource::<Playing>()
            .init_resource::<Held>()
            .init_resource::<Practice>()
            .init_resource::<Learner>()
            .init_resource::<Trouble>()
            .init_resource::<Source>()
            .init_resource::<Remedies>()
            .init_resource::<PadAxis>()
            .configure_sets(Update, (Work::Listen, Work::Obey, Work::Move, Work::Draw, Work::Tell).chain())
            .add_systems(Startup, (hand::set_up, now::set_up).chain())
            .add_systems(Update, (input::listen, reload::watch).chain().in_set(Work::Listen))
            .add_systems(
                Update,
                (ask::obey, playing::obey, hand::obey, lesson::obey, remedies::obey)
                    .chain()
                    .in_set(Work::Obey),
            )
            .add_systems(
                Update,
                (playing::go_on, hand::go_on, lesson::measure, now::tell).chain().in_set(Work::Move),
            );
    }
}
