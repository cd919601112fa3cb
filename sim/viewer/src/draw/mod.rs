//! Solids, seams, light and camera. Everything is placed by [`crate::place`]; nothing is rebuilt while time goes on.

mod bead;
mod bodies;
mod camera;
mod lines;
mod paint;
mod solids;
mod zones;

pub use bodies::Body;
pub use camera::{Orbit, Room, aim, eye_of};
pub use lines::arrow_ends;
pub use paint::{Paint, Paints, verdict_colour};
pub use zones::zone_colour;

use bevy::prelude::*;

use crate::graphics::{self, Effort};
use crate::logic::Work;
use crate::show::Show;
use crate::site::Site;

/// Everything that is seen of the cell.
pub struct DrawPlugin;

/// Belongs to what stands there; gone when another cell is read.
#[derive(Component)]
pub struct OfSite;

/// Belongs to what was learnt of the cell; gone when another is shown.
#[derive(Component)]
pub struct OfShow;

impl Plugin for DrawPlugin {
    fn build(&self, app: &mut App) {
        app.add_plugins(paint::PaintPlugin)
            .init_resource::<Orbit>()
            .init_resource::<Room>()
            .init_resource::<Effort>()
            .insert_resource(ClearColor(Color::srgb(0.80, 0.84, 0.88)))
            .insert_resource(GlobalAmbientLight { brightness: 900.0, ..default() })
            .add_systems(Startup, (paint::set_up, light, graphics::apply).chain())
            .add_systems(
                Update,
                (
                    (clear::<OfSite>, bodies::set_up, zones::set_up)
                        .chain()
                        .run_if(resource_exists_and_changed::<Site>),
                    (clear::<OfShow>, lines::set_up, bead::set_up)
                        .chain()
                        .run_if(resource_exists_and_changed::<Show>),
                    (
                        bodies::presence,
                        bodies::highlight,
                        bead::grow,
                        zones::sweep,
                        lines::place,
                        lines::outlines,
                        lines::goal,
                    )
                        .chain()
                        .run_if(resource_exists::<Show>),
                    (bodies::place, zones::place, camera::take_view, camera::put)
                        .chain()
                        .run_if(resource_exists::<Site>),
                )
                    .chain()
                    .in_set(Work::Draw),
            );
    }
}

fn clear<Of: Component>(mut commands: Commands, old: Query<Entity, With<Of>>) {
    for entity in &old {
        commands.entity(entity).despawn();
    }
}

/// From where the high light comes, in Bevy's world.
const HIGH: Vec3 = Vec3::new(2.5, 6.0, 3.0);
/// From where the light comes that only fills.
const FILL: Vec3 = Vec3::new(-4.0, 3.0, -3.0);

/// A high light with shadows, as from a hall's roof, and one from the other side that only fills.
fn light(mut commands: Commands) {
    let from = |place: Vec3| Transform::from_translation(place).looking_at(Vec3::ZERO, Vec3::Y);
    commands.spawn((
        DirectionalLight { illuminance: 4000.0, shadow_maps_enabled: true, ..default() },
        bevy::light::CascadeShadowConfigBuilder {
            num_cascades: 2,
            first_cascade_far_bound: 1.2,
            minimum_distance: 0.1,
            maximum_distance: 12.0,
            ..default()
        }
        .build(),
        from(HIGH),
    ));
    commands.spawn((DirectionalLight { illuminance: 1100.0, ..default() }, from(FILL)));
}
