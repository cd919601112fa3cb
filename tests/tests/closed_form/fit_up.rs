//! How parts lie on their locators, and how often the wire hits: what can be derived on paper.

use nalgebra::{DVector, Point3, Vector3, Vector6};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use seamwright_sim::cell::{Locator, LocatorKind};
use seamwright_sim::check::{Options, check};
use seamwright_sim::fitup::FitUp;
use seamwright_sim::fitup::cause::{Cause, Law, What, accuracy_and_repeatability, radius_in_sigmas};
use seamwright_sim::fitup::contact::Contact;
use seamwright_sim::fitup::displacement::{Seating, Seats, at_point, exact, seats};
use seamwright_sim::fitup::sampling::{Tally, sample};
use seamwright_sim::fitup::scheme::Scheme;
use seamwright_sim::fitup::shift::{Local, Model, Tracking};
use seamwright_sim::fitup::spread::spread;
use seamwright_sim::plan::{self, plan};
use seamwright_sim::units::{deg, mm};
use seamwright_tests::bench::{LEFT, Question};
use seamwright_tests::fitted::fitted;
use seamwright_tests::shifts::model;
use statrs::distribution::{ContinuousCDF, Gamma, Normal};
use statrs::function::erf::erf;
use statrs::function::gamma::gamma;

use super::drawn_gap::HELD;

const PARTS: u32 = 400_000;

fn contact(at_mm: [f64; 3], direction: [f64; 3]) -> Contact {
    let at = Point3::from(at_mm.map(mm));
    Contact { locator: 0, at, direction: direction.into(), one_sided: true }
}

/// Pads at (0, 0), (a, 0), (0, b); side stops at x₁ and x₂ on the edge y = y₀; an end stop at y₁ on the edge x = x₀. All at z = 0.
const A: f64 = 400.0;
const B: f64 = 250.0;
const X1: f64 = 30.0;
const X2: f64 = 330.0;
const Y0: f64 = -20.0;
const X0: f64 = -15.0;
const Y1: f64 = 120.0;

fn three_two_one() -> Vec<Contact> {
    vec![
        contact([0.0, 0.0, 0.0], [0.0, 0.0, 1.0]),
        contact([A, 0.0, 0.0], [0.0, 0.0, 1.0]),
        contact([0.0, B, 0.0], [0.0, 0.0, 1.0]),
        contact([X1, Y0, 0.0], [0.0, 1.0, 0.0]),
        contact([X2, Y0, 0.0], [0.0, 1.0, 0.0]),
        contact([X0, Y1, 0.0], [1.0, 0.0, 0.0]),
    ]
}

fn no_load() -> Vector6<f64> {
    Vector6::zeros()
}

fn displaced(seats: &Seats, errors: &[f64], at: &Point3<f64>) -> Vector3<f64> {
    let moved = at_point(at) * &seats.drawn.displacement * DVector::from_column_slice(errors);
    Vector3::new(moved[0], moved[1], moved[2])
}

/// The locator Jacobian of 3-2-1 locating, derived here (no published example with numbers was at hand): the three pads carry the
/// plane z = e₁ + (e₂ − e₁) x/a + (e₃ − e₁) y/b. The two side stops turn the part by ω = (e₅ − e₄)/(x₂ − x₁) about z and carry a
/// point of their edge at x by e₄ + ω (x − x₁); a point at y lies off that edge, so it also moves by −ω (y − y₁) along x from
/// what the end stop gives, e₆. A point at height z is carried by the tilt too: by −z times the slope of the plane, less what the
/// stops, which touch at z = 0, do not see.
#[test]
fn errors_of_three_two_one_locating_carry_the_part_as_derived() {
    let seats = seats(&three_two_one(), &no_load()).unwrap();
    assert_eq!(seats.seating, Seating::Fixed);
    let e = [0.11, -0.07, 0.05, 0.2, -0.13, 0.17].map(mm);
    for [x, y, z] in [[100.0, 60.0, 0.0], [-50.0, 210.0, 0.0], [377.0, -20.0, 80.0]] {
        let (slope_x, slope_y) = ((e[1] - e[0]) / mm(A), (e[2] - e[0]) / mm(B));
        let turn = (e[4] - e[3]) / mm(X2 - X1);
        let expected = Vector3::new(
            e[5] - turn * mm(y - Y1) - mm(z) * slope_x,
            e[3] + turn * mm(x - X1) - mm(z) * slope_y,
            e[0] + slope_x * mm(x) + slope_y * mm(y),
        );
        let found = displaced(&seats, &e, &Point3::from([x, y, z].map(mm)));
        assert!((found - expected).norm() < 1e-15, "{found} is not {expected}");
    }
}

