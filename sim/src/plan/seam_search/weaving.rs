//! Decides whether the axes can follow a weave where the arm stands, before any way is followed.

use nalgebra::{Point3, Vector3, Vector6};
use seamwright_kinematics::AxisValues;

use super::Search;
use crate::plan::TorchAngles;
use crate::plan::setup::Setup;
use crate::plan::torch_way::sideways;
use crate::plan::trace::weave_of;
use crate::plan::violation::Violation;

/// Second differences over the samples of a wave are up to so much less than the acceleration at its sides: those decide, so that a little
/// more is let pass here.
const LET_PASS: f64 = 1.03;

impl Search<'_, '_> {
    /// The axis that would have to speed up the most beyond its limit at the sides of the weave of layer `k`, where the arm stands at `axes`
    /// with the torch at `angles`. There the wire end stands still across the seam, so that the axes' accelerations are
    /// the inverse Jacobian's of its own.
    pub(super) fn too_fast_to_weave(
        &self,
        k: usize,
        setup: &Setup<'_>,
        axes: &AxisValues,
        angles: &TorchAngles,
    ) -> Option<Violation> {
        let seam = self.tracer.seam;
        let weave = weave_of(seam, self.rungs[k].run).filter(|weave| weave.is_smooth())?;
        let acceleration = weave.curvature() * seam.procedure.travel_speed.powi(2);
        let across = setup.base_from_station.rotation * (sideways(&self.points[k], angles) * acceleration);
        let twist = Vector6::from_iterator(across.iter().chain(&Vector3::zeros()).copied());
        let torch = &setup.cell.torch;
        let wire_end = torch.flange_from_tool * Point3::new(0.0, 0.0, angles.ctwd - torch.nominal_ctwd);
        let arm = &setup.cell.arm.arm;
        let accelerations = arm.axis_rates(axes, &wire_end, &twist).ok()?;
        let shares = arm.axes().iter().enumerate().map(|(axis, of)| {
            let limit = of.max_acceleration.value;
            (axis, accelerations[axis].abs() / limit, limit)
        });
        let (axis, share, limit) = shares.max_by(|a, b| a.1.total_cmp(&b.1))?;
        (share > LET_PASS).then(|| Violation::of_acceleration(axis, share, limit))
    }
}
