//! A seam checked as it was taught: what was planned and is then taught holds as planned; what is taught off the seam is off by as much.

use std::fmt::Write;

use nalgebra::{Quaternion, UnitQuaternion, Vector3};
use seamwright_kinematics::Range;
use seamwright_sim::advice::{Kind, advise};
use seamwright_sim::cell::{Cell, SeamId};
use seamwright_sim::check::{Checked, Options, check};
use seamwright_sim::findings::words::LengthUnit;
use seamwright_sim::findings::{Limit, Place, RuleStop, Taught, TorchAngleName};
use seamwright_sim::plan::Verdict;
use seamwright_sim::units::deg;
use seamwright_tests::bench::{LEFT, Question};
use statrs::distribution::{ContinuousCDF, Normal};

use super::drawn_gap::HELD;

fn checked(cell: &Cell) -> Checked {
    check(cell, &Options { seed: 0, watch: &() })
}

const POST: &str = "[[fixture.shape]]\nname = \"post\"\nrole = \"part\"\nkind = \"cylinder\"\nat_mm = [110, 60, 30]\nradius_mm = 15\nheight_mm = 40\n";
const ARC: &str = "arc_mm = [[125, 60, 10], [110, 75, 10], [95, 60, 10]]";
const WIDE: &str = "work_tolerance_deg = 12\ntravel_tolerance_deg = 12";

fn asked(line: &str, taught: Option<&str>) -> Checked {
    asked_within(WIDE, line, taught)
}

fn asked_within(procedure: &str, line: &str, taught: Option<&str>) -> Checked {
    let seam = format!("{line}\n{}", if taught.is_some() { "taught_csv = \"taught.csv\"" } else { "" });
    let file = taught.unwrap_or_default().as_bytes();
    let files = [("cells/taught.csv", file)];
    let besides = if line == ARC { POST } else { "" };
    let question = Question { procedure, seam: &seam, besides, files: &files, ..Question::default() };
    checked(&question.cell())
}

fn by_axes(points: &[Taught]) -> String {
    let mut file =
        "move,circular,ctwd_mm,axis1_deg,axis2_deg,axis3_deg,axis4_deg,axis5_deg,axis6_deg\n".to_owned();
    for point in points {
        let circular = if point.circular { "yes" } else { "no" };
        write!(file, "{},{circular},{}", point.kind.name(), point.ctwd_mm).unwrap();
        point.axes_deg.iter().for_each(|value| write!(file, ",{value}").unwrap());
        file.push('\n');
    }
    file
}

/// Each tool pose moved by `shift` (mm).
fn by_pose(points: &[Taught], shift: [f64; 3]) -> String {
    let mut file = "move,circular,ctwd_mm,x_mm,y_mm,z_mm,qw,qx,qy,qz\n".to_owned();
    for point in points {
        let circular = if point.circular { "yes" } else { "no" };
        write!(file, "{},{circular},{}", point.kind.name(), point.ctwd_mm).unwrap();
        (0..3).for_each(|i| write!(file, ",{}", point.xyz_mm[i] + shift[i]).unwrap());
        point.quaternion_wxyz.iter().for_each(|value| write!(file, ",{value}").unwrap());
        file.push('\n');
    }
    file
}

/// A peg stands where the nozzle of a taught weld goes: the way is taught, so the peg is what can be moved, and then it holds.
#[test]
fn what_is_in_the_way_of_a_taught_weld_may_be_moved() {
    let planned = asked(LEFT, None);
    let points = &planned.findings.seams[0].taught;
    let file = by_axes(points);
    let middle = &points[points.len() / 2];
    let [w, x, y, z] = middle.quaternion_wxyz;
    let tool = UnitQuaternion::from_quaternion(Quaternion::new(w, x, y, z));
    // 45 mm up the wire from its end.
    let peg = Vector3::from(middle.xyz_mm) - tool * Vector3::z() * 45.0;
    let besides = format!(
        "[[fixture.shape]]\nname = \"peg\"\nkind = \"sphere\"\nat_mm = [{}, {}, {}]\nradius_mm = 8\n",
        peg.x, peg.y, peg.z
    );
    let seam = format!("{LEFT}\ntaught_csv = \"taught.csv\"");
    let files = [("cells/taught.csv", file.as_bytes())];
    let question =
        Question { procedure: WIDE, seam: &seam, besides: &besides, files: &files, ..Question::default() };
    let cell = question.cell();
    let before = checked(&cell);
    assert_eq!(before.plan.seams[0].verdict, Verdict::CannotHold);
    let advice = advise(&cell, &before.searched, &before.plan).unwrap();
    let moved = advice.seams[0].of_kind(Kind::MovedShape).expect("the peg may be moved");
    let after = checked(&moved.change.made(&cell));
    assert!(after.plan.is_welded(SeamId(0)), "{:?}", moved.change);
}

