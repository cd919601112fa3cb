//! Decides where a sensor on the torch has seen the joint before the arc comes there.
//!
//! It looks along the wire at the place that lies `look_ahead` from the wire end along the tool's +X. A place of the joint counts as seen
//! where it passes such a line of sight, of the same weld and no farther on, within what tracking finds the joint from and what a turn of the
//! torch with the joint in sight (`turn_tolerance_deg`) takes the sight aside. So the
//! beginning of every weld, what lies behind a corner, a small arc, and a joint beside which a turned torch looks are not seen.

use nalgebra::{Point3, Vector3};

use super::seam_frame::angles_at;
use crate::cell::{Run, Seam, SeamPath, Sensor};
use crate::plan::{TaughtPoint, station_from_tool};
use crate::units::mm;

/// Places at which the sensor looks are at most so far apart, mm; between two of them its sight goes straight.
const STEP_MM: f64 = 2.0;
/// What is seen farther off by no more than this counts as at its limit, mm.
const DUST_MM: f64 = 1e-6;

/// Stretches of the welds that the sensor has not seen, m from the start of the line, with how far at least its sight passes them, m.
///
/// `taught`: how the torch stands; `found_from`: from how far off tracking finds the joint.
pub(crate) fn not_seen(
    seam: &Seam,
    sensor: &Sensor,
    taught: &[TaughtPoint],
    found_from: f64,
) -> Vec<([f64; 2], f64)> {
    let Some(path) = &seam.path else { return Vec::new() };
    let reach = found_from + sensor.look_ahead * sensor.turn_tolerance.sin();
    seam.runs.iter().flat_map(|run| of_weld(seam, path, *run, sensor, taught, reach)).collect()
}

fn of_weld(
    seam: &Seam,
    path: &SeamPath,
    run: Run,
    sensor: &Sensor,
    taught: &[TaughtPoint],
    reach: f64,
) -> Vec<([f64; 2], f64)> {
    let steps = (run.length() / mm(STEP_MM)).ceil().max(1.0) as usize;
    let places: Vec<f64> =
        (0..=steps).map(|step| run.start + run.length() * step as f64 / steps as f64).collect();
    let sights: Vec<Sight> = places.iter().map(|s| Sight::new(seam, path, sensor, taught, *s)).collect();
    let mut stretches: Vec<([f64; 2], f64)> = Vec::new();
    let mut goes_on = false;
    for (index, s) in places.iter().enumerate() {
        let enough = reach + mm(DUST_MM);
        let off = Sight::nearest(&sights[..=index], &path.at(*s).point, enough);
        let is_seen = off <= enough;
        match stretches.last_mut().filter(|_| goes_on) {
            Some((ends, nearest)) if !is_seen => {
                ends[1] = *s;
                *nearest = nearest.min(off);
            }
            _ if !is_seen => stretches.push(([*s, *s], off)),
            _ => {}
        }
        goes_on = !is_seen;
    }
    stretches
}

/// A line of sight.
struct Sight {
    at: Point3<f64>,
    along: Vector3<f64>,
}

impl Sight {
    fn new(seam: &Seam, path: &SeamPath, sensor: &Sensor, taught: &[TaughtPoint], s: f64) -> Self {
        let point = path.at(s);
        let pose = station_from_tool(&point, &angles_at(seam, taught, s));
        let at = point.point + pose.rotation * Vector3::x() * sensor.look_ahead;
        Self { at, along: pose.rotation * Vector3::z() }
    }

    /// How far from a point the nearest of these passes it, or the band between two of them that follow each other, m; from the last back, and no
    /// nearer one is looked for once one passes it within `enough`.
    fn nearest(sights: &[Self], to: &Point3<f64>, enough: f64) -> f64 {
        let beside = |sight: &Self| {
            let off = to - sight.at;
            off - sight.along * off.dot(&sight.along)
        };
        let mut nearest = f64::INFINITY;
        let mut ahead: Option<Vector3<f64>> = None;
        for off in sights.iter().rev().map(beside) {
            let way = off - ahead.unwrap_or(off);
            let share = if way.norm() > 0.0 { off.dot(&way) / way.norm_squared() } else { 0.0 };
            nearest = nearest.min((off - way * share.clamp(0.0, 1.0)).norm());
            if nearest <= enough {
                break;
            }
            ahead = Some(off);
        }
        nearest
    }
}
