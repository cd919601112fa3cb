//! Decides whether there is a graphics driver to draw with, and how much a frame may cost it.

use bevy::prelude::*;
use bevy::tasks::block_on;

/// How much is drawn in a frame.
#[derive(Resource, Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Effort {
    /// Edges smoothed, shadows cast.
    #[default]
    Full,
    /// Neither, and light is reckoned at corners instead of pixels: where the processor does the work of a graphics card the
    /// picture keeps up with the hand.
    Light,
}

/// What this machine lacks where no driver is found.
const NO_DRIVER: &str = "no graphics driver: Vulkan (on Linux; Metal or Direct3D 12 elsewhere) gave none; \
                         on Debian the packages libvulkan1 and mesa-vulkan-drivers bring one that needs no graphics card";

/// The effort that suits the graphics driver of this machine in a window.
///
/// # Errors
/// One sentence where there is no driver.
pub fn effort_in_a_window() -> Result<Effort, String> {
    let instance = wgpu::Instance::new(wgpu::InstanceDescriptor::new_without_display_handle());
    let adapter = block_on(instance.request_adapter(&wgpu::RequestAdapterOptions::default()))
        .map_err(|_| NO_DRIVER.to_owned())?;
    let by_processor = adapter.get_info().device_type == wgpu::DeviceType::Cpu;
    Ok(if by_processor { Effort::Light } else { Effort::Full })
}

/// Makes camera and lights cost what they may.
pub(crate) fn apply(
    effort: Res<Effort>,
    mut cameras: Query<&mut Msaa, With<Camera3d>>,
    mut lights: Query<&mut DirectionalLight>,
) {
    if *effort == Effort::Full {
        return;
    }
    for mut smoothing in &mut cameras {
        *smoothing = Msaa::Off;
    }
    for mut light in &mut lights {
        light.shadow_maps_enabled = false;
    }
}
