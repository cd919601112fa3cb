//! What errors of faces do to a joint whose members do not stand square to each other. Tables are invented.

use nalgebra::{Matrix3, Vector3};
use seamwright_sim::fitup::scheme::Scheme;
use seamwright_sim::fitup::shift::Model;
use seamwright_sim::plan::{MoveKind, Options, Verdict, plan};
use seamwright_sim::units;
use seamwright_tests::bench::Question;

use super::drawn_gap::HELD;

/// Where three planes with these normals meet when the first two are this far off along theirs.
fn met([n1, n2]: [Vector3<f64>; 2], t: Vector3<f64>, off: [f64; 2]) -> Vector3<f64> {
    let normals = Matrix3::from_rows(&[n1.transpose(), n2.transpose(), t.transpose()]);
    normals.lu().solve(&Vector3::new(off[0], off[1], 0.0)).unwrap()
}

/// A lug that stands upright or leans away from the wire, on a plate that lies flat. The joint is where the shifted faces
/// meet: a lug whose face is 1 mm off moves the joint by 1 mm / cos of its lean along the plate, and a plate that is 1 mm off moves it
/// along the lug's face.
#[test]
fn a_joint_is_where_its_shifted_faces_meet() {
    for lean in [0.0_f64, 15.0, 30.0] {
        let (sin, cos) = units::deg(lean).sin_cos();
        // What lies 4 mm from the lug's middle plane and 14 mm below its middle, on the wire's side, is at y = 50, z = 10; 6 mm more of it
        // are in the plate.
        let lug = format!(
            "{HELD}\n[[fixture.shape]]\nname = \"lug\"\nrole = \"part\"\nkind = \"box\"\nsize_mm = [120, 8, 40]\n\
             at_mm = [0, {}, {}]\nrotation_zyx_deg = [0, 0, {lean}]\n[variation]\njoint_mm = 0.4\n",
            50.0 - 4.0 * cos - 14.0 * sin,
            10.0 - 4.0 * sin + 14.0 * cos,
        );
        let seam = "points_mm = [[-40, 50, 10], [40, 50, 10]]";
        let cell = Question { besides: &lug, seam, ..Question::default() }.cell();
        let plan = plan(&cell, &Options::default());
        assert_eq!(plan.seams[0].verdict, Verdict::Holds, "{:?}", plan.seams[0].binding);
        let weld =
            plan.seams[0].taught.iter().find(|point| matches!(point.kind, MoveKind::Weld { .. })).unwrap();
        let wire = weld.station_from_tool.rotation * Vector3::z();
        let normals = [Vector3::z(), Vector3::new(0.0, cos, sin)];
        let t = Vector3::x();
        let across = t.cross(&wire).normalize();
        let model = Model::new(&cell, &plan, &Scheme::of(&cell));
        for (face, off) in [("reference face", [1.0, 0.0]), ("other face", [0.0, 1.0])] {
            let local = model.seams[0].local.iter().find(|local| local.cause.whose == face).unwrap();
            let met = met(normals, t, off);
            let (found, expected) = (local.by[0], [across.dot(&met), wire.dot(&met)]);
            assert!((found.x - expected[0]).abs() < 1e-9, "{lean}: {face}: {found} is not {expected:?}");
            assert!((found.y - expected[1]).abs() < 1e-9, "{lean}: {face}: {found} is not {expected:?}");
        }
    }
}