/// What first order leaves out is of second order: half the errors leave a quarter of it.
#[test]
fn first_order_differs_from_the_exact_rigid_place_by_the_square_of_the_errors() {
    let contacts = three_two_one();
    let seats = seats(&contacts, &no_load()).unwrap();
    let at = Point3::from([200.0, 100.0, 60.0].map(mm));
    let differs = |scale: f64| {
        let errors = [1.0, -1.0, 1.0, 1.0, -1.0, 1.0].map(|e| e * scale);
        let truly = exact(&contacts, &seats.drawn, &errors).unwrap() * at - at;
        (truly - displaced(&seats, &errors, &at)).norm()
    };
    let (whole, half) = (differs(mm(2.0)), differs(mm(1.0)));
    assert!(whole > 0.0 && whole < mm(0.1), "{whole}");
    assert!((whole / half - 4.0).abs() < 0.1, "{whole} against {half}");
}

/// With four pads the part lies on three. It passes none, touches the stops, and of all places that pass none it is the one in
/// which the load has gone farthest: so no other three pads may carry the load's point lower.
#[test]
fn a_part_on_four_pads_lies_on_three_and_passes_none() {
    let mut contacts = three_two_one();
    contacts.push(contact([A, B, 0.0], [0.0, 0.0, 1.0]));
    // 100 N down at a point within the pads, and pushes onto the stops so that every contact could carry.
    let (px, py) = (mm(150.0), mm(130.0));
    let load = Vector6::new(-50.0, -80.0, -100.0, -100.0 * py, 100.0 * px, mm(Y1) * 50.0 - mm(180.0) * 80.0);
    let seats = seats(&contacts, &load).unwrap();
    assert_eq!(seats.seating, Seating::Pushed);
    let mut random = ChaCha8Rng::seed_from_u64(5);
    for _ in 0..1000 {
        let errors: Vec<f64> =
            (0..7).map(|_| mm((random.next_u64() >> 11) as f64 * (-53_f64).exp2() - 0.5)).collect();
        let moved = seats.rest_for(&errors).displacement * DVector::from_column_slice(&errors);
        assert!((seats.place(&errors) - &moved).amax() < 1e-12, "{errors:?}");
        let gaps: Vec<f64> = contacts
            .iter()
            .zip(&errors)
            .map(|(contact, e)| (contact.row().transpose() * &moved)[0] - e)
            .collect();
        assert!(gaps.iter().all(|gap| *gap > -1e-12), "{errors:?}: {gaps:?}");
        assert_eq!(gaps.iter().filter(|gap| gap.abs() < 1e-12).count(), 6, "{errors:?}: {gaps:?}");
    }
}

/// Pads on a rectangle, a clamp in its middle, pushes onto all stops: each diagonal may carry all of the clamp, so that two pairs of
/// rests are equal in what they carry. Of these, and of thirty pads at random as well, a part takes one that passes no pad.
#[test]
fn of_equal_rests_a_part_takes_one_that_passes_no_contact() {
    let mut random = ChaCha8Rng::seed_from_u64(6);
    let mut even = move || (random.next_u64() >> 11) as f64 * (-53_f64).exp2();
    for pads in [4, 6, 30] {
        let mut contacts = three_two_one()[3..].to_vec();
        let grid = [[0.0, 0.0], [A, 0.0], [0.0, B], [A, B], [A / 2.0, 0.0], [A / 2.0, B]];
        contacts.extend((0..pads).map(|pad| {
            let [x, y] = if pads <= 6 { grid[pad] } else { [A * even(), B * even()] };
            contact([x, y, 0.0], [0.0, 0.0, 1.0])
        }));
        let (px, py) = (mm(A / 2.0), mm(B / 2.0));
        // 20 N onto the end stop at y₁, 40 N onto the side stops half way between them, 100 N down in the middle.
        let turn = mm(Y1) * 20.0 - mm(X1 + X2) / 2.0 * 40.0;
        let load = Vector6::new(-20.0, -40.0, -100.0, -100.0 * py, 100.0 * px, turn);
        let seats = seats(&contacts, &load).unwrap();
        assert_eq!(seats.seating, Seating::Pushed, "{pads}");
        for _ in 0..500 {
            let errors: Vec<f64> = contacts.iter().map(|_| mm(even() - 0.5)).collect();
            let place = seats.place(&errors);
            let gaps: Vec<f64> =
                contacts.iter().zip(&errors).map(|(contact, e)| contact.row().dot(&place) - e).collect();
            assert!(gaps.iter().all(|gap| *gap > -1e-11), "{pads}: {gaps:?}");
            assert_eq!(gaps.iter().filter(|gap| gap.abs() < 1e-11).count(), 6, "{pads}: {gaps:?}");
        }
    }
}

