//! What is watched, moved and practised. Runs without a picture; the tests drive it by stated time steps.
//!
//! A cell is checked beside, and what was learnt comes as a [`Show`]. Keys, buttons, gamepad and lessons all put [`Ask`]s; one system
//! obeys them. Then time goes on, the arm is moved by hand, the
//! lesson is measured, and [`Now`] says where everything stands.

mod ask;
mod beside;
mod checking;
mod hand;
mod input;
pub mod lesson;
mod now;
mod playing;
mod reach_in;
mod reload;
mod remedies;
mod watched;

pub use ask::{Ask, Before, Chosen, Task, View, ZonesShown};
pub use beside::{Beside, BrokeOff, Wake};
pub use checking::{Checking, Far};
pub use hand::{Hand, Held, Manner, SPEEDS};
pub use input::{KEYS, KeyMeans, PadAxis};
pub use lesson::{Learner, Practice};
pub use now::Now;
pub use playing::{PACES, Playing};
pub use reach_in::{Broken, ReachIn, can_reach_in};
pub use reload::{Source, Trouble};
pub use remedies::{OfSeam, Remedies};
pub use watched::Watched;

use bevy::prelude::*;

use crate::show::Show;
use crate::site::Site;

/// Everything but pictures and words.
pub struct LogicPlugin;

/// The order of the work in a frame.
#[derive(SystemSet, Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Work {
    /// What was checked beside is taken.
    Load,
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
            .init_resource::<Wake>()
            .init_resource::<Source>()
            .init_resource::<Remedies>()
            .init_resource::<ReachIn>()
            .init_resource::<PadAxis>()
            .configure_sets(
                Update,
                (Work::Load, Work::Listen, Work::Obey, Work::Move, Work::Draw, Work::Tell).chain(),
            )
            // Before anything is learnt of the cell there is nothing to ask for.
            .configure_sets(Update, (Work::Listen, Work::Obey, Work::Move).run_if(resource_exists::<Show>))
            .add_systems(
                Update,
                (
                    reload::watch,
                    stand.run_if(resource_exists_and_changed::<Show>),
                    now::set_up.run_if(resource_added::<Site>),
                    hand::set_up.run_if(resource_added::<Show>),
                )
                    .chain()
                    .in_set(Work::Load),
            )
            .add_systems(Update, input::listen.in_set(Work::Listen))
            .add_systems(
                Update,
                (ask::obey, playing::obey, reach_in::obey, hand::obey, lesson::obey, remedies::obey)
                    .chain()
                    .in_set(Work::Obey),
            )
            .add_systems(
                Update,
                (playing::go_on, reach_in::go_on, hand::go_on, lesson::measure, now::tell)
                    .chain()
                    .in_set(Work::Move),
            );
    }
}

/// What stands there is what the cell that is shown says.
fn stand(mut commands: Commands, show: Res<Show>, site: Option<Res<Site>>) {
    if site.is_none_or(|site| !site.is(&show.site)) {
        commands.insert_resource(show.site);
    }
}