/// Taught as planned, a seam takes the time of the plan, to what six decimals of a degree leave.
#[test]
fn what_was_planned_and_taught_holds_in_the_same_time() {
    for line in [LEFT, ARC] {
        let planned = asked(line, None);
        let points = &planned.findings.seams[0].taught;
        assert_eq!(planned.plan.seams[0].verdict, Verdict::Holds, "{:?}", planned.plan.seams[0].binding);
        for file in [by_axes(points), by_pose(points, [0.0; 3])] {
            let taught = asked(line, Some(&file));
            let seam = &taught.findings.seams[0];
            assert_eq!(seam.verdict, Verdict::Holds, "{:?}\n{file}", seam.stops);
            let beside = seam.beside.as_ref().unwrap();
            assert_eq!((beside.replanned, beside.points), (Verdict::Holds, points.len()));
            let (one, other) = (beside.as_taught_s.unwrap(), beside.replanned_s.unwrap());
            assert!((one - other).abs() < 1e-3, "{one} s as taught, {other} s as planned");
            let weld = |of: &Checked| of.schedule.visits[0].times().arc;
            assert!((weld(&taught) - weld(&planned)).abs() < 1e-3);
        }
    }
}

/// Corners at which the planned weld is slower, taught as planned, hold and are as slow, whatever tip-to-work distance was planned: the torch's
/// nominal one is 15 mm. Its end of 18 mm is planned with no room left. The same seam planned anew beside it takes the same time too.
#[test]
fn corners_taught_as_planned_take_the_time_of_the_plan() {
    let block = "[[fixture.shape]]\nname = \"block\"\nrole = \"part\"\nkind = \"box\"\nat_mm = [0, 0, 20]\nsize_mm = [260, 80, 20]\n";
    let line = "points_mm = [[0, 40, 10], [-130, 40, 10], [-130, -40, 10], [0, -40, 10]]";
    for (zone, speed, ctwd) in [(0.5, 7.0, 15.0), (3.0, 20.0, 18.0), (8.0, 20.0, 15.0), (20.0, 20.0, 18.0)] {
        let procedure = format!("{WIDE}\ncorner_zone_mm = {zone}");
        let with = |taught: Option<&str>| {
            let seam =
                format!("{line}\n{}", if taught.is_some() { "taught_csv = \"taught.csv\"" } else { "" });
            let files = [("cells/taught.csv", taught.unwrap_or_default().as_bytes())];
            let mut cell = Question {
                procedure: &procedure,
                seam: &seam,
                besides: block,
                files: &files,
                ..Question::default()
            }
            .cell();
            cell.seams[0].procedure.travel_speed = speed / 1000.0;
            let band = &mut cell.seams[0].procedure.ctwd;
            (band.aim, band.above) = (ctwd / 1000.0, 0.0);
            checked(&cell)
        };
        let planned = with(None);
        let points = &planned.findings.seams[0].taught;
        assert_eq!(planned.plan.seams[0].verdict, Verdict::Holds, "{:?}", planned.plan.seams[0].binding);
        let taught = with(Some(&by_axes(points)));
        let seam = &taught.findings.seams[0];
        assert_eq!(seam.verdict, Verdict::Holds, "zone {zone}, {speed} mm/s: {:?}", seam.stops);
        let weld = |of: &Checked| of.schedule.visits[0].times().arc;
        let (one, other) = (weld(&taught), weld(&planned));
        assert!(
            (one - other).abs() < 3e-3 * other,
            "zone {zone}, {speed} mm/s: {one} s as taught, {other} s as planned"
        );
        let beside = seam.beside.as_ref().unwrap();
        let (one, other) = (beside.as_taught_s.unwrap(), beside.replanned_s.unwrap());
        assert!(
            (one - other).abs() < 3e-3 * other,
            "zone {zone}, {speed} mm/s: {one} s as taught, {other} s planned anew"
        );
    }
}