/// Evenly over a disc of radius r a share `(2/π)(a √(1 − a²) + asin a)` lies within `a r` of any diameter: the area of a strip of the
/// unit circle over its own.
#[test]
fn play_of_a_pin_is_spread_over_a_disc() {
    let disc = |second| Law::Disc { radius: mm(1.0), second };
    for [x, y] in [[1.0, 0.0], [0.6, 0.8], [0.5_f64.sqrt(), 0.5_f64.sqrt()]] {
        let mut pin = model(&[disc(false), disc(true)], &[vec![[x, 0.0], [y, 0.0]]]);
        for (cause, way) in pin.causes.iter_mut().zip(["1", "2"]) {
            cause.whose = format!("pin ({way})");
        }
        let a = 0.6_f64;
        let expected = 2.0 / std::f64::consts::PI * (a * (1.0 - a * a).sqrt() + a.asin());
        assert_share(drawn(&pin).1, expected);
        let found = spread(&pin, &pin.seams[0], true).spreads[0];
        assert!((found.worst - mm(1.0)).abs() < 1e-15, "{found:?}");
        assert!(found.squares <= found.worst, "{found:?}");
    }
}

/// A round that is thicker by e touches both flanks of a vee of opening α with its axis e / sin(α/2) farther out, and not at all sideways. Two
/// vees at x = ±100 mm hold an axis along x on the height of the joint, a pad at x = 0 stands 80 mm beside it. A round that lifts the axis by
/// z at one vee lifts it by z/2 at the pad, and so turns the part by −z/160 about it: the joint at y = 4 mm is lifted by z (1 − 4/160) over
/// that vee, and by −z 4/160 over the other. The wire stands at 45 degrees over it and sees 1/√2 of that across.
#[test]
fn a_thicker_round_comes_straight_out_of_its_vee() {
    let pad =
        "[[fixture.locator]]\nname = \"a\"\nkind = \"pad\"\nat_mm = [0, 80, 0]\ndirection = [0, 0, 1]\n";
    let mut cell = Question { seam: LEFT, besides: pad, ..Question::default() }.cell();
    let locator = cell.bodies[0].locators[0].clone();
    for opening in [60.0, 90.0, 120.0].map(deg) {
        let vee = |name: &str, x: f64| Locator {
            name: name.to_owned(),
            kind: LocatorKind::Vee { along: Vector3::x_axis(), opening },
            at: Point3::from([x, 0.0, 10.0].map(mm)),
            ..locator.clone()
        };
        let stop = Locator {
            name: "end".to_owned(),
            kind: LocatorKind::Stop,
            at: Point3::from([-150.0, 0.0, 10.0].map(mm)),
            direction: Vector3::x_axis(),
            ..locator.clone()
        };
        cell.bodies[0].locators = vec![vee("near", -100.0), vee("far", 100.0), locator.clone(), stop];
        let plan = plan(&cell, &plan::Options::default());
        let model = Model::new(&cell, &plan, &Scheme::of(&cell));
        let seam = &model.seams[0];
        let term = seam.terms.iter().find(|term| term.body.is_some()).unwrap();
        let by_cause = model.by_cause(term);
        let across = |vee: &str| -> Vec<f64> {
            let causes = term.causes.clone().enumerate();
            let of_vee = causes.filter(|(_, cause)| {
                let cause = &model.causes[*cause];
                cause.what == What::PartAtLocator && cause.whose.ends_with(vee)
            });
            of_vee.map(|(column, _)| by_cause[(0, column)].abs()).collect()
        };
        let seen = |lifted: f64| lifted / (opening / 2.0).sin() / 2.0_f64.sqrt();
        let [over_it, over_other] = [1.0 - 4.0 / 160.0, 4.0 / 160.0].map(seen);
        let [near, far] = ["near", "far"].map(across);
        assert!(near.len() == 1 && (near[0] - over_it).abs() < 1e-6, "{near:?}, not {over_it}");
        assert!(far.len() == 1 && (far[0] - over_other).abs() < 1e-6, "{far:?}, not {over_other}");
    }
}

