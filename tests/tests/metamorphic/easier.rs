//! What makes a cell easier never turns a seam that holds into one that does not: thinner obstacles, wider ranges, wider
//! tolerances, less distance asked, faster axes.

use seamwright_kinematics::{Arm, Axis, Range};
use seamwright_sim::cell::{Band, Cell, Solid};
use seamwright_sim::plan::Verdict;
use seamwright_sim::units::{deg, mm};
use seamwright_tests::bench::{LEFT, Question};

use crate::{checked, scene, scene_with_seams};

/// The solid with `by` (m) taken off all round, as far as that leaves some of it; a mesh as it is.
fn thinner(solid: &Solid, by: f64) -> Solid {
    let less = |length: f64| if length > 2.0 * by { length - by } else { 0.5 * length };
    match solid {
        Solid::Box { half } => Solid::Box { half: half.map(less) },
        Solid::Cylinder { radius, half_height } => {
            Solid::Cylinder { radius: less(*radius), half_height: less(*half_height) }
        }
        Solid::Capsule { radius, half_length } => {
            Solid::Capsule { radius: less(*radius), half_length: *half_length }
        }
        Solid::Sphere { radius } => Solid::Sphere { radius: less(*radius) },
        Solid::Frustum { .. } | Solid::Mesh(_) => solid.clone(),
    }
}

/// Ranges of `which` axes (0-based) and of the hose wider by `wider` (rad) at both ends, every axis `faster` times as fast.
fn with_ranges(cell: &mut Cell, which: &[usize], wider: f64, faster: f64) {
    let old = &cell.arm.arm;
    let wide = |range: Range| Range { min: range.min - wider, max: range.max + wider };
    let axes = std::array::from_fn(|i| {
        let axis = old.axes()[i].clone();
        let range = if which.contains(&i) { wide(axis.range) } else { axis.range };
        Axis { range, max_speed: axis.max_speed * faster, ..axis }
    });
    cell.arm.arm = Arm::new(old.name().to_owned(), axes, *old.link6_from_flange());
    let dress = &mut cell.torch.dress;
    for range in [&mut dress.axis4, &mut dress.axis6, &mut dress.axis4_plus_axis6] {
        *range = range.map(wide);
    }
}

/// Names of the seams that hold and to which a clear way leads.
fn holding(cell: &Cell) -> Vec<String> {
    let findings = checked(cell).findings;
    findings.seams.iter().filter(|seam| seam.is_welded()).map(|seam| seam.full_name()).collect()
}

fn assert_keeps(before: &[String], what: &str, easier: &Cell) {
    let after = holding(easier);
    let lost: Vec<&String> = before.iter().filter(|name| !after.contains(name)).collect();
    assert!(lost.is_empty(), "{what}: {lost:?} held and no longer hold");
}

fn assert_easier_keeps_what_holds(cell: &Cell) {
    let before = holding(cell);
    assert!(!before.is_empty());
    let easier = |what: &str, change: &dyn Fn(&mut Cell)| {
        let mut cell = cell.clone();
        change(&mut cell);
        assert_keeps(&before, what, &cell);
    };
    for by in [1.0, 6.0] {
        easier(&format!("everything that stands {by} mm thinner"), &|cell| {
            for shape in &mut cell.shapes {
                shape.solid = thinner(&shape.solid, mm(by));
            }
        });
    }
    easier("arm and torch 3 mm thinner", &|cell| {
        for shape in &mut cell.arm.shapes {
            shape.solid = thinner(&shape.solid, mm(3.0));
        }
        for shape in &mut cell.torch.shapes {
            shape.solid = thinner(&shape.solid, mm(3.0));
        }
    });
    for wider in [2.0, 25.0] {
        easier(&format!("axes and hose {wider} degrees wider"), &|cell| {
            with_ranges(cell, &[0, 1, 2, 3, 4, 5], deg(wider), 1.0);
        });
    }
    // Every solution then stands on several whole turns of these axes, most of them far from home.
    easier("axes 1, 4 and 6 and the hose more than half a turn wider", &|cell| {
        with_ranges(cell, &[0, 3, 5], deg(200.0), 1.0);
    });
    easier("axes twice as fast", &|cell| with_ranges(cell, &[], 0.0, 2.0));
    for wider in [1.0, 12.0, 30.0] {
        easier(&format!("torch angles {wider} degrees freer"), &|cell| {
            for seam in &mut cell.seams {
                seam.procedure.work = seam.procedure.work.wider(deg(wider));
                seam.procedure.travel = seam.procedure.travel.wider(deg(wider));
            }
        });
    }
    easier("tip to work 4 mm freer", &|cell| {
        for seam in &mut cell.seams {
            seam.procedure.ctwd = seam.procedure.ctwd.wider(mm(4.0));
        }
    });
    easier("half the distances asked", &|cell| {
        let asked = &mut cell.clearance;
        for distance in
            [&mut asked.torch_to_joint, &mut asked.torch, &mut asked.arm, &mut asked.own, &mut asked.wire]
        {
            *distance *= 0.5;
        }
    });
    easier("an arm that strays less", &|cell| cell.arm.path_deviation.value = 0.0);
}

#[test]
fn nothing_that_makes_the_starter_easier_costs_it_a_seam() {
    assert_easier_keeps_what_holds(&scene("gate-bracket/cell.toml"));
}