/// Round a block, from one of its corners back to it: where the weld begins its line ends too, in another direction.
#[test]
fn what_was_planned_round_a_closed_line_from_a_corner_holds_as_taught() {
    let block = "[[fixture.shape]]\nname = \"block\"\nrole = \"part\"\nkind = \"box\"\nat_mm = [0, 0, 20]\nsize_mm = [260, 80, 20]\n";
    let round = "points_mm = [[130, 40, 10], [-130, 40, 10], [-130, -40, 10], [130, -40, 10]]\nclosed = true";
    let with = |taught: Option<&str>| {
        let seam = format!("{round}\n{}", if taught.is_some() { "taught_csv = \"taught.csv\"" } else { "" });
        let files = [("cells/taught.csv", taught.unwrap_or_default().as_bytes())];
        checked(
            &Question { procedure: WIDE, seam: &seam, besides: block, files: &files, ..Question::default() }
                .cell(),
        )
    };
    let planned = with(None);
    let points = &planned.findings.seams[0].taught;
    assert_eq!(planned.plan.seams[0].verdict, Verdict::Holds, "{:?}", planned.plan.seams[0].binding);
    for file in [by_axes(points), by_pose(points, [0.0; 3]), by_pose(points, [0.0, 1e-6, 0.0])] {
        let seam = &with(Some(&file)).findings.seams[0];
        assert_eq!(seam.verdict, Verdict::Holds, "{:?}\n{file}", seam.stops);
    }
}

/// With no tolerance at all the planned angles lie on the end of theirs, and each axis value of `points.csv` is rounded to half a millionth of
/// a degree: six of them turn the wire by at most 3·10⁻⁶ degrees, which is no fault of whoever taught it.
#[test]
fn what_was_planned_at_the_end_of_a_tolerance_holds_as_written_with_six_decimals() {
    const NONE: &str = "work_tolerance_deg = 0\ntravel_tolerance_deg = 0";
    let planned = asked_within(NONE, LEFT, None);
    let points = &planned.findings.seams[0].taught;
    assert_eq!(planned.plan.seams[0].verdict, Verdict::Holds, "{:?}", planned.plan.seams[0].binding);
    let taught = asked_within(NONE, LEFT, Some(&by_axes(points)));
    assert_eq!(taught.findings.seams[0].verdict, Verdict::Holds, "{:?}", taught.findings.seams[0].stops);
}

/// Two lines with directions t and e, the one moved by d: they pass each other at |d · (t × e)| / |t × e|. With t along x and the wire at
/// 45 degrees in the plane square to x (any travel angle turns it about the line square to both), 2 mm along y are 2 cos 45° = 1.414 mm,
/// of which half the wire of 1.2 mm is allowed.
#[test]
fn a_weld_taught_beside_the_root_is_off_by_as_much() {
    let planned = asked(LEFT, None);
    let file = by_pose(&planned.findings.seams[0].taught, [0.0, 2.0, 0.0]);
    let taught = asked(LEFT, Some(&file));
    assert_eq!(taught.plan.seams[0].verdict, Verdict::CannotHold);
    let beyond = taught.findings.seams[0].stops.iter().find_map(|stop| match stop.limit {
        Limit::Procedure(RuleStop::OffLine { beyond_mm, .. }) => Some(beyond_mm),
        _ => None,
    });
    let expected = 2.0 * std::f64::consts::FRAC_1_SQRT_2 - 0.6;
    assert!((beyond.unwrap() - expected).abs() < 1e-3, "{beyond:?} mm, not {expected}");
    assert_eq!(taught.findings.seams[0].beside.as_ref().unwrap().replanned, Verdict::Holds);
}