/// A round of radius 15 mm that is warmer by 200 K grows by 12·10⁻⁶ · 200 · 15 mm = 0.036 mm in radius. Its axis then lies farther out of a vee of
/// opening α by that / sin(α/2), as that of a thicker round does.
#[test]
fn a_warm_round_comes_out_of_its_vee() {
    let post = "[[fixture.shape]]\nname = \"post\"\nrole = \"part\"\nkind = \"cylinder\"\nat_mm = [110, 60, 30]\nradius_mm = 15\nheight_mm = 40\n";
    let foot = "[[fixture.locator]]\nname = \"foot\"\npart = \"post\"\nkind = \"pad\"\nat_mm = [110, 60, 10]\ndirection = [0, 0, 1]\n";
    for opening in [60.0, 90.0, 120.0] {
        let vee = |z: i32| {
            format!(
                "[[fixture.locator]]\nname = \"vee {z}\"\npart = \"post\"\nkind = \"vee\"\nat_mm = [110, 60, {z}]\ndirection = [1, 0, 0]\n\
                 groove = [0, 0, 1]\nopening_deg = {opening}\n"
            )
        };
        let besides =
            [post, &vee(20), &vee(40), foot, "[variation]\nwarmer_k = 200\nexpansion_um_m_k = 12\n"].concat();
        let cell = Question { seam: LEFT, besides: &besides, ..Question::default() }.cell();
        let plan = plan(&cell, &plan::Options::default());
        let model = Model::new(&cell, &plan, &Scheme::of(&cell));
        let body = model.bodies.last().unwrap().as_ref().unwrap();
        // The middle from which it grows lies on the axis with all its locators.
        let moved = &body.seats.drawn.displacement * body.errors.column(body.errors.ncols() - 1) * 200.0;
        let axis = at_point(&Point3::from([110.0, 60.0, 30.0].map(mm))) * moved;
        let out = mm(12e-6 * 200.0 * 15.0) / (deg(opening) / 2.0).sin();
        assert!((axis[0] - out).abs() < 1e-12 && axis[1].abs() < 1e-12, "{axis}, not {out}");
    }
}

/// Faces belong to a joint: its passes are hit together. Those of two joints are off by themselves, so that shares multiply.
#[test]
fn passes_of_one_joint_share_its_faces() {
    for (is_one_joint, power) in [(true, 1), (false, 2)] {
        let mut both = model(&[], &[Vec::new(), Vec::new()]);
        let face = Cause {
            what: What::PartAtJoint,
            whose: "reference face".to_owned(),
            law: normal(0.4),
            fixed: false,
            mean_taught: false,
        };
        for seam in &mut both.seams {
            seam.joint = if is_one_joint { "one".to_owned() } else { seam.joint.clone() };
            let by = vec![Vector3::new(1.0, 0.0, 0.0)];
            let (opens, found) = (vec![0.0], Vec::new());
            seam.local = vec![Local { cause: face.clone(), is_of_joint: true, by, opens, found }];
        }
        let share = erf(0.6 / 0.4 / 2.0_f64.sqrt());
        assert_share(drawn(&both).1, share.powi(power));
    }
}

/// Tracking leaves what it does not see. Through the arc the wire's wander is seen; a sensor sees the joint alone, so that the wire's σ of 0.3 mm and
/// the tracking's of 0.2 mm add as squares. Far off nothing is here, and what else moves the joint (σ 1 mm) is taken away.
#[test]
fn a_sensor_leaves_how_the_wire_wanders() {
    for sees_wire in [true, false] {
        let mut one = model(&[normal(1.0)], &[vec![[1.0, 0.0]]]);
        let wire = Cause {
            what: What::Wire,
            whose: String::new(),
            law: normal(0.3),
            fixed: false,
            mean_taught: false,
        };
        let by = vec![Vector3::new(1.0, 0.0, 0.0)];
        let seam = &mut one.seams[0];
        let (opens, found) = (vec![0.0], Vec::new());
        seam.local = vec![Local { cause: wire, is_of_joint: false, by, opens, found }];
        seam.tracked = Some(Tracking { law: normal(0.2), reach: mm(50.0), sees_wire });
        seam.untracked = Vec::new();
        let sigma = if sees_wire { 0.2 } else { 0.2_f64.hypot(0.3) };
        assert_share(drawn(&one).1, erf(0.6 / sigma / 2.0_f64.sqrt()));
        // Three standard deviations at worst, and as squares. Of the variance, 0.6 mm being allowed across and 2 mm along the wire, tracking
        // makes up the more, as it is off both ways.
        let found = spread(&one, &one.seams[0], true);
        let worst = if sees_wire { 0.6 } else { 0.6 + 0.9 };
        let across = found.spreads[0];
        assert!((across.worst - mm(worst)).abs() < 1e-12, "{across:?}, not {worst}");
        assert!((across.squares - mm(3.0 * sigma)).abs() < 1e-12, "{across:?}");
        let [tracking, wire] =
            [0.04 / 0.36 + 0.04 / 4.0, if sees_wire { 0.0 } else { 0.09 / 0.36 }].map(|part: f64| part);
        let share = |what| {
            found
                .contributions
                .iter()
                .filter(|known| known.what == what)
                .map(|known| known.share)
                .sum::<f64>()
        };
        assert!(
            (share(What::Tracking) - tracking / (tracking + wire)).abs() < 1e-9,
            "{:?}",
            found.contributions
        );
        assert!(
            (share(What::Wire) - wire / (tracking + wire)).abs() < 1e-9 && share(What::ToolCentre) == 0.0
        );
    }
}

