//! Colours. Neutral for the machine; verdicts in colours that people with any colour vision tell apart, and never by colour alone.

use bevy::prelude::*;
use seamwright_sim::cell::{Role, TorchPart};
use seamwright_sim::findings::SeamFindings;
use seamwright_sim::plan::Verdict;

/// Every material there is: bodies share them, so that the renderer draws them together.
#[derive(Resource)]
pub struct Paints {
    /// Links of the arm, even and odd, so that neighbours can be told apart.
    pub links: [Handle<StandardMaterial>; 2],
    /// Torch body.
    pub torch: Handle<StandardMaterial>,
    /// Gas nozzle.
    pub nozzle: Handle<StandardMaterial>,
    /// Bare wire.
    pub wire: Handle<StandardMaterial>,
    /// Parts of the weldment.
    pub part: Handle<StandardMaterial>,
    /// What holds them.
    pub fixture: Handle<StandardMaterial>,
    /// What presses them.
    pub clamp: Handle<StandardMaterial>,
    /// Anything else.
    pub surroundings: Handle<StandardMaterial>,
    /// The floor.
    pub floor: Handle<StandardMaterial>,
    /// Guards: one can see through them.
    pub guard: Handle<StandardMaterial>,
    /// The two bodies that are too near each other.
    pub clash: Handle<StandardMaterial>,
    /// Welded bead.
    pub bead: Handle<StandardMaterial>,
    /// The arc.
    pub arc: Handle<StandardMaterial>,
    /// The glow around it.
    pub glow: Handle<StandardMaterial>,
    /// A place that is blocked.
    pub blocked: Handle<StandardMaterial>,
    /// A space that is kept.
    pub space: Handle<StandardMaterial>,
    /// The space that is passed through.
    pub swept: Handle<StandardMaterial>,
    /// What watches for people.
    pub curtain: Handle<StandardMaterial>,
}

pub(super) fn set_up(mut commands: Commands, mut materials: ResMut<Assets<StandardMaterial>>) {
    let mut plain = |red, green, blue, rough| {
        materials.add(StandardMaterial {
            base_color: Color::srgb(red, green, blue),
            perceptual_roughness: rough,
            reflectance: 0.25,
            ..default()
        })
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
    let bead = plain(0.30, 0.27, 0.25, 0.5);
    let see_through = |red, green, blue, alpha| StandardMaterial {
        base_color: Color::srgba(red, green, blue, alpha),
        alpha_mode: AlphaMode::Blend,
        unlit: true,
        ..default()
    };
    let guard = materials.add(see_through(0.30, 0.38, 0.45, 0.13));
    let arc =
        materials.add(StandardMaterial { base_color: Color::srgb(1.0, 1.0, 0.93), unlit: true, ..default() });
    let glow = materials.add(see_through(0.75, 0.87, 1.0, 0.45));
    let blocked = materials.add(see_through(0.84, 0.22, 0.05, 0.75));
    let space = materials.add(see_through(0.20, 0.35, 0.50, 0.07));
    let swept = materials.add(StandardMaterial {
        unlit: false,
        perceptual_roughness: 1.0,
        reflectance: 0.0,
        ..see_through(0.80, 0.66, 0.40, 0.30)
    });
    let curtain = materials.add(see_through(0.80, 0.47, 0.65, 0.22));
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
    pub fn of_role(&self, role: Role) -> &Handle<StandardMaterial> {
        match role {
            Role::Part => &self.part,
            Role::Fixture => &self.fixture,
            Role::Clamp => &self.clamp,
            Role::Surroundings => &self.surroundings,
        }
    }

    /// Of a torch shape.
    #[must_use]
    pub fn of_torch(&self, part: TorchPart) -> &Handle<StandardMaterial> {
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