/// Moved by 5 mm along the seam, the weld starts and ends 5 mm off.
#[test]
fn a_weld_taught_too_far_along_starts_and_ends_elsewhere() {
    let planned = asked(LEFT, None);
    let file = by_pose(&planned.findings.seams[0].taught, [5.0, 0.0, 0.0]);
    let taught = asked(LEFT, Some(&file));
    let ends: Vec<f64> = taught.findings.seams[0]
        .stops
        .iter()
        .filter_map(|stop| match stop.limit {
            Limit::Procedure(RuleStop::TaughtEnd { off_mm, .. }) => Some(off_mm),
            _ => None,
        })
        .collect();
    assert_eq!(ends.len(), 2);
    assert!(ends.iter().all(|off| (off - 5.0).abs() < 1e-3), "{ends:?}");
}

/// Taught to its end, 40 mm back and to its end again, a weld would be drawn twice over 40 mm: it does not pass for one without.
#[test]
fn a_weld_taught_to_go_back_says_how_far() {
    let planned = asked(LEFT, None);
    let mut points = planned.findings.seams[0].taught.clone();
    let end = points.iter().rposition(|point| point.kind.name() == "weld").unwrap();
    let mut back = points[end].clone();
    back.xyz_mm[0] -= 40.0;
    let again = points[end].clone();
    points.splice(end + 1..end + 1, [back, again]);
    let taught = asked(LEFT, Some(&by_pose(&points, [0.0; 3])));
    let gone = taught.findings.seams[0].stops.iter().find_map(|stop| match stop.limit {
        Limit::Procedure(RuleStop::TaughtBack { back_mm }) => Some(back_mm),
        _ => None,
    });
    assert_eq!(taught.plan.seams[0].verdict, Verdict::CannotHold);
    assert!((gone.unwrap() - 40.0).abs() < 1e-3, "{gone:?}");
}

/// Turned by 6 degrees about the wire while the wire end stands: the arc stays on and there is no travel whose speed could time it.
#[test]
fn a_weld_taught_to_turn_on_the_spot_says_how_far() {
    let planned = asked(LEFT, None);
    let mut points = planned.findings.seams[0].taught.clone();
    let end = points.iter().rposition(|point| point.kind.name() == "weld").unwrap();
    let [w, x, y, z] = points[end].quaternion_wxyz;
    let (sin, cos) = (3.0_f64 * std::f64::consts::PI / 180.0).sin_cos();
    let mut turned = points[end].clone();
    turned.quaternion_wxyz = [w * cos - z * sin, x * cos + y * sin, y * cos - x * sin, z * cos + w * sin];
    points[end + 1].quaternion_wxyz = turned.quaternion_wxyz;
    points.insert(end + 1, turned);
    let taught = asked(LEFT, Some(&by_pose(&points, [0.0; 3])));
    let turn = taught.findings.seams[0].stops.iter().find_map(|stop| match stop.limit {
        Limit::Procedure(RuleStop::TaughtTurn { turn_deg }) => Some(turn_deg),
        _ => None,
    });
    assert!((turn.unwrap() - 6.0).abs() < 1e-3, "{turn:?}");
}

/// Taught at the travel angle of another procedure, 25 degrees and not 5: 8 beyond the 12 allowed.
#[test]
fn a_weld_taught_at_other_angles_says_how_far_they_are_off() {
    let mut cell = Question { seam: LEFT, ..Question::default() }.cell();
    cell.seams[0].procedure.travel.aim = deg(25.0);
    let file = by_axes(&checked(&cell).findings.seams[0].taught);
    let taught = asked(LEFT, Some(&file));
    let off = taught.findings.seams[0].stops.iter().find_map(|stop| match stop.limit {
        Limit::Procedure(RuleStop::TorchAngle { angle: TorchAngleName::Travel, off_deg }) => Some(off_deg),
        _ => None,
    });
    assert!((off.unwrap() - 8.0).abs() < 1e-3, "{off:?}");
}

