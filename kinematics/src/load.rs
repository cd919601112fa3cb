//! Decides how much of its speeds and accelerations an arm has left under a load, where its file says.

use crate::{Arm, Based, LoadShare};

/// What is left at `load` (kg): straight between the rows, which rise in load; that of the first or last row beyond them. None where
/// there are no rows.
#[must_use]
pub fn load_share(rows: &[LoadShare], load: f64) -> Option<LoadShare> {
    let after = rows.partition_point(|row| row.load <= load);
    let (Some(before), Some(next)) = (after.checked_sub(1).map(|i| &rows[i]), rows.get(after)) else {
        return rows.get(after).or(rows.last()).map(|row| LoadShare { load, ..*row });
    };
    let along = (load - before.load) / (next.load - before.load);
    let between = |from: f64, to: f64| from + (to - from) * along;
    Some(LoadShare {
        load,
        speed: between(before.speed, next.speed),
        acceleration: between(before.acceleration, next.acceleration),
    })
}

impl Arm {
    /// The same arm with this share of its speeds (motors' too) and of its accelerations; jerks go with the accelerations.
    #[must_use]
    pub fn slowed(mut self, share: &LoadShare) -> Self {
        let scaled = |number: Based| Based { value: number.value * share.acceleration, ..number };
        for axis in self.axes_mut() {
            axis.max_speed *= share.speed;
            axis.max_acceleration = scaled(axis.max_acceleration);
            axis.max_jerk = scaled(axis.max_jerk);
        }
        for motor in self.drives.iter_mut().flat_map(|drives| &mut drives.motors) {
            motor.max_speed = motor.max_speed.map(|speed| speed * share.speed);
        }
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_load_between_two_rows_leaves_what_lies_between_and_one_beyond_them_what_the_nearest_does() {
        let rows = [
            LoadShare { load: 2.0, speed: 1.0, acceleration: 1.0 },
            LoadShare { load: 6.0, speed: 0.9, acceleration: 0.6 },
        ];
        let at = |load| load_share(&rows, load).unwrap();
        assert_eq!((at(0.0).speed, at(0.0).acceleration), (1.0, 1.0));
        assert!((at(3.0).speed - 0.975).abs() < 1e-12 && (at(3.0).acceleration - 0.9).abs() < 1e-12);
        assert_eq!((at(6.0).speed, at(9.0).acceleration), (0.9, 0.6));
        assert!(load_share(&[], 1.0).is_none());
    }
}