/// Wear of 0 to 0.5 mm is 0.5 mm at worst, not half of it, unless its mean was taught; 0.3 mm of tolerance adds to it, and as squares
/// lies √(0.25² + 0.3²) about the mean.
#[test]
fn errors_of_one_side_count_from_zero_at_worst() {
    let wear = Law::Even { low: -mm(0.5), high: 0.0 };
    let mut worn = model(&[wear, Law::tolerance(mm(0.3), 3.0)], &[vec![[1.0, 0.0], [1.0, 0.0]]]);
    let found = spread(&worn, &worn.seams[0], true).spreads[0];
    let squares = mm(0.25 + (0.25_f64.powi(2) + 0.09).sqrt());
    assert!((found.worst - mm(0.8)).abs() < 1e-15 && (found.squares - squares).abs() < 1e-15, "{found:?}");
    worn.causes[0].mean_taught = true;
    let found = spread(&worn, &worn.seams[0], false).spreads[0];
    assert!((found.worst - mm(0.55)).abs() < 1e-15, "{found:?}");
}

fn drawn(model: &Model) -> (Tally, f64) {
    let tally = sample(model, 7, PARTS, true);
    let good = tally.good_share(model);
    (tally, good)
}

/// Five standard deviations of a drawn share.
fn assert_share(found: f64, expected: f64) {
    let spread = (expected * (1.0 - expected) / f64::from(PARTS)).sqrt();
    assert!(
        (found - expected).abs() < 5.0 * spread,
        "{found} drawn, {expected} expected, {spread} standard deviation"
    );
}

fn normal(sigma_mm: f64) -> Law {
    Law::Normal { sigma: mm(sigma_mm), limit: mm(3.0 * sigma_mm) }
}

/// P(|X| ≤ a) = erf(a / (σ √2)); across and along the wire are independent here, so the shares multiply.
#[test]
fn normal_errors_hit_as_often_as_the_error_function_says() {
    let within = |a: f64, sigma: f64| erf(a / (sigma * 2.0_f64.sqrt()));
    let one = model(&[normal(0.35)], &[vec![[1.0, 0.0]]]);
    assert_share(drawn(&one).1, within(0.6, 0.35));
    let both = model(&[normal(0.35), normal(1.4)], &[vec![[1.0, 0.0], [0.0, 1.0]]]);
    assert_share(drawn(&both).1, within(0.6, 0.35) * within(2.0, 1.4));
}

/// A fixture whose locators leave a gap leaves it on every part, whatever the program: P(X ≤ a) = (1 + erf(a / (σ √2))) / 2 over all
/// fixtures so built. Across, the same error is gone once the program is touched up.
#[test]
fn touching_up_a_program_closes_no_gap() {
    let mut one = model(&[normal(0.8)], &[vec![[1.0, 0.0]]]);
    one.causes[0].fixed = true;
    assert_eq!(sample(&one, 7, PARTS, false).good_share(&one), 1.0);
    one.seams[0].terms[0].rows[(3, 0)] = 1.0;
    let expected = 0.5 * (1.0 + erf(1.0 / (0.8 * 2.0_f64.sqrt())));
    assert_share(sample(&one, 7, PARTS, false).good_share(&one), expected);
    let contributions = spread(&one, &one.seams[0], false).contributions;
    assert!((contributions[0].share - 1.0).abs() < 1e-12, "{contributions:?}");
}

