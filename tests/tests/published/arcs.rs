//! Arc seams through three points, as a cell file gives them.

use std::path::Path;

use nalgebra::{Point3, Vector3};
use seamwright_sim::cell::Form;
use seamwright_sim::cell::read::{Bundled, read_cell_with};
use seamwright_sim::units;
use seamwright_tests::rows;

/// The table prints 12 significant digits of values up to 5.
const TOLERANCE: f64 = 5e-11;

#[test]
fn an_arc_through_three_points_has_the_centre_radius_sweep_and_length_of_its_circle() {
    let rows = rows("published/arc_three_points.csv");
    assert!(rows.len() >= 4);
    for row in rows {
        let vector = |names: [&str; 3]| Vector3::from(names.map(|name| row.number(name)));
        let points = [["ax", "ay", "az"], ["bx", "by", "bz"], ["cx", "cy", "cz"]].map(vector);
        let centre = vector(["center_x", "center_y", "center_z"]);
        let normal = vector(["normal_x", "normal_y", "normal_z"]);
        // Nothing stands around these arcs, so their face normals are given: along the axis, and away from it.
        let text = format!(
            r#"
            format = 1
            name = "arc"
            [arm]
            file = "arm.toml"
            [torch]
            file = "torch.toml"
            [[procedure]]
            name = "any"
            work_deg = 45
            travel_deg = 0
            ctwd_mm = 15
            travel_speed_mm_s = 8
            [[station]]
            name = "here"
            fixture = "none"
            load_s = 1
            [[fixture]]
            name = "none"
            [[seam]]
            name = "arc"
            procedure = "any"
            joint = "fillet"
            arc_mm = {:?}
            n1 = {:?}
            n2 = {:?}
            "#,
            points.map(|point| <[f64; 3]>::from(point.map(units::to_mm))),
            <[f64; 3]>::from(normal),
            <[f64; 3]>::from(points[0] - centre),
        );
        let files: [(&str, &[u8]); 3] = [
            ("cell.toml", text.as_bytes()),
            ("arm.toml", include_bytes!("../../../scenes/arms/reach-1400.toml")),
            ("torch.toml", include_bytes!("../../../scenes/torches/bent-neck.toml")),
        ];
        let cell = read_cell_with(Path::new("cell.toml"), &Bundled(&files))
            .unwrap_or_else(|problems| panic!("{row}: {problems:?}"));
        let seam = &cell.seams[0];
        let path = seam.path.as_ref().unwrap();
        let Form::Arc { centre: found, axis, sweep } = &path.pieces[0].form else {
            panic!("{row}: no arc");
        };
        assert!((found.coords - centre).amax() < TOLERANCE, "{row}: centre {found}");
        assert!((axis.into_inner() - normal).amax() < TOLERANCE, "{row}: axis {axis:?}");
        let radius = (path.pieces[0].start - found).norm();
        assert!((radius - row.number("radius_m")).abs() < TOLERANCE, "{row}: radius {radius}");
        let swept = units::to_deg(*sweep) - row.number("sweep_deg");
        assert!(units::deg(swept.abs()) < TOLERANCE, "{row}: sweep {sweep}");
        let length = row.number("arc_length_m");
        assert!((seam.drawn_length - length).abs() < TOLERANCE, "{row}: length {}", seam.drawn_length);
        assert!((path.at(length).point - Point3::from(points[2])).amax() < TOLERANCE, "{row}: end");
    }
}
