//! Where a torch's sensor sees the joint before the arc comes there, by school geometry.

use seamwright_sim::fitup::scheme::Scheme;
use seamwright_sim::fitup::shift::{Model, SeamShift};
use seamwright_sim::plan::{self, plan};
use seamwright_sim::units::to_mm;
use seamwright_tests::bench::{LEFT, Question};
use seamwright_tests::fitted::fitted;

use super::drawn_gap::HELD;

const POST: &str = "[[fixture.shape]]\nname = \"post\"\nrole = \"part\"\nkind = \"cylinder\"\nat_mm = [110, 60, 30]\nradius_mm = 15\nheight_mm = 40\n";
/// Half round the post, 15 mm from its line.
const ARC: &str = "arc_mm = [[125, 60, 10], [110, 75, 10], [95, 60, 10]]";
const SENSOR: &str = "track = \"sensor\"\nwork_tolerance_deg = 12\ntravel_tolerance_deg = 12";

struct Seen {
    torch: String,
    procedure: String,
    line: &'static str,
}

impl Seen {
    fn new(ahead_mm: f64, line: &'static str) -> Self {
        let torch = format!("\n[sensor]\nlook_ahead_mm = {ahead_mm}\n");
        Self { torch, procedure: SENSOR.to_owned(), line }
    }

    fn question(&self) -> (String, &str) {
        let post = if self.line == ARC { POST } else { "" };
        ([post, HELD].concat(), self.line)
    }

    fn shift(&self) -> SeamShift {
        let (besides, seam) = self.question();
        let question = Question {
            besides: &besides,
            seam,
            torch: &self.torch,
            procedure: &self.procedure,
            ..Question::default()
        };
        let cell = question.cell();
        let plan = plan(&cell, &plan::Options::default());
        Model::new(&cell, &plan, &Scheme::of(&cell)).seams.remove(0)
    }
}

/// The last of the points from the start on at which nothing is tracked, mm.
fn unseen_up_to(shift: &SeamShift) -> f64 {
    let last = (0..shift.points).take_while(|point| shift.untracked.contains(point)).last().unwrap();
    to_mm(shift.s[last])
}

/// 40 mm ahead on a straight joint: what the weld begins on is not seen, up to 3 mm (`tracking_reach_mm`) before the place at which the sensor
/// looked first. It is looked at every 2 mm.
#[test]
fn the_beginning_of_a_weld_is_not_seen() {
    let shift = Seen::new(40.0, LEFT).shift();
    let up_to = unseen_up_to(&shift);
    assert!(shift.tracked.is_some() && (35.0..37.0).contains(&up_to), "{up_to}");
    assert!(!shift.untracked.contains(&(shift.points - 1)));
}

/// At an arc of radius R a sensor that looks a ahead along the tangent looks at √(R² + a²) from its middle: √(R² + a²) − R beside the joint, in the
/// plane of the arc, which the wire meets at 45 degrees where the arc is, θ = atan(a / R) back. Seen along that wire it passes by
/// (√(R² + a²) − R) √(1 − ½ cos² θ), since the wire has the part cos 45° cos θ along that way: 3 mm, from which tracking finds it, at R = 15 mm
/// with a = 11.1 mm. Sights before and after pass a little nearer. Where it sees nothing the seam is hit as often as one that is not tracked.
#[test]
fn a_sensor_looks_beside_a_small_arc() {
    let at_45 = |ahead: f64| {
        let mut seen = Seen::new(ahead, ARC);
        seen.procedure = "track = \"sensor\"\nwork_tolerance_deg = 0\ntravel_tolerance_deg = 12".to_owned();
        seen.shift()
    };
    assert!(at_45(10.5).tracked.is_some());
    assert!(at_45(13.5).tracked.is_none());
    let share = |procedure: &str, torch: &str| {
        let besides = [POST, HELD].concat();
        let question = Question { besides: &besides, seam: ARC, torch, procedure, ..Question::default() };
        fitted(&question.cell(), 0).downloaded.unwrap()
    };
    let beside = Seen::new(40.0, ARC);
    let blind = share(&beside.procedure, &beside.torch);
    let free = share(&beside.procedure.replace("track = \"sensor\"", "turn_deg = 0"), "");
    assert!(blind == free && blind < 1.0, "{blind} with a sensor that sees nothing, {free} without");
}

/// Behind a square corner the other leg is seen from the corner on alone, as from the beginning of a weld.
#[test]
fn a_sensor_sees_nothing_round_a_corner() {
    const ROUND: &str = "points_mm = [[-100, 4, 10], [100, 4, 10], [100, -4, 10]]";
    const PLATE: &str = "points_mm = [[-100, 4, 10], [20, 4, 10], [100, 4, 10]]";
    let straight_on = Seen::new(40.0, PLATE).shift();
    let last = straight_on.points - 1;
    assert!(!straight_on.untracked.contains(&last) && unseen_up_to(&straight_on) < 38.0);
    // The short leg is 8 mm long: all of it but what lies within 3 mm of the line on which the sensor looked.
    let round = Seen::new(40.0, ROUND).shift();
    let last = round.points - 1;
    assert!(round.untracked.contains(&last) && round.tracked.is_some());
    let seen: Vec<f64> = (0..round.points)
        .filter(|point| !round.untracked.contains(point))
        .map(|point| to_mm(round.s[point]))
        .collect();
    assert!(seen.iter().all(|s| (35.0..204.0).contains(s)) && !seen.is_empty(), "{seen:?}");
}

/// A sensor that keeps the joint in sight while the torch is turned by up to 20 degrees sees it wherever within that the planner turns the torch.
#[test]
fn a_turn_with_the_joint_in_sight_is_tracked() {
    let mut seen = Seen::new(40.0, LEFT);
    seen.torch += "turn_tolerance_deg = 20\n";
    let shift = seen.shift();
    assert!(shift.tracked.is_some() && !shift.untracked.contains(&(shift.points - 1)));
}

/// Turned by 90 degrees about the wire the sensor looks 40 mm beside the joint.
#[test]
fn a_turned_sensor_sees_no_joint() {
    let mut turned = Seen::new(40.0, LEFT);
    turned.procedure.push_str("\nturn_deg = 90");
    assert!(turned.shift().tracked.is_none());
}

/// A wire of 1.2 mm that goes less than 0.6 mm to either side stays over what it has melted.
#[test]
fn an_arc_that_hardly_weaves_is_not_tracked_through() {
    let read = |amplitude: f64| {
        let procedure = format!(
            "track = \"arc\"\nweave = {{ shape = \"sine\", amplitude_mm = {amplitude}, wavelength_mm = 4 }}"
        );
        Question { besides: HELD, seam: LEFT, procedure: &procedure, ..Question::default() }.read()
    };
    assert!(read(0.6).is_ok());
    let refused = read(0.59).unwrap_err();
    assert!(refused.contains("less wide") && refused.contains("0.6"), "{refused}");
}