/// An error that all seams share is no two errors: both are hit as often as one is.
#[test]
fn seams_that_share_their_cause_are_hit_together() {
    let shared = model(&[normal(0.35)], &[vec![[1.0, 0.0]], vec![[-1.0, 0.0]]]);
    let (tally, good) = drawn(&shared);
    assert_eq!(tally.hits[0], tally.good[0]);
    assert_share(good, erf(0.6 / (0.35 * 2.0_f64.sqrt())));
    let apart = model(&[normal(0.35); 2], &[vec![[1.0, 0.0], [0.0, 0.0]], vec![[0.0, 0.0], [1.0, 0.0]]]);
    assert_share(drawn(&apart).1, erf(0.6 / (0.35 * 2.0_f64.sqrt())).powi(2));
}

/// The sum of n errors spread evenly from −h to h is within a with the share of Irwin and Hall: with x = (a/h + n)/2,
/// F(x) = Σₖ (−1)ᵏ C(n, k) (x − k)ⁿ / n! over k ≤ x, and the share is 2 F(x) − 1.
#[test]
fn sums_of_even_errors_hit_as_often_as_irwin_and_hall_say() {
    for (n, half) in [(1_u32, 0.9), (2, 0.5), (3, 0.4), (5, 0.3)] {
        let even = Law::Even { low: -mm(half), high: mm(half) };
        let found = drawn(&model(&vec![even; n as usize], &[vec![[1.0, 0.0]; n as usize]])).1;
        let x = (0.6 / half + f64::from(n)) / 2.0;
        let factorial = |k: u32| (1..=k).map(f64::from).product::<f64>();
        let share: f64 = (0..=n)
            .filter(|k| f64::from(*k) <= x)
            .map(|k| {
                let sign = if k % 2 == 0 { 1.0 } else { -1.0 };
                sign * (x - f64::from(k)).powi(n as i32) / (factorial(k) * factorial(n - k))
            })
            .sum();
        assert_share(found, 2.0 * share - 1.0);
    }
}

/// The distance of a point that is off by σ in each of three directions follows Maxwell: mean σ √2 Γ(2)/Γ(3/2), and its square
/// over σ² is chi-squared with 3 degrees of freedom, so that the variance of the distance is 3 σ² less the mean squared.
#[test]
fn repeatability_is_a_radius_of_mean_and_three_standard_deviations() {
    let mean = 2.0_f64.sqrt() * gamma(2.0) / gamma(1.5);
    let expected = mean + 3.0 * (3.0 - mean * mean).sqrt();
    assert!((radius_in_sigmas() - expected).abs() < 1e-12, "{expected}");
    // So much farther off are fewer than 1 in 200 poses, not the 27 in 10 000 of a single direction.
    let squares = Gamma::new(1.5, 0.5).unwrap();
    let beyond = 1.0 - squares.cdf(expected * expected);
    assert!((0.003..0.005).contains(&beyond), "{beyond}");
    // A σ per direction of RP / 3 would be wrong by a fifth.
    let Law::Normal { sigma, .. } = Law::radius(0.1) else { panic!("repeatability is normal") };
    assert!((0.1 / sigma - expected).abs() < 1e-12);
}

/// 30 000 drawn poses whose AP and RP are worked out as ISO 9283 does come back to the radius that they were drawn from.
#[test]
fn poses_drawn_from_a_repeatability_have_it() {
    let Law::Normal { sigma, .. } = Law::radius(0.08) else { panic!("repeatability is normal") };
    let law = Normal::new(0.0, sigma).unwrap();
    let mut random = ChaCha8Rng::seed_from_u64(3);
    let mut draw = || law.inverse_cdf(((random.next_u64() >> 11) as f64 + 0.5) * (-53_f64).exp2());
    let poses: Vec<[f64; 3]> = (0..30_000).map(|_| [draw(), draw(), draw()]).collect();
    let (accuracy, repeatability) = accuracy_and_repeatability([0.0; 3], &poses).unwrap();
    assert!(accuracy < 0.001, "{accuracy}");
    assert!((repeatability - 0.08).abs() < 0.001, "{repeatability}");
}

/// Tolerances of 0.3 and 0.4 that add up: 0.7 at worst, and 0.5 as a root of squares (3, 4, 5); a gain of 2 counts twice.
#[test]
fn a_stack_of_tolerances_adds_up_at_worst_and_as_squares() {
    let tolerance = |limit: f64| Law::tolerance(mm(limit), 3.0);
    let stack = model(&[tolerance(0.3), tolerance(0.4)], &[vec![[1.0, 0.0], [-1.0, 0.0]]]);
    let found = spread(&stack, &stack.seams[0], false).spreads[0];
    assert!((found.worst - mm(0.7)).abs() < 1e-15 && (found.squares - mm(0.5)).abs() < 1e-15, "{found:?}");
    let doubled = model(&[tolerance(0.3), tolerance(0.2)], &[vec![[1.0, 0.0], [2.0, 0.0]]]);
    let found = spread(&doubled, &doubled.seams[0], false);
    assert!((found.spreads[0].squares - mm(0.5)).abs() < 1e-15, "{found:?}");
    // 4² of 5² is due to the second.
    assert!((found.contributions[0].share - 0.64).abs() < 1e-12, "{found:?}");
}

