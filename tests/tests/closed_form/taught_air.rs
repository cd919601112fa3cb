//! A way through the air that was taught: proven and timed as it stands, straight and on a circle.

use std::fmt::Write;

use nalgebra::Vector3;
use seamwright_sim::check::{Checked, Options, check};
use seamwright_sim::findings::{Limit, Obstacle};
use seamwright_sim::plan::{MoveKind, Verdict};
use seamwright_sim::schedule::EventKind;
use seamwright_sim::units::{mm, to_mm};
use seamwright_tests::bench::{LEFT, Question};

/// Where the bench's station stands, mm.
const STATION: [f64; 3] = [900.0, 0.0, 600.0];
/// Tool speed through the air that a procedure has unless it says otherwise, mm/s.
const SPEED: f64 = 100.0;

fn checked(taught: Option<&str>, besides: &str) -> Checked {
    let seam = format!("{LEFT}\n{}", if taught.is_some() { "taught_csv = \"taught.csv\"" } else { "" });
    let files = [("cells/taught.csv", taught.unwrap_or_default().as_bytes())];
    let cell = Question { seam: &seam, besides, files: &files, ..Question::default() }.cell();
    check(&cell, &Options { seed: 0, watch: &() })
}

/// The weld as it is planned, come to over `air`: kind, circular or not, and place from where the way in begins (mm).
fn file(air: &[(&str, &str, [f64; 3])]) -> (String, Vector3<f64>) {
    let planned = checked(None, "");
    let points = &planned.findings.seams[0].taught;
    let begins = Vector3::from(points[0].xyz_mm);
    let mut file = "move,circular,x_mm,y_mm,z_mm,qw,qx,qy,qz\n".to_owned();
    let mut add = |kind: &str, circular: &str, at: Vector3<f64>, rotation: [f64; 4]| {
        let [w, i, j, k] = rotation;
        writeln!(file, "{kind},{circular},{},{},{},{w},{i},{j},{k}", at.x, at.y, at.z).unwrap();
    };
    for (kind, circular, from_begin) in air {
        add(kind, circular, begins + Vector3::from(*from_begin), points[0].quaternion_wxyz);
    }
    for point in &points[1..] {
        add(point.kind.name(), "no", Vector3::from(point.xyz_mm), point.quaternion_wxyz);
    }
    (file, begins)
}

const QUARTER: f64 = 100.0 * std::f64::consts::FRAC_1_SQRT_2;
/// Above the seam, beside it, and down a quarter of a circle of 100 mm about a place 100 mm before the way in begins.
const ROUND: [(&str, &str, [f64; 3]); 4] = [
    ("air", "no", [0.0, 0.0, 150.0]),
    ("air_straight", "no", [-100.0, 0.0, 100.0]),
    ("air_straight", "yes", [-100.0 + QUARTER, 0.0, QUARTER]),
    ("air_straight", "yes", [0.0, 0.0, 0.0]),
];

/// Rest to rest over `d` at most at `v`, with 2 m/s² and 20 m/s³ (what a led tool is assumed to do): a/j to build up, then as a trapezoid.
fn led(d: f64, v: f64) -> f64 {
    let (a, j) = (2.0, 20.0);
    // At 100 mm/s only v < a²/j is reached: 2 √(v/j) until the speed is reached, and as long to lose it.
    assert!(v < a * a / j && d > v * 2.0 * (v / j).sqrt());
    d / v + 2.0 * (v / j).sqrt()
}