#[test]
fn taught_files_that_cannot_be_are_said_with_what_would_be_right() {
    let read = |file: &str, seam: &str| {
        let seam = format!("{seam}\ntaught_csv = \"taught.csv\"");
        let files = [("cells/taught.csv", file.as_bytes())];
        let question = Question { seam: &seam, files: &files, ..Question::default() };
        question.read().err().unwrap_or_default()
    };
    let axes = "axis1_deg,axis2_deg,axis3_deg,axis4_deg,axis5_deg,axis6_deg";
    let way = "air,0,0,0,0,0,0\napproach,0,0,0,0,0,0\nweld,0,0,0,0,0,0\nretract,0,0,0,0,0,0\n";
    for (file, seam, says) in [
        (String::new(), LEFT.to_owned(), "this column is missing"),
        (format!("move,{axes}\n"), LEFT.to_owned(), "these 0 points are not the way over a weld"),
        (
            format!("seam,move,{axes}\nelse,air,0,0,0,0,0,0\n"),
            LEFT.to_owned(),
            "no row of this file is of the seam `",
        ),
        (
            format!("move,circular,{axes}\nair,maybe,0,0,0,0,0,0\n"),
            LEFT.to_owned(),
            "`circular` = maybe: this is neither yes nor no",
        ),
        (format!("move,{axes}\nfly,0,0,0,0,0,0\n"), LEFT.to_owned(), "this move is not known here"),
        (format!("move,{axes}\nair,0,0,0,0,0,x\n"), LEFT.to_owned(), "this is not a number that fits here"),
        (format!("move,axis7_deg,{axes}\n"), LEFT.to_owned(), "this column is not known here"),
        (
            "move,x_mm,y_mm,z_mm,qw,qx,qy,qz\nair,0,0,0,2,0,0,0\n".to_owned(),
            LEFT.to_owned(),
            "has the length 2.0000",
        ),
        (
            format!("move,{axes}\n{way}"),
            format!("{LEFT}\nstitch = {{ weld_mm = 20, pitch_mm = 50 }}"),
            "has several welds",
        ),
        (
            format!("move,{axes}\n{way}"),
            "length_mm = 200".to_owned(),
            "only the length of this seam is known",
        ),
    ] {
        let found = read(&file, &seam);
        assert!(found.contains(says), "{file}\n{found}");
    }
}

/// The bench on locators, without any error but that of the wire, which is normal across with a standard deviation of 0.6 mm / 3.
fn wandering(points: Option<&str>) -> Checked {
    let exact = HELD.replace("direction =", "tolerance_mm = 0\npart_tolerance_mm = 0\ndirection =");
    let besides = format!(
        "{exact}[variation]\nprograms = \"downloaded\"\nwire_mm = 0.6\nsigmas_in_tolerance = 3\nloading_mm = 0\njoint_mm = 0\ngap_mm = 0\n\
         fixture_mm = 0\narm_repeatability_mm = 0\narm_accuracy_mm = 0\ntool_centre_mm = 0\n"
    );
    let seam = format!("{LEFT}\n{}", if points.is_some() { "taught_csv = \"taught.csv\"" } else { "" });
    let files = [("cells/taught.csv", points.unwrap_or_default().as_bytes())];
    let procedure =
        format!("{WIDE}\nctwd_tolerance_mm = 4\nacross_allowed_mm = 0.6\nalong_wire_allowed_mm = 3");
    checked(
        &Question {
            procedure: &procedure,
            seam: &seam,
            besides: &besides,
            files: &files,
            ..Question::default()
        }
        .cell(),
    )
}