/// Two searches that begin 0.5 mm before their faces miss the other face on P(|N(0, σ)| > 0.5 mm) of parts. Searching the reference face alone does
/// better: it is offered as what it is, in place of those, with where along the line, and with the time that it saves.
#[test]
fn an_offered_search_says_what_it_replaces_and_where_it_is() {
    let held = HELD.replace("direction = [0, 1, 0]", "direction = [0, 1, 0]\npart_tolerance_mm = 0.7");
    let search = |face: &str| {
        format!(
            "[[seam.search]]\nface = \"{face}\"\nat_mm = 30\noff_mm = 5\ndistance_mm = 0.5\nspeed_mm_s = 20\n"
        )
    };
    let seam = format!("{LEFT}\n{}{}", search("other"), search("reference"));
    let cell = Question { besides: &held, seam: &seam, ..Question::default() }.cell();
    let found = check(&cell, &Options { seed: 0, watch: &() }).findings.fit_up.unwrap();
    let offered: Vec<_> =
        found.remedies.iter().filter(|remedy| remedy.change.starts_with("touch search")).collect();
    let one = offered.iter().find(|remedy| remedy.change.contains("the reference face half way"));
    let one = one.unwrap_or_else(|| panic!("{:#?}", found.remedies));
    assert!(one.change.contains("(at_mm = 100.0)"), "{}", one.change);
    assert!(one.change.ends_with("instead of the searches that the file has before rib"), "{}", one.change);
    assert!(one.adds_s < 0.0 && one.sentence().contains("s less arm time"), "{}", one.sentence());
}

/// Three round pins in three holes, each off in x and y by normal errors: the part goes on where it can be moved and turned so that every
/// hole's middle is within half the play of its pin. With the turn given that is so where the smallest circle about the three rests is no larger,
/// whose radius is a convex function of the turn; here by golden sections. It is one share however the pins lie on the drawing.
#[test]
fn as_many_parts_go_onto_three_round_pins_however_these_are_turned() {
    const AT: [[f64; 2]; 3] = [[80.0, 0.0], [-60.0, 50.0], [-40.0, -70.0]];
    const PLAY: f64 = 0.2;
    let sigma = 0.3_f64.hypot(0.05) / 3.0;
    let mut stream = ChaCha8Rng::seed_from_u64(3);
    let law = Normal::new(0.0, sigma).unwrap();
    let mut draw = || law.inverse_cdf(((stream.next_u64() >> 11) as f64 + 0.5) * 2f64.powi(-53));
    let goes_on = |off: &[[f64; 2]; 3]| {
        let radius = |turn: f64| {
            let rest = |i: usize| [off[i][0] + turn * AT[i][1], off[i][1] - turn * AT[i][0]];
            smallest_circle([rest(0), rest(1), rest(2)])
        };
        let golden = (5f64.sqrt() - 1.0) / 2.0;
        let (mut low, mut high) = (-0.1, 0.1);
        for _ in 0..60 {
            let [left, right] = [high - golden * (high - low), low + golden * (high - low)];
            if radius(left) < radius(right) { high = right } else { low = left }
        }
        radius(0.5 * (low + high)) <= PLAY / 2.0
    };
    const DRAWN: usize = 40_000;
    let good = (0..DRAWN).filter(|_| goes_on(&std::array::from_fn(|_| [draw(), draw()]))).count();
    let expected = 1.0 - good as f64 / DRAWN as f64;
    assert!((0.1..0.9).contains(&expected), "{expected}");
    let pad = |name: &str, [x, y]: [i32; 2]| {
        format!(
            "[[fixture.locator]]\nname = \"{name}\"\nkind = \"pad\"\nat_mm = [{x}, {y}, 0]\ndirection = [0, 0, 1]\n"
        )
    };
    let pads = [pad("a", [-120, -80]), pad("b", [120, -80]), pad("c", [0, 80])].concat();
    for turned in [0.0, 25.0, 50.2, 90.0] {
        let (sin, cos) = deg(turned).sin_cos();
        let pins = AT.iter().enumerate().map(|(i, [x, y])| {
            format!(
                "[[fixture.locator]]\nname = \"pin {i}\"\nkind = \"pin\"\nat_mm = [{}, {}, 5]\ndirection = [0, 0, 1]\ntolerance_mm = 0.05\n\
                 part_tolerance_mm = 0.3\nplay_mm = {PLAY}\n",
                x * cos - y * sin,
                x * sin + y * cos
            )
        });
        let besides = [pads.clone(), pins.collect()].concat();
        let cell = Question { seam: LEFT, besides: &besides, ..Question::default() }.cell();
        let found = fitted(&cell, 0).bodies[0].left_off.unwrap();
        // Five standard deviations of the difference of two shares, of which the smaller count is the one here.
        let spread = (2.0 * expected * (1.0 - expected) / DRAWN as f64).sqrt();
        assert!((found - expected).abs() < 5.0 * spread, "turned by {turned}: {found}, not {expected}");
    }
}

