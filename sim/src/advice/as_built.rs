//! Decides where a fixture really stands, from points of it that the real arm touched.
//!
//! The rigid motion that takes the drawn points to the touched ones with the least sum of squares: both sets are moved to their
//! centroids, and with Σ p·qᵀ = U·S·Vᵀ the rotation is V·diag(1, 1, det(V·Uᵀ))·Uᵀ (after Kabsch and Umeyama, from memory; held
//! against motions known beforehand and against every small change of its result in the tests).

use nalgebra::{Matrix3, Point3, Rotation3, UnitQuaternion, Vector3};
use seamwright_kinematics::Pose;

use crate::cell::frames::FrameId;
use crate::cell::{Cell, StationId};
use crate::units;

/// A point of a fixture, and where the arm found it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Touched {
    /// The station whose fixture was touched.
    pub station: StationId,
    /// As drawn, in the fixture's frame (of the first copy, where there are several), m.
    pub drawn: Point3<f64>,
    /// The wire end when it touched, in the arm's base frame, the external axes as the station says, m.
    pub in_base: Point3<f64>,
}

/// Where a fixture stands after the points touched.
#[derive(Clone, Debug, PartialEq)]
pub struct AsBuilt {
    /// The station.
    pub station: StationId,
    /// How far its origin lies from where it is drawn, in the frame that it stands on, m.
    pub shifted: Vector3<f64>,
    /// How far it is turned from how it is drawn, rad.
    pub turned: f64,
    /// What is left between each drawn point, as it stands now, and where it was touched, m; in the order of the points.
    pub residuals: Vec<f64>,
}

/// Why points do not tell where a fixture stands.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum AsBuiltError {
    /// Fewer than three.
    #[error("{found} points were touched, and three are needed that span the fixture")]
    TooFew {
        /// How many there are.
        found: usize,
    },
    /// Far larger or smaller than what is drawn.
    #[error(
        "where they were touched, the points are {times:.3} times as far apart as drawn: write lengths in millimetres, in both"
    )]
    OtherSize {
        /// As many times.
        times: f64,
    },
    /// All nearly in one place, drawn or touched.
    #[error(
        "as drawn or as touched the points lie within a few millimetres of one another: touch three or more that span the fixture, and write \
         lengths in millimetres"
    )]
    Close,
    /// All on a line: the turn about that line is not known.
    #[error(
        "the points lie on one line, so the turn about it is not known: touch three or more that span the fixture"
    )]
    OnALine,
}

/// Points farther off the line through all of them than this share of their spread along it tell the turn about it.
const OFF_LINE: f64 = 0.05;

/// A fixture is built larger or smaller than drawn by less than so many times.
const OTHER_SIZE: f64 = 2.0;

/// Points nearer together than this tell nothing about a turn.
fn least_spread() -> f64 {
    units::mm(10.0)
}

/// The cell with every touched fixture where it stands, and what that says; stations in the cell's order.
///
/// # Errors
/// The first station whose points do not tell where it stands.
pub fn as_built(cell: &Cell, touched: &[Touched]) -> Result<(Cell, Vec<AsBuilt>), (StationId, AsBuiltError)> {
    let mut real = cell.clone();
    let mut all = Vec::new();
    for index in 0..cell.stations.len() {
        let station = StationId(index);
        let of: Vec<&Touched> = touched.iter().filter(|point| point.station == station).collect();
        if of.is_empty() {
            continue;
        }
        let placing = &cell.stations[index].placing;
        let drawn: Vec<Point3<f64>> = of
            .iter()
            .map(|point| Point3::from(placing.frame_from_drawn * point.drawn.coords + placing.origin))
            .collect();
        let in_base: Vec<Point3<f64>> = of.iter().map(|point| point.in_base).collect();
        let base_from_station = fitted(&drawn, &in_base).map_err(|error| (station, error))?;
        let residuals = drawn.iter().zip(&in_base).map(|(p, q)| (base_from_station * p - q).norm()).collect();
        let external = &cell.stations[index].external;
        let frame = &mut real.frames.frames[cell.stations[index].frame.0];
        let world_from_parent = cell.frames.world_from(frame.parent.unwrap_or(FrameId::WORLD), external);
        let world_from_base = cell.frames.world_from(cell.arm.frame, external) * cell.arm.frame_from_base;
        let parent_from_frame = world_from_parent.inverse() * world_from_base * base_from_station;
        let before = frame.parent_from_frame;
        frame.parent_from_frame = parent_from_frame;
        all.push(AsBuilt {
            station,
            shifted: parent_from_frame.translation.vector - before.translation.vector,
            turned: before.rotation.angle_to(&parent_from_frame.rotation),
            residuals,
        });
    }
    Ok((real, all))
}