/// Moved by 0.7 mm along y the wire passes the root at 0.7 cos 45° = 0.495 mm (as above), on every part alike. Its wander w then hits where
/// |0.495 mm + w| ≤ 0.6 mm: on Φ(0.105 / 0.2) − Φ(−1.095 / 0.2) of the parts. Moved at the middle point alone, the ends lie on the root, and
/// w hits where it is between −0.6 and 0.105 mm. Touched up, the wire is brought onto the joint: |w| ≤ 0.6 mm.
#[test]
fn a_weld_taught_beside_the_root_hits_as_seldom_as_that_says() {
    let normal = Normal::new(0.0, 0.2).unwrap();
    let between = |low: f64, high: f64| 100.0 * (normal.cdf(high) - normal.cdf(low));
    let planned = wandering(None);
    let points = &planned.findings.seams[0].taught;
    let off = 0.7 * std::f64::consts::FRAC_1_SQRT_2;
    let mut bent = points.clone();
    let end = bent.iter().rposition(|point| point.kind.name() == "weld").unwrap();
    let mut middle = bent[end].clone();
    middle.xyz_mm[0] = 0.0;
    middle.xyz_mm[1] -= 0.7;
    bent.insert(end, middle);
    let ways = [
        (by_pose(points, [0.0; 3]), 0.0, between(-0.6, 0.6)),
        (by_pose(points, [0.0, -0.7, 0.0]), off, between(-0.6 - off, 0.6 - off)),
        (by_pose(&bent, [0.0; 3]), off, between(-0.6, 0.6 - off)),
    ];
    for (file, off, expected) in ways {
        let taught = wandering(Some(&file));
        assert_eq!(taught.findings.seams[0].verdict, Verdict::Holds, "{:?}", taught.findings.seams[0].stops);
        let seam = &taught.findings.fit_up.as_ref().unwrap().seams[0];
        let offsets = seam.offsets.as_ref().unwrap();
        let across = offsets.taught_across_mm.unwrap();
        assert!((across - off).abs() < 1e-3, "{across} mm, not {off}");
        assert!((offsets.across_worst_mm - (0.6 + off)).abs() < 1e-3, "{offsets:?}");
        // The tip-to-work distance is as good taught as planned, and nothing else is off along the wire.
        assert!(offsets.along_wire_worst_mm < 1e-6, "{offsets:?}");
        assert_eq!(seam.taught_sentence().is_some(), off > 0.0);
        // Five standard deviations of a share of 100 000 parts.
        let downloaded = seam.hit_downloaded_percent.unwrap();
        assert!((downloaded - expected).abs() < 0.73, "{downloaded} %, not {expected}");
        let touched_up = seam.hit_touched_up_percent.unwrap();
        assert!((touched_up - between(-0.6, 0.6)).abs() < 0.1, "{touched_up} %");
    }
}

/// Of a seam that does not hold as taught nobody knows how it will be taught.
#[test]
fn fit_up_tells_no_share_of_a_weld_that_does_not_hold_as_taught() {
    let planned = wandering(None);
    let taught = wandering(Some(&by_pose(&planned.findings.seams[0].taught, [0.0, 2.0, 0.0])));
    assert_eq!(taught.findings.seams[0].verdict, Verdict::CannotHold);
    let seam = &taught.findings.fit_up.as_ref().unwrap().seams[0];
    assert_eq!(seam.not_checked.as_deref(), Some("it does not hold as it was taught"));
    assert_eq!(seam.hit_downloaded_percent, None);
}

/// A way in along the seam's own line from 100 mm before it, through a post that stands at 60 mm: the worst place lies as far from the start of
/// the weld as is told, since the way there is straight.
#[test]
fn what_stands_on_a_taught_way_in_is_told_with_the_place_there() {
    const POST_BEFORE: &str = "[[fixture.shape]]\nname = \"stake\"\nkind = \"box\"\nat_mm = [-160, 4, 25]\nsize_mm = [10, 10, 30]\n";
    let planned = asked(LEFT, None);
    let mut points = planned.findings.seams[0].taught.clone();
    let first_weld = points.iter().position(|point| point.kind.name() == "approach").unwrap();
    let start = points[first_weld].xyz_mm;
    points.drain(..first_weld - 1);
    points[0].xyz_mm = [start[0] - 100.0, start[1], start[2]];
    points[0].quaternion_wxyz = points[1].quaternion_wxyz;
    let file = by_pose(&points, [0.0; 3]);
    let files = [("cells/taught.csv", file.as_bytes())];
    let seam = format!("{LEFT}\ntaught_csv = \"taught.csv\"");
    let question =
        |besides| Question { procedure: WIDE, seam: &seam, besides, files: &files, ..Question::default() };
    assert_eq!(checked(&question("").cell()).findings.seams[0].verdict, Verdict::Holds);
    let blocked = checked(&question(POST_BEFORE).cell());
    let seam = &blocked.findings.seams[0];
    assert_eq!(seam.verdict, Verdict::CannotHold);
    for stop in &seam.stops {
        let Place::WayIn { before_start_mm } = stop.place else { panic!("{stop:?}") };
        let apart =
            (0..3).map(|i| ([stop.x_mm, stop.y_mm, stop.z_mm][i] - start[i]).powi(2)).sum::<f64>().sqrt();
        assert!((apart - before_start_mm).abs() < 1e-3, "{apart} mm from the start, told {before_start_mm}");
        assert!((30.0..90.0).contains(&before_start_mm), "{before_start_mm}");
    }
    assert!(seam.stops.iter().any(|stop| stop.sentence(LengthUnit::Millimetre).contains("stake")));
}

