//! Colours. Neutral for the machine; verdicts in colours that people with any colour vision tell apart, and never by colour alone.

use bevy::asset::{load_internal_asset, uuid_handle};
use bevy::mesh::MeshVertexBufferLayoutRef;
use bevy::pbr::{MaterialPipeline, MaterialPipelineKey};
use bevy::prelude::*;
use bevy::render::render_resource::{AsBindGroup, RenderPipelineDescriptor, SpecializedMeshPipelineError};
use bevy::shader::ShaderRef;
use seamwright_sim::cell::{Role, TorchPart};
use seamwright_sim::findings::SeamFindings;
use seamwright_sim::plan::Verdict;

use super::{FILL, HIGH};
use crate::graphics::Effort;

/// Every material there is: bodies share them, so that the renderer draws them together.
#[derive(Resource)]
pub struct Paints {
    /// Links of the arm, even and odd, so that neighbours can be told apart.
    pub links: [Handle<Paint>; 2],
    /// Torch body.
    pub torch: Handle<Paint>,
    /// Gas nozzle.
    pub nozzle: Handle<Paint>,
    /// Bare wire.
    pub wire: Handle<Paint>,
    /// Parts of the weldment.
    pub part: Handle<Paint>,
    /// What holds them.
    pub fixture: Handle<Paint>,
    /// What presses them.
    pub clamp: Handle<Paint>,
    /// Anything else.
    pub surroundings: Handle<Paint>,
    /// The floor.
    pub floor: Handle<Paint>,
    /// Guards: one can see through them.
    pub guard: Handle<Paint>,
    /// The two bodies that are too near each other.
    pub clash: Handle<Paint>,
    /// Of the two the one of arm or torch.
    pub clash_own: Handle<Paint>,
    /// The same where one looks through the body.
    pub clash_through: Handle<Paint>,
    /// Welded bead.
    pub bead: Handle<Paint>,
    /// The arc.
    pub arc: Handle<Paint>,
    /// The glow around it.
    pub glow: Handle<Paint>,
    /// A place that is blocked.
    pub blocked: Handle<Paint>,
    /// A space that is kept.
    pub space: Handle<Paint>,
    /// The space that is passed through.
    pub swept: Handle<Paint>,
    /// What watches for people.
    pub curtain: Handle<Paint>,
}

/// A colour and how it takes light.
#[derive(Asset, TypePath, AsBindGroup, Clone, Debug)]
#[bind_group_data(Reckoned)]
pub struct Paint {
    #[uniform(0)]
    colour: LinearRgba,
    #[uniform(0)]
    to_high: Vec3,
    #[uniform(0)]
    to_fill: Vec3,
    #[uniform(0)]
    roughness: f32,
    #[uniform(0)]
    reflectance: f32,
    reckoned: Reckoned,
}

/// Whether and where light is reckoned. No shader asks a uniform for it: a driver that puts the values of uniforms that are asked into the
/// program makes the program anew for every body of every frame.
#[repr(C)]
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Reckoned {
    at_corners: bool,
    /// Else as bright as its colour, whatever light falls on it.
    lit: bool,
}

impl From<&Paint> for Reckoned {
    fn from(paint: &Paint) -> Self {
        paint.reckoned
    }
}

/// The shader, which is part of the program.
const SHADER: Handle<Shader> = uuid_handle!("5f1f5b1c-0f0a-4c3e-9d0e-6b7a3a2f9c41");

/// Makes [`Paint`] known to the renderer.
pub(super) struct PaintPlugin;

impl Plugin for PaintPlugin {
    fn build(&self, app: &mut App) {
        load_internal_asset!(app, SHADER, "paint.wgsl", Shader::from_wgsl);
        app.add_plugins(MaterialPlugin::<Paint>::default());
    }
}

impl Material for Paint {
    fn vertex_shader() -> ShaderRef {
        SHADER.into()
    }

    fn fragment_shader() -> ShaderRef {
        SHADER.into()
    }

    fn alpha_mode(&self) -> AlphaMode {
        if self.colour.alpha < 1.0 { AlphaMode::Blend } else { AlphaMode::Opaque }
    }

    fn specialize(
        _: &MaterialPipeline,
        pipeline: &mut RenderPipelineDescriptor,
        _: &MeshVertexBufferLayoutRef,
        key: MaterialPipelineKey<Self>,
    ) -> Result<(), SpecializedMeshPipelineError> {
        let Reckoned { at_corners, lit } = key.bind_group_data;
        for (name, _) in [("PLAIN", at_corners), ("LIT", lit)].into_iter().filter(|(_, holds)| *holds) {
            pipeline.vertex.shader_defs.push(name.into());
            if let Some(fragment) = &mut pipeline.fragment {
                fragment.shader_defs.push(name.into());
            }
        }
        Ok(())
    }
}