/// `base_from_station` with the least sum of squared distances from where it puts `drawn` to `touched`.
fn fitted(drawn: &[Point3<f64>], touched: &[Point3<f64>]) -> Result<Pose, AsBuiltError> {
    if drawn.len() < 3 {
        return Err(AsBuiltError::TooFew { found: drawn.len() });
    }
    let centre = |points: &[Point3<f64>]| {
        points.iter().map(|point| point.coords).sum::<Vector3<f64>>() / points.len() as f64
    };
    let (p0, q0) = (centre(drawn), centre(touched));
    spread_out(drawn, &p0)?;
    let size = |points: &[Point3<f64>], centre: &Vector3<f64>| {
        points.iter().map(|point| (point.coords - centre).norm_squared()).sum::<f64>().sqrt()
    };
    let times = size(touched, &q0) / size(drawn, &p0);
    if !(1.0 / OTHER_SIZE..=OTHER_SIZE).contains(&times) {
        return Err(AsBuiltError::OtherSize { times });
    }
    spread_out(touched, &q0)?;
    let moment: Matrix3<f64> =
        drawn.iter().zip(touched).map(|(p, q)| (p.coords - p0) * (q.coords - q0).transpose()).sum();
    let svd = moment.svd(true, true);
    let (Some(u), Some(v_t)) = (svd.u, svd.v_t) else { return Err(AsBuiltError::OnALine) };
    let v = v_t.transpose();
    let proper = Matrix3::from_diagonal(&Vector3::new(1.0, 1.0, (v * u.transpose()).determinant().signum()));
    let rotation = Rotation3::from_matrix_unchecked(v * proper * u.transpose());
    let rotation = UnitQuaternion::from_rotation_matrix(&rotation);
    Ok(Pose::from_parts((q0 - rotation * p0).into(), rotation))
}