/// Radius of the smallest circle about three points: on the longest side where the angle across from it is obtuse, else through all.
fn smallest_circle(at: [[f64; 2]; 3]) -> f64 {
    let side = |i: usize, j: usize| (at[i][0] - at[j][0]).hypot(at[i][1] - at[j][1]);
    let mut sides = [side(0, 1), side(1, 2), side(2, 0)];
    sides.sort_by(f64::total_cmp);
    let [a, b, c] = sides;
    if a * a + b * b <= c * c {
        return c / 2.0;
    }
    // Heron: 16 area² = (a + b + c)(−a + b + c)(a − b + c)(a + b − c); the circle through all has the radius a b c / 4 area.
    a * b * c / ((a + b + c) * (-a + b + c) * (a - b + c) * (a + b - c)).sqrt()
}

#[test]
fn the_same_parts_are_drawn_on_any_number_of_threads() {
    let many =
        model(&[normal(0.3), normal(0.2)], &[vec![[1.0, 0.3], [0.5, 0.5]], vec![[0.2, 1.0], [1.0, 0.0]]]);
    let with = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| sample(&many, 11, 20_000, true))
    };
    assert_eq!(with(1), with(7));
}

/// A post in two upright vees and on a foot pad can only turn about its own line, which takes none of its points off its skin: it comes out
/// as often as with a pin that holds that turn and is never off. With the vees 1 mm beside its line it turns about another one, and is not
/// located.
#[test]
fn a_round_part_that_turns_about_its_own_line_is_located() {
    let post = "[[fixture.shape]]\nname = \"post\"\nrole = \"part\"\nkind = \"cylinder\"\nat_mm = [110, 60, 30]\nradius_mm = 15\nheight_mm = 40\n";
    let vee = |z: i32, y: i32| {
        format!(
            "[[fixture.locator]]\nname = \"vee {z}\"\npart = \"post\"\nkind = \"vee\"\nat_mm = [110, {y}, {z}]\ndirection = [1, 0, 0]\n\
             groove = [0, 0, 1]\npart_tolerance_mm = 0.8\n"
        )
    };
    let foot = "[[fixture.locator]]\nname = \"foot\"\npart = \"post\"\nkind = \"pad\"\nat_mm = [110, 60, 10]\ndirection = [0, 0, 1]\n";
    let pin = "[[fixture.locator]]\nname = \"key\"\npart = \"post\"\nkind = \"slot_pin\"\nat_mm = [125, 60, 30]\ndirection = [0, 1, 0]\n\
               tolerance_mm = 0\npart_tolerance_mm = 0\nplay_mm = 0\n";
    let plate = HELD.replace("kind =", "part = \"plate\"\nkind =");
    let answered = |y: i32, more: &str| {
        let besides = [post, &plate, &vee(20, y), &vee(40, y), foot, more].concat();
        let seam = "arc_mm = [[125, 60, 10], [110, 75, 10], [95, 60, 10]]";
        fitted(&Question { besides: &besides, seam, ..Question::default() }.cell(), 0)
    };
    let [free, keyed, beside] = [answered(60, ""), answered(60, pin), answered(61, "")];
    let of_post = |found: &FitUp| found.bodies.last().unwrap().locating.clone();
    assert_eq!((of_post(&free).taken, of_post(&free).fixes()), (5, true));
    assert_eq!((of_post(&beside).taken, of_post(&beside).fixes()), (5, false));
    assert_eq!((beside.seams.len(), beside.left_out.len()), (0, 1));
    let [share, expected] = [&free, &keyed].map(|found| found.downloaded.unwrap());
    assert!((share - expected).abs() < 1e-4 && (0.1..0.95).contains(&share), "{share}, not {expected}");
}