#[test]
fn it_takes_the_time_of_its_lengths_and_leads_the_wire_end_over_them() {
    let (file, begins) = file(&ROUND);
    let checked = checked(Some(&file), "");
    assert_eq!(checked.findings.seams[0].verdict, Verdict::Holds, "{:?}", checked.findings.blocked_ways);
    let visit = &checked.plan.visits[0];
    let kinds: Vec<&MoveKind> = visit.moves.iter().map(|planned| &planned.kind).take(4).collect();
    assert!(
        matches!(
            kinds[..],
            [
                MoveKind::Axis,
                MoveKind::AirStraight { through: None },
                MoveKind::AirStraight { through: Some(_) },
                MoveKind::Approach
            ]
        ),
        "{kinds:?}"
    );
    let events = &checked.schedule.visits[0].events;
    let led_events: Vec<_> = [1, 2]
        .map(|index| {
            events.iter().find(|e| e.planned_move == Some(index) && e.kind == EventKind::AirMove).unwrap()
        })
        .to_vec();
    let lengths = [100.0_f64.hypot(50.0), 50.0 * std::f64::consts::PI];
    for (event, length) in led_events.iter().zip(lengths) {
        let expected = led(mm(length), mm(SPEED));
        assert!((event.duration - expected).abs() < 1e-6, "{} s, not {expected}", event.duration);
    }
    // On the line from above to beside, and on the circle; between the first two samples, 2 mm apart, axes may go
    // straight: 2²/(8·100) mm beside the circle.
    let centre = begins + Vector3::new(-100.0, 0.0, 0.0);
    let (mut on_line, mut on_circle) = (0, 0);
    let home = events[0].start;
    for row in &checked.path {
        let at = row.world_from_wire_end.translation.vector.map(to_mm) - Vector3::from(STATION) - begins;
        let t = row.t - home;
        let during = |event: &seamwright_sim::schedule::Event| event.start <= t && t <= event.end();
        if during(led_events[0]) {
            on_line += 1;
            assert!(at.y.abs() < 1e-3 && (at.z - 150.0 - 0.5 * at.x).abs() < 1e-3, "{at}");
        } else if during(led_events[1]) {
            on_circle += 1;
            let from_centre = at + begins - centre;
            assert!(at.y.abs() < 1e-3 && (from_centre.norm() - 100.0).abs() < 6e-3, "{at}");
        }
    }
    assert!(on_line > 20 && on_circle > 20, "{on_line} {on_circle}");
    let names: Vec<(&str, bool)> =
        checked.findings.seams[0].taught.iter().take(5).map(|p| (p.kind.name(), p.circular)).collect();
    assert_eq!(
        names,
        [
            ("air", false),
            ("air_straight", false),
            ("air_straight", true),
            ("air_straight", true),
            ("approach", false)
        ]
    );
}

/// A wall across the taught line alone: the planner goes round it, what was taught does not and says what it meets.
#[test]
fn what_stands_in_a_taught_way_is_told_and_not_gone_round() {
    let (taught, begins) = file(&ROUND);
    let wall = format!(
        "[[fixture.shape]]\nname = \"wall\"\nrole = \"fixture\"\nkind = \"box\"\nat_mm = [{}, {}, {}]\nsize_mm = [2, 2, 2]\n",
        begins.x - 50.0,
        begins.y,
        begins.z + 125.0
    );
    assert_eq!(checked(None, &wall).findings.seams[0].verdict, Verdict::Holds);
    let checked = checked(Some(&taught), &wall);
    assert_eq!(checked.findings.seams[0].verdict, Verdict::Holds, "the weld itself is clear");
    let [blocked] = &checked.findings.blocked_ways[..] else { panic!("{:?}", checked.findings.blocked_ways) };
    let Obstacle::Bodies { other, .. } = &blocked.obstacle else { panic!("{blocked:?}") };
    assert_eq!(other, "wall");
}

/// Led 3 m up, axis 5 or the arm of 1.4 m comes to its end.
#[test]
fn a_led_way_that_the_arm_cannot_go_says_what_stops_it() {
    let up = [0.0, 0.0, 3000.0];
    let (file, _) =
        file(&[("air", "no", [0.0; 3]), ("air_straight", "no", up), ("air_straight", "no", [0.0; 3])]);
    let checked = checked(Some(&file), "");
    let [blocked] = &checked.findings.blocked_ways[..] else { panic!("{:?}", checked.findings.blocked_ways) };
    let Obstacle::Taught { taught_limit } = &blocked.obstacle else { panic!("{blocked:?}") };
    assert!(
        matches!(taught_limit, Limit::Reach { .. } | Limit::AxisRange { axis: 5, .. }),
        "{taught_limit:?}"
    );
    assert!(blocked.sentence.contains("as taught, "), "{}", blocked.sentence);
}