/// Those that hold only at an end of their angle tolerance, with a turn that varies, or in few configurations.
#[test]
fn nothing_that_makes_hard_seams_easier_costs_one() {
    let names = [
        "pump plate lap, near half",
        "pump plate lap, far half",
        "suction plate foot",
        "suction pipe",
        "drain boss",
        "near lug, suction end, far side",
        "far pedestal, suction side",
    ];
    assert_easier_keeps_what_holds(&scene_with_seams("pump-skid/cell.toml", &names));
}

/// Less in the way leaves every seam that held, though others are still blocked.
#[test]
fn taking_a_clamp_away_frees_seams_and_blocks_none() {
    let cell = scene_with_seams(
        "pump-skid/first-draft.toml",
        &["near pedestal, near side", "near pedestal, far side", "plate butt", "near motor bar, near side"],
    );
    let before = holding(&cell);
    let mut free = cell.clone();
    let clamp = free.shapes.iter_mut().find(|shape| shape.name == "near toggle, pump plate").unwrap();
    clamp.solid = thinner(&clamp.solid, 0.5);
    clamp.frame_from_shape.translation.z += 100.0;
    assert_keeps(&before, "the clamp taken away", &free);
    assert!(holding(&free).len() > before.len());
}

/// A bar along the seam, its middle line 50 mm from the root and `above` (degrees) the plate: it keeps the torch from leaning out as far
/// as it likes, as the rib keeps it from leaning in.
fn bar(above: f64) -> String {
    let (sin, cos) = deg(above).sin_cos();
    let (y, z) = (4.0 + 50.0 * cos, 10.0 + 50.0 * sin);
    format!(
        "[[fixture.shape]]\nname = \"bar\"\nrole = \"fixture\"\nkind = \"cylinder\"\nradius_mm = 2\n\
         from_mm = [-120, {y}, {z}]\nto_mm = [120, {y}, {z}]\n"
    )
}

/// A post to either side of the seam, across it and 40 mm above the plate, so far beyond its ends (mm): they keep the torch from leaning
/// along the seam as far as it likes.
fn posts(beyond: [f64; 2]) -> String {
    let post = |name: &str, x: f64| {
        format!(
            "[[fixture.shape]]\nname = \"{name}\"\nrole = \"fixture\"\nkind = \"cylinder\"\nradius_mm = 2\n\
             from_mm = [{x}, 10, 50]\nto_mm = [{x}, 80, 50]\n"
        )
    };
    post("first post", -100.0 - beyond[0]) + &post("second post", 100.0 + beyond[1])
}

/// Whether the fillet holds with work angle, travel angle (degrees) and CTWD (mm) at these aims with these tolerances.
fn holds_at(besides: &str, [work, travel, ctwd]: [(f64, f64); 3]) -> bool {
    let mut cell = Question { seam: LEFT, besides, ..Question::default() }.cell();
    let procedure = &mut cell.seams[0].procedure;
    procedure.work = Band::even(deg(work.0), deg(work.1));
    procedure.travel = Band::even(deg(travel.0), deg(travel.1));
    procedure.ctwd = Band::even(mm(ctwd.0), mm(ctwd.1));
    checked(&cell).plan.seams[0].verdict == Verdict::Holds
}

/// Between bar and rib a window of a few degrees is left, between the angles that are tried first.
#[test]
fn a_wider_tolerance_never_loses_a_narrow_window_of_work_angle() {
    for (above, inside) in [(20.0, [39.5, 41.0, 42.5]), (22.0, [39.5, 40.0, 40.5])] {
        let bar = bar(above);
        let holds = |work: (f64, f64)| holds_at(&bar, [work, (5.0, 0.0), (15.0, 0.0)]);
        for work in inside {
            assert!(holds((work, 0.0)), "{work} degrees, the bar at {above}: this shows nothing");
        }
        for (work, tolerance) in [(45.0, 8.0), (45.0, 10.0), (45.0, 15.0), (45.0, 20.0), (38.0, 10.0)] {
            assert!(holds((work, tolerance)), "{work} ± {tolerance} degrees, the bar at {above}");
        }
    }
}

/// The same between two posts.
#[test]
fn a_wider_tolerance_never_loses_a_narrow_window_of_travel_angle() {
    let posts = posts([30.0, 22.0]);
    let holds = |travel: (f64, f64)| holds_at(&posts, [(45.0, 0.0), travel, (15.0, 0.0)]);
    assert!(holds((4.0, 0.0)), "this shows nothing");
    assert!(!holds((-1.0, 0.0)) && !holds((9.0, 0.0)), "the window is wider than is said");
    for (travel, tolerance) in [(0.0, 10.0), (-1.0, 9.0), (8.0, 8.0), (4.5, 15.0)] {
        assert!(holds((travel, tolerance)), "{travel} ± {tolerance} degrees");
    }
}

/// And with tolerances of the others beside it.
#[test]
fn tolerances_of_other_angles_lose_no_narrow_window() {
    let bar = bar(20.0);
    for (travel, ctwd) in [((5.0, 10.0), (15.0, 0.0)), ((0.0, 10.0), (16.0, 3.0)), ((5.0, 0.0), (15.0, 5.0))]
    {
        assert!(holds_at(&bar, [(45.0, 10.0), travel, ctwd]), "travel {travel:?}, CTWD {ctwd:?}");
    }
}

/// The same with the rim of the nozzle between rib and plate.
#[test]
fn a_joint_into_which_the_nozzle_fits_at_some_angle_is_not_called_too_tight() {
    let holds = |work: (f64, f64)| holds_at("", [work, (5.0, 0.0), (14.0, 0.0)]);
    assert!(holds((44.0, 0.0)), "this shows nothing");
    assert!(holds((50.0, 20.0)));
}