/// A rail along the whole weld and before it is told on the weld first, over all of it.
#[test]
fn what_a_taught_weld_lacks_is_told_before_its_way_in() {
    const RAIL: &str =
        "[[fixture.shape]]\nname = \"rail\"\nkind = \"box\"\nat_mm = [0, 25, 20]\nsize_mm = [280, 10, 20]\n";
    let planned = asked(LEFT, None);
    let file = by_pose(&planned.findings.seams[0].taught, [0.0; 3]);
    let files = [("cells/taught.csv", file.as_bytes())];
    let seam = format!("{LEFT}\ntaught_csv = \"taught.csv\"");
    let question =
        Question { procedure: WIDE, seam: &seam, besides: RAIL, files: &files, ..Question::default() };
    let found = checked(&question.cell());
    let stops = &found.findings.seams[0].stops;
    let Place::Seam { from_mm, to_mm, .. } = stops[0].place else { panic!("{stops:?}") };
    assert!(from_mm == 0.0 && to_mm == 200.0, "{:?}", stops[0]);
    assert!(stops[0].sentence(LengthUnit::Millimetre).contains("rail"));
}

/// Half round a post axis 6 makes half a turn. The hose is given what a whole turn takes from where that begins, against the way it goes, and
/// home lies there: begun where the pose is nearest to home the hose comes to its end, a whole turn on it does not. The axis values say which.
#[test]
fn a_weld_taught_by_poses_holds_where_its_axis_values_do() {
    let mut asked = 0;
    for turn in [0, 60, 120, 180, 240, 300] {
        let procedure = format!("{WIDE}\nturn_deg = {turn}");
        let cell = |taught: &str| {
            let seam = format!("{ARC}\ntaught_csv = \"taught.csv\"");
            let files = [("cells/taught.csv", taught.as_bytes())];
            let question = Question {
                procedure: &procedure,
                seam: &seam,
                besides: POST,
                files: &files,
                ..Question::default()
            };
            question.cell()
        };
        let planned = asked_within(&procedure, ARC, None);
        if planned.findings.seams[0].verdict != Verdict::Holds {
            continue;
        }
        let points = &planned.findings.seams[0].taught;
        let [first, last] = [&points[0], &points[points.len() - 1]].map(|point| point.axes_deg[5]);
        // Against the way it goes a whole turn is inside the range of axis 6, ±360 degrees.
        let other = if last > first { first + 360.0 } else { first - 360.0 };
        if (last - first).abs() < 90.0 || other.abs() > 350.0 {
            continue;
        }
        asked += 1;
        for taught in [by_axes(points), by_pose(points, [0.0; 3])] {
            let mut cell = cell(&taught);
            let range = Range { min: deg(first.min(other) - 5.0), max: deg(first.max(other) + 5.0) };
            (cell.torch.dress.axis6, cell.torch.dress.axis4_plus_axis6) = (Some(range), None);
            cell.arm.home[5] = deg(other);
            let found = checked(&cell);
            assert_eq!(
                found.findings.seams[0].verdict,
                Verdict::Holds,
                "{turn}: {:?}",
                found.findings.seams[0].stops
            );
        }
    }
    assert!(asked > 0);
}
