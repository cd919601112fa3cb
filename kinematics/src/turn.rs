//! Decides how angles are carried through the solvers: as cosine and sine, so that an arctangent is taken only of what
//! is handed out, and a root near a double root loses no digits.

use std::f64::consts::{PI, TAU};

use nalgebra::{Vector2, Vector3};

use crate::angle::angle_of;

/// An angle by its cosine and sine.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Turn {
    pub(crate) cos: f64,
    pub(crate) sin: f64,
}

impl Turn {
    pub(crate) const NONE: Self = Self { cos: 1.0, sin: 0.0 };

    /// Of an angle in rad.
    pub(crate) fn of(angle: f64) -> Self {
        let (sin, cos) = angle.sin_cos();
        Self { cos, sin }
    }

    /// From the x axis to `vector`; none where the vector is no longer than `least`.
    pub(crate) fn toward(vector: Vector2<f64>, least: f64) -> Option<Self> {
        let length = vector.norm();
        (length > least).then(|| Self { cos: vector.x / length, sin: vector.y / length })
    }

    /// The angle whose half has a squared tangent of `sine / cosine`, both at least 0, not both 0; in [0, π].
    pub(crate) fn of_half(sine: f64, cosine: f64) -> Self {
        let sum = sine + cosine;
        Self { cos: (cosine - sine) / sum, sin: 2.0 * (sine * cosine).sqrt() / sum }
    }

    /// In (−π, π].
    pub(crate) fn angle(self) -> f64 {
        angle_of(self.cos, self.sin)
    }

    /// The sum of two angles.
    pub(crate) fn then(self, other: Self) -> Self {
        Self {
            cos: self.cos * other.cos - self.sin * other.sin,
            sin: self.sin * other.cos + self.cos * other.sin,
        }
    }

    /// Half a turn further.
    pub(crate) fn half_on(self) -> Self {
        Self { cos: -self.cos, sin: -self.sin }
    }

    /// The opposite angle.
    pub(crate) fn back(self) -> Self {
        Self { cos: self.cos, sin: -self.sin }
    }

    /// The angle times 1 or −1.
    pub(crate) fn signed(self, sign: f64) -> Self {
        Self { cos: self.cos, sin: self.sin * sign }
    }

    /// A plane vector turned by this.
    pub(crate) fn turn(self, vector: Vector2<f64>) -> Vector2<f64> {
        Vector2::new(self.cos * vector.x - self.sin * vector.y, self.sin * vector.x + self.cos * vector.y)
    }

    /// `vector` turned right-handed about the unit vector `direction`.
    pub(crate) fn about(self, direction: &Vector3<f64>, vector: &Vector3<f64>) -> Vector3<f64> {
        let along = direction.dot(vector) * (1.0 - self.cos);
        vector * self.cos + direction.cross(vector) * self.sin + direction * along
    }

    /// Whether two angles differ by less than `tolerance` (rad, small).
    pub(crate) fn is_near(self, other: Self, tolerance: f64) -> bool {
        let (cos, sin) = (self.cos - other.cos, self.sin - other.sin);
        cos * cos + sin * sin < tolerance * tolerance
    }
}

/// The angle within (−π, π] that differs from `angle` (rad) by whole turns.
pub(crate) fn wrapped(angle: f64) -> f64 {
    let turned = angle - TAU * (angle / TAU).round();
    if turned <= -PI { PI } else { turned }
}
