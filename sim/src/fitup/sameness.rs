//! Decides whether a part that lies otherwise fills the same space as before, so that nobody could tell.

use nalgebra::{Matrix3, Unit, Vector3};
use seamwright_kinematics::Pose;

use super::loading::farthest_along;
use crate::cell::{Mesh, Shape, Solid};
use crate::units::mm;

/// Two places are the same, mm.
const SAME_MM: f64 = 0.5;
/// Middles of the skins of two equal meshes differ by less, mm: what cutting round faces into flat ones does to them.
const SAME_SKIN_MM: f64 = 0.02;
/// So far from each other two spreads of skins are compared, mm.
const FARTHEST_MM: f64 = 100.0;

/// Whether every solid comes to lie where an equal one was, so that nothing is wrong with that way.
pub(super) fn is_same(right: &[Shape], turned: &[Shape], moved: &Vector3<f64>) -> bool {
    turned.iter().all(|shape| {
        let pose = nalgebra::Translation3::from(*moved) * shape.frame_from_shape;
        let placed = Shape { frame_from_shape: pose, ..shape.clone() };
        right.iter().any(|other| alike(&placed, other))
    })
}

/// Whether two shapes fill the same space: solids of one kind whose farthest points agree in many directions, of meshes the spread of their
/// skin as well, which a hole or a notch changes.
fn alike(a: &Shape, b: &Shape) -> bool {
    let directions = [-1.0, 0.0, 0.5, 1.0];
    let reach = |way: Vector3<f64>| {
        let Some(way) = Unit::try_new(way, 0.0) else { return true };
        (farthest_along(a, &way) - farthest_along(b, &way)).abs() < mm(SAME_MM)
    };
    let same_outside = || {
        directions
            .iter()
            .all(|x| directions.iter().all(|y| directions.iter().all(|z| reach(Vector3::new(*x, *y, *z)))))
    };
    let same_kind = match (&a.solid, &b.solid) {
        (Solid::Mesh(one), Solid::Mesh(other)) => {
            let [(one, one_spread), (other, other_spread)] =
                [(one, a), (other, b)].map(|(mesh, shape)| skin(mesh, &shape.frame_from_shape));
            (one - other).amax() < mm(SAME_SKIN_MM)
                && (one_spread - other_spread).amax() < mm(SAME_SKIN_MM) * mm(FARTHEST_MM)
        }
        (one, other) => std::mem::discriminant(one) == std::mem::discriminant(other),
    };
    same_kind && same_outside()
}

/// Middle of a mesh's skin, m, and its mean squares about it, m²: the same however the skin is cut into triangles.
fn skin(mesh: &Mesh, pose: &Pose) -> (Vector3<f64>, Matrix3<f64>) {
    let mut area = 0.0;
    let (mut first, mut second) = (Vector3::zeros(), Matrix3::zeros());
    for triangle in &mesh.triangles {
        let corners = triangle.map(|corner| (pose * mesh.vertices[corner as usize]).coords);
        let here = (corners[1] - corners[0]).cross(&(corners[2] - corners[0])).norm() / 2.0;
        // Of a triangle the mean of x xᵀ is the mean of its corners' and its middle's, weighted 1 to 3.
        let middle = (corners[0] + corners[1] + corners[2]) / 3.0;
        let squares: Matrix3<f64> = corners.iter().map(|corner| corner * corner.transpose()).sum();
        area += here;
        first += middle * here;
        second += (squares / 12.0 + middle * middle.transpose() * 0.75) * here;
    }
    let area = area.max(f64::MIN_POSITIVE);
    let middle = first / area;
    (middle, second / area - middle * middle.transpose())
}

#[cfg(test)]
pub(super) mod tests {
    use nalgebra::Point3;

    use super::*;

    #[test]
    fn the_skin_of_a_block_is_spread_as_school_geometry_says() {
        // Of a cube of edge 2 a: two faces at ±a and four on which x is spread evenly, (2 a² + 4 a²/3) / 6 = 5 a²/9.
        let (middle, spread) = skin(&block(&Vector3::repeat(0.3)), &Pose::translation(1.0, 2.0, 3.0));
        assert!((middle - Vector3::new(1.0, 2.0, 3.0)).amax() < 1e-12);
        assert!((spread - Matrix3::identity() * (5.0 / 9.0 * 0.09)).amax() < 1e-12, "{spread}");
    }

    pub(crate) fn block(half: &Vector3<f64>) -> Mesh {
        let corner = |k: usize| {
            let side = |bit: usize, half: f64| if k >> bit & 1 == 0 { -half } else { half };
            Point3::new(side(0, half.x), side(1, half.y), side(2, half.z))
        };
        let faces = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
        Mesh {
            vertices: (0..8).map(corner).collect(),
            triangles: faces.iter().flat_map(|[a, b, c, d]| [[*a, *b, *c], [*a, *c, *d]]).collect(),
            closed: true,
        }
    }
}