pub(super) fn set_up(mut commands: Commands, effort: Res<Effort>, mut paints: ResMut<Assets<Paint>>) {
    let any = Paint {
        colour: LinearRgba::WHITE,
        to_high: HIGH.normalize(),
        to_fill: FILL.normalize(),
        roughness: 1.0,
        reflectance: 0.25,
        reckoned: Reckoned { at_corners: *effort == Effort::Light, lit: true },
    };
    let mut plain = |red, green, blue, roughness| {
        paints.add(Paint { colour: Color::srgb(red, green, blue).into(), roughness, ..any.clone() })
    };
    let links = [plain(0.88, 0.87, 0.83, 0.55), plain(0.70, 0.70, 0.68, 0.55)];
    let torch = plain(0.33, 0.34, 0.37, 0.6);
    let nozzle = plain(0.72, 0.45, 0.28, 0.4);
    let wire = plain(0.85, 0.40, 0.15, 0.4);
    let part = plain(0.62, 0.68, 0.74, 0.45);
    let fixture = plain(0.36, 0.41, 0.47, 0.7);
    let clamp = plain(0.47, 0.38, 0.28, 0.7);
    let surroundings = plain(0.54, 0.56, 0.57, 0.8);
    let floor = plain(0.66, 0.67, 0.66, 0.95);
    let clash = plain(0.84, 0.22, 0.05, 0.5);
    let clash_own = plain(0.95, 0.70, 0.10, 0.5);
    let bead = plain(0.30, 0.27, 0.25, 0.5);
    let see_through = |red, green, blue, alpha| Paint {
        colour: Color::srgba(red, green, blue, alpha).into(),
        reckoned: Reckoned { lit: false, ..any.reckoned },
        ..any.clone()
    };
    let guard = paints.add(see_through(0.30, 0.38, 0.45, 0.13));
    let clash_through = paints.add(see_through(0.84, 0.22, 0.05, 0.40));
    let arc = paints.add(see_through(1.0, 1.0, 0.93, 1.0));
    let glow = paints.add(see_through(0.75, 0.87, 1.0, 0.45));
    let blocked = paints.add(see_through(0.84, 0.22, 0.05, 0.75));
    let space = paints.add(see_through(0.20, 0.35, 0.50, 0.07));
    let swept =
        paints.add(Paint { reckoned: any.reckoned, reflectance: 0.0, ..see_through(0.80, 0.66, 0.40, 0.30) });
    let curtain = paints.add(see_through(0.80, 0.47, 0.65, 0.22));
    commands.insert_resource(Paints {
        links,
        torch,
        nozzle,
        wire,
        part,
        fixture,
        clamp,
        surroundings,
        floor,
        guard,
        clash,
        clash_own,
        clash_through,
        bead,
        arc,
        glow,
        blocked,
        space,
        swept,
        curtain,
    });
}

impl Paints {
    /// Of a shape of the cell.
    #[must_use]
    pub fn of_role(&self, role: Role) -> &Handle<Paint> {
        match role {
            Role::Part => &self.part,
            Role::Fixture => &self.fixture,
            Role::Clamp => &self.clamp,
            Role::Surroundings => &self.surroundings,
        }
    }

    /// Of a torch shape.
    #[must_use]
    pub fn of_torch(&self, part: TorchPart) -> &Handle<Paint> {
        match part {
            TorchPart::Body => &self.torch,
            TorchPart::Nozzle => &self.nozzle,
            TorchPart::Wire => &self.wire,
        }
    }
}

/// Blue holds, orange was not found, red-orange cannot hold, grey was not checked: the steps of a palette made for all colour
/// vision (Okabe and Ito, Color Universal Design, 2008; values from memory).
#[must_use]
pub fn verdict_colour(seam: &SeamFindings) -> Color {
    match seam.verdict {
        Verdict::Holds if !seam.unreached => Color::srgb_u8(0, 114, 178),
        Verdict::Holds | Verdict::NotFound => Color::srgb_u8(230, 159, 0),
        Verdict::CannotHold => Color::srgb_u8(213, 94, 0),
        Verdict::NotChecked => Color::srgb_u8(90, 90, 90),
    }
}
