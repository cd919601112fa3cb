//! Parts that fit wrongly, and parts that do not.

use std::path::Path;

use super::*;
use crate::cell::read::{Bundled, read_cell_with};
use crate::fitup::sameness::tests::block;

/// Nothing round lies in these vees, so that nothing says where the part would lie when it is turned.
#[test]
fn a_part_that_only_vees_hold_has_no_wrong_way_that_could_be_tried() {
    let cell = include_str!("../../../../scenes/hinge-plate/cell.toml");
    let (before, rest) = cell.split_once("[[fixture.locator]]").unwrap();
    let (_, after) = rest.split_once("[[fixture.clamp]]").unwrap();
    let vee = |name: &str, x: f64| {
        format!(
            "[[fixture.locator]]\nname = \"{name}\"\nkind = \"vee\"\nat_mm = [{x}, 0, 44]\ndirection = [0, 0, 1]\n\
             groove = [1, 0, 0]\n"
        )
    };
    let text = format!("{before}{}{}[[fixture.clamp]]{after}", vee("a", -80.0), vee("b", 80.0));
    let files: [(&str, &[u8]); 3] = [
        ("hinge-plate/cell.toml", text.as_bytes()),
        ("arms/reach-1400.toml", include_bytes!("../../../../scenes/arms/reach-1400.toml")),
        ("torches/bent-neck.toml", include_bytes!("../../../../scenes/torches/bent-neck.toml")),
    ];
    let cell = read_cell_with(Path::new("hinge-plate/cell.toml"), &Bundled(&files)).unwrap();
    assert_eq!(cell.bodies[0].locators.len(), 2);
    assert_eq!(wrong_ways(&cell, &cell.bodies[0]), None);
}

/// A round bar in two vees with a peg that points up at one end, an end stop below the peg's end, and a key that keeps it from rolling.
/// With the peg in the middle it could be turned end for end and nobody would see it; off the middle that is a wrong way.
fn bar(peg_x: f64, more: &str) -> Cell {
    let cell = include_str!("../../../../scenes/hinge-plate/cell.toml");
    let (before, rest) = cell.split_once("[[fixture.shape]]").unwrap();
    let (_, after) = rest.split_once("[[station]]").unwrap();
    let (middle, _) = after.split_once("[[seam]]").unwrap();
    let shape =
        |name: &str, keys: &str| format!("[[fixture.shape]]\nname = \"{name}\"\nrole = \"part\"\n{keys}\n");
    let locator = |name: &str, keys: &str| format!("[[fixture.locator]]\nname = \"{name}\"\n{keys}\n");
    let vee = |name: &str, x: f64| {
        let keys = format!("kind = \"vee\"\nat_mm = [{x}, 0, 60]\ndirection = [0, 0, 1]\ngroove = [1, 0, 0]");
        locator(name, &keys)
    };
    let text = format!(
        "{before}{}{}{}{}{}{}{more}[[station]]{middle}[[seam]]\nname = \"peg\"\nprocedure = \"fillet 4\"\njoint = \"fillet\"\nlength_mm = 60\n",
        shape("bar", "kind = \"cylinder\"\nradius_mm = 20\nfrom_mm = [-150, 0, 60]\nto_mm = [150, 0, 60]"),
        shape("peg", &format!("kind = \"box\"\nat_mm = [{peg_x}, 0, 100]\nsize_mm = [30, 30, 60]")),
        vee("near vee", -100.0),
        vee("far vee", 100.0),
        locator("end stop", "kind = \"stop\"\nat_mm = [-150, 0, 60]\ndirection = [1, 0, 0]"),
        locator("key", &format!("kind = \"stop\"\nat_mm = [{peg_x}, -15, 110]\ndirection = [0, 1, 0]")),
    );
    let files: [(&str, &[u8]); 3] = [
        ("hinge-plate/cell.toml", text.as_bytes()),
        ("arms/reach-1400.toml", include_bytes!("../../../../scenes/arms/reach-1400.toml")),
        ("torches/bent-neck.toml", include_bytes!("../../../../scenes/torches/bent-neck.toml")),
    ];
    read_cell_with(Path::new("hinge-plate/cell.toml"), &Bundled(&files))
        .unwrap_or_else(|problems| panic!("{problems:?}"))
}

/// Turned end for end about z the bar lies in both vees again, but the key meets the peg only where that stands in the middle. Then
/// nothing differs and no way is wrong.
#[test]
fn a_bar_in_vees_fits_turned_end_for_end_only_where_that_changes_nothing() {
    for peg_x in [0.0, 60.0] {
        let cell = bar(peg_x, "");
        let found = wrong_ways(&cell, &cell.bodies[0]).unwrap();
        assert!(found.tried > 0 && found.fit.is_empty(), "peg at {peg_x}: {found:?}");
    }
}