/// Whether points tell a turn about each direction.
fn spread_out(points: &[Point3<f64>], centre: &Vector3<f64>) -> Result<(), AsBuiltError> {
    let scatter: Matrix3<f64> =
        points.iter().map(|point| (point.coords - centre) * (point.coords - centre).transpose()).sum();
    // Squares of the spread along three lines square to each other.
    let mut spread = scatter.symmetric_eigenvalues().map(|square| square.max(0.0).sqrt());
    spread.as_mut_slice().sort_by(|a, b| b.total_cmp(a));
    if spread.x < least_spread() {
        return Err(AsBuiltError::Close);
    }
    if spread.y < OFF_LINE * spread.x {
        return Err(AsBuiltError::OnALine);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points() -> Vec<Point3<f64>> {
        vec![
            Point3::new(0.0, 0.0, 0.0),
            Point3::new(0.6, 0.0, 0.02),
            Point3::new(0.1, 0.4, -0.03),
            Point3::new(0.5, 0.3, 0.1),
        ]
    }

    fn sum_of_squares(pose: &Pose, drawn: &[Point3<f64>], touched: &[Point3<f64>]) -> f64 {
        drawn.iter().zip(touched).map(|(p, q)| (pose * p - q).norm_squared()).sum()
    }

    #[test]
    fn a_motion_known_beforehand_comes_out() {
        let known = Pose::translation(1.2, -0.3, 0.6) * Pose::rotation(Vector3::new(0.3, -0.2, 2.9));
        let drawn = points();
        let touched: Vec<Point3<f64>> = drawn.iter().map(|point| known * point).collect();
        for count in [3, 4] {
            let found = fitted(&drawn[..count], &touched[..count]).unwrap();
            assert!((found.translation.vector - known.translation.vector).norm() < 1e-12);
            assert!(found.rotation.angle_to(&known.rotation) < 1e-9);
        }
    }

    /// What "least squares" means: no neighbour of the answer fits better, for points that no motion fits wholly.
    #[test]
    fn no_small_change_of_the_answer_fits_better() {
        let drawn = points();
        let off = [0.4, -0.7, 0.2, 0.5].map(units::mm);
        let known = Pose::translation(0.8, 0.1, 0.5) * Pose::rotation(Vector3::new(-0.1, 0.4, 1.0));
        let touched: Vec<Point3<f64>> = drawn
            .iter()
            .zip(off)
            .map(|(point, off)| known * point + Vector3::new(off, -0.5 * off, 0.8 * off.abs()))
            .collect();
        let found = fitted(&drawn, &touched).unwrap();
        let least = sum_of_squares(&found, &drawn, &touched);
        assert!(least > 1e-9, "the points fit wholly: {least}");
        for axis in 0..3 {
            for sign in [-1.0, 1.0] {
                let by = Vector3::ith(axis, sign * 1e-5);
                let moved = Pose::translation(by.x, by.y, by.z) * found;
                let turned = found * Pose::rotation(by);
                for near in [moved, turned] {
                    assert!(sum_of_squares(&near, &drawn, &touched) > least, "axis {axis}, {sign}");
                }
            }
        }
    }

    /// A mirrored fixture is another fixture: the fit must not reflect, however much better that would be.
    #[test]
    fn the_answer_is_never_a_reflection() {
        let drawn = points();
        let touched: Vec<Point3<f64>> =
            drawn.iter().map(|point| Point3::new(-point.x, point.y, point.z)).collect();
        let found = fitted(&drawn, &touched).unwrap();
        assert!(sum_of_squares(&found, &drawn, &touched) > 1e-4);
        assert!((found.rotation.to_rotation_matrix().matrix().determinant() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn points_touched_in_another_unit_are_told_as_that() {
        let drawn = points();
        let metres: Vec<Point3<f64>> = drawn.iter().map(|point| point / 1000.0).collect();
        let Err(AsBuiltError::OtherSize { times }) = fitted(&drawn, &metres) else { panic!("they fit") };
        assert!((times - 1e-3).abs() < 1e-12, "{times}");
        assert_eq!(fitted(&metres, &drawn), Err(AsBuiltError::Close));
    }

    #[test]
    fn points_on_a_line_or_too_few_are_refused() {
        let line: Vec<Point3<f64>> =
            (0..5).map(|i| Point3::new(0.1 * f64::from(i), 0.05 * f64::from(i), 0.0)).collect();
        assert_eq!(fitted(&line, &line), Err(AsBuiltError::OnALine));
        let almost: Vec<Point3<f64>> = line
            .iter()
            .enumerate()
            .map(|(i, p)| Point3::new(p.x, p.y, if i == 2 { 0.004 } else { 0.0 }))
            .collect();
        assert_eq!(fitted(&almost, &almost), Err(AsBuiltError::OnALine));
        let one_place = vec![Point3::new(1.0, 2.0, 3.0); 4];
        assert_eq!(fitted(&one_place, &one_place), Err(AsBuiltError::Close));
        assert_eq!(fitted(&points()[..2], &points()[..2]), Err(AsBuiltError::TooFew { found: 2 }));
    }
}