/// With a second, thicker peg where the key would meet it in the turned bar, the bar goes in end for end, and that is wrong: the
/// pegs are 1 mm different.
#[test]
fn a_bar_in_vees_that_fits_end_for_end_though_its_pegs_differ_can_be_loaded_wrongly() {
    let second = "[[fixture.shape]]\nname = \"second peg\"\nrole = \"part\"\nkind = \"box\"\nat_mm = [-60, 0, 105]\nsize_mm = [30, 30, 70]\n";
    let cell = bar(60.0, second);
    let ways = wrong_ways(&cell, &cell.bodies[0]).unwrap().fit;
    // By a turn about z and, what comes to the same with these symmetric pieces, by the mirror image in the middle.
    assert!(ways.iter().any(|way| !way.other_hand), "{ways:?}");
    let half_turn = Matrix3::from_diagonal(&Vector3::new(-1.0, -1.0, 1.0));
    assert!(ways.iter().any(|way| way.turned == half_turn), "{ways:?}");
}

/// The plate with lugs as one mesh: what is found is what is found of the same plate as boxes, other hand included.
#[test]
fn the_other_hand_of_a_mesh_is_found_like_that_of_the_same_boxes() {
    for draft in [
        include_str!("../../../../scenes/hinge-plate/cell.toml"),
        include_str!("../../../../scenes/hinge-plate/first-draft.toml"),
    ] {
        let files: [(&str, &[u8]); 3] = [
            ("hinge-plate/cell.toml", draft.as_bytes()),
            ("arms/reach-1400.toml", include_bytes!("../../../../scenes/arms/reach-1400.toml")),
            ("torches/bent-neck.toml", include_bytes!("../../../../scenes/torches/bent-neck.toml")),
        ];
        let mut cell = read_cell_with(Path::new("hinge-plate/cell.toml"), &Bundled(&files)).unwrap();
        let as_boxes = wrong_ways(&cell, &cell.bodies[0]).unwrap().fit;
        for shape in cell.bodies[0].shapes.clone() {
            let Solid::Box { half } = cell.shapes[shape.0].solid else { panic!("a box is expected") };
            cell.shapes[shape.0].solid = Solid::Mesh(Arc::new(block(&half)));
        }
        assert_eq!(wrong_ways(&cell, &cell.bodies[0]).unwrap().fit, as_boxes);
    }
}

/// The hinge plate's parts, fixture and locators turned about z as they stand: the same ways fit, turned as well.
#[test]
fn the_same_wrong_ways_fit_however_the_fixture_is_turned() {
    let draft = include_str!("../../../../scenes/hinge-plate/first-draft.toml");
    let files: [(&str, &[u8]); 3] = [
        ("hinge-plate/cell.toml", draft.as_bytes()),
        ("arms/reach-1400.toml", include_bytes!("../../../../scenes/arms/reach-1400.toml")),
        ("torches/bent-neck.toml", include_bytes!("../../../../scenes/torches/bent-neck.toml")),
    ];
    let straight = read_cell_with(Path::new("hinge-plate/cell.toml"), &Bundled(&files)).unwrap();
    let ways = wrong_ways(&straight, &straight.bodies[0]).unwrap().fit;
    assert!(!ways.is_empty());
    let turn = nalgebra::UnitQuaternion::from_euler_angles(0.1, 0.2, 0.5);
    let mut cell = straight.clone();
    for shape in cell.shapes.iter_mut().filter(|shape| shape.station.is_some()) {
        shape.frame_from_shape = turn * shape.frame_from_shape;
    }
    for locator in &mut cell.bodies[0].locators {
        locator.at = turn * locator.at;
        locator.direction = turn * locator.direction;
    }
    let turned = wrong_ways(&cell, &cell.bodies[0]).unwrap().fit;
    let matrix = turn.to_rotation_matrix().into_inner();
    assert_eq!(turned.len(), ways.len(), "{turned:?}");
    for way in ways {
        let expected = matrix * way.turned * matrix.transpose();
        assert!(turned.iter().any(|found| (found.turned - expected).amax() < 1e-6), "{expected}");
    }
    cell.bodies[0].other_hand = false;
    let one_hand = wrong_ways(&cell, &cell.bodies[0]).unwrap().fit;
    assert!(!one_hand.is_empty() && one_hand.iter().all(|way| !way.other_hand), "{one_hand:?}");
}
