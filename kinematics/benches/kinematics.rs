//! How long forward, differential and inverse kinematics take here and in other libraries: the same arms and poses, one
//! thread, one run.
//!
//! `cargo bench -p seamwright-kinematics --bench kinematics` prints nanoseconds a pose, the best of several repetitions.
//! Times are never asserted; that both libraries speak of the same arm is.
//!
//! Where `ik-geo` has no closed form it searches with the C library NLopt, which is not built here (`tests/nlopt`).
//! A pose out of reach is answered here with the distance that it lacks, which the others do not look for.
//!
//! Where eight are worked out at once, the time is also held against the arithmetic: the additions, multiplications, divisions and roots
//! that the formulas ask for, each counted once, at the pace at which this processor does as many independent multiplications and
//! additions in the same registers. What is more is waiting for results, choosing, and writing solutions out.

#![allow(clippy::unwrap_used, reason = "a bench that cannot be made must stop")]

use std::f64::consts::{FRAC_PI_2, PI};
use std::hint::black_box;
use std::path::Path;
use std::time::Instant;

use ik_geo::nalgebra as ik_geo_maths;
use ik_geo::robot::{IKSolver, Robot, spherical, spherical_two_parallel, three_parallel_two_intersecting};
use k::nalgebra as k_maths;
use nalgebra::{Point3, Vector3};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use rs_opw_kinematics::kinematic_traits::{Kinematics, Pose as OpwPose};
use rs_opw_kinematics::kinematics_impl::OPWKinematics;
use rs_opw_kinematics::parameters::opw_kinematics::Parameters;
use seamwright_kinematics::document::{Document, Problems};
use seamwright_kinematics::{Arm, AxisValues, Pose, read_arm};

const REPETITIONS: usize = 25;

/// Operations of the formulas, counted in the sources. An angle from its cosine and sine (`angle_of`): the quotient 6, the powers 4, two
/// sums of eight terms 32, putting together 6. A cosine and sine (`cosine_and_sine`): the rest of the quarter turns 8, two sums 37.
const ANGLE: f64 = 48.0;
const COSINE_AND_SINE: f64 = 45.0;
/// Forward: six times a half, its cosine and sine and the turn 12; five times a product of quaternions 28, a vector turned 27 and added
/// 3; the flange 61.
const FORWARD: f64 = 6.0 * (1.0 + COSINE_AND_SINE + 12.0) + 5.0 * (28.0 + 30.0) + 61.0;
/// What a pose asks: a rotation matrix 24, its product 45, five vectors by a matrix 81; both turns of axis 1 25.
const ASKED: f64 = 175.0;
/// Spherical wrist behind parallel axes: four times the wrist centre in link 1 23, the elbow 44, the wrist 91, six angles.
const SPHERICAL_WRIST: f64 = ASKED + 4.0 * (23.0 + 44.0 + 91.0 + 6.0 * ANGLE);
/// Three parallel axes: twice the wrist and the wrist centre in link 1 117; four times the triangle 30; twenty angles; eight sums 14.
const THREE_PARALLEL: f64 = ASKED + 2.0 * 117.0 + 4.0 * 30.0 + 20.0 * ANGLE + 8.0 * 14.0;

/// The arm of a file in `tests/data/solution_sets`.
fn arm(name: &str) -> Arm {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/data/solution_sets");
    let text = std::fs::read_to_string(folder.join(format!("{name}.toml"))).unwrap();
    let problems = Problems::default();
    let document = Document::parse(name, &text, &problems);
    read_arm(&document.root(&problems), None).unwrap().arm
}

fn any_axes(count: usize) -> Vec<AxisValues> {
    let mut random = ChaCha8Rng::seed_from_u64(1);
    let mut angle = || PI * (f64::from(random.next_u32()) / f64::from(1_u32 << 31) - 1.0);
    (0..count).map(|_| AxisValues::from_fn(|_, _| angle())).collect()
}

fn poses(arm: &Arm, axes: &[AxisValues]) -> Vec<Pose> {
    axes.iter().map(|axes| arm.base_from_flange(axes)).collect()
}

/// Nanoseconds for one of `inputs`, the best of [`REPETITIONS`].
fn best_ns<Input, Output>(inputs: &[Input], mut answer: impl FnMut(&Input) -> Output) -> f64 {
    let mut best = f64::INFINITY;
    for _ in 0..REPETITIONS {
        let begun = Instant::now();
        for input in inputs {
            black_box(answer(black_box(input)));
        }
        best = best.min(begun.elapsed().as_secs_f64());
    }
    #[expect(clippy::cast_precision_loss, reason = "a few thousand")]
    let count = inputs.len() as f64;
    best * 1e9 / count
}

/// Nanoseconds for one of `inputs`, all answered in one call, the best of [`REPETITIONS`].
fn best_ns_together<Input>(inputs: &[Input], mut answer: impl FnMut(&[Input])) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "a few thousand")]
    let count = inputs.len() as f64;
    best_ns(&[inputs], |inputs| answer(inputs)) / count
}

/// Nanoseconds for one operation of one lane where many independent ones follow each other, half of them multiplications.
fn operation_ns() -> f64 {
    const LANES: usize = 8;
    const CHAINS: usize = 12;
    const ROUNDS: usize = 2000;
    #[cfg_attr(
        not(feature = "static-instructions"),
        multiversion::multiversion(targets("x86_64+avx512f", "x86_64+avx2+fma", "aarch64+neon"))
    )]
    fn work(numbers: &mut [[f64; LANES]; CHAINS], by: f64, more: f64) {
        let [a, b, c, d, e, f, g, h, i, j, k, l] = numbers;
        for _ in 0..ROUNDS {
            for lane in 0..LANES {
                for chain in [
                    &mut *a, &mut *b, &mut *c, &mut *d, &mut *e, &mut *f, &mut *g, &mut *h, &mut *i, &mut *j,
                    &mut *k, &mut *l,
                ] {
                    chain[lane] = chain[lane] * by + more;
                }
            }
        }
    }
    let mut numbers = [[1.0; LANES]; CHAINS];
    let ns = best_ns(&[(0.999, 0.001)], |(by, more)| {
        work(&mut numbers, *by, *more);
        numbers[0][0]
    });
    ns / (2 * LANES * CHAINS * ROUNDS) as f64
}

/// How far a time is from its arithmetic.
fn arithmetic_row(ns: f64, operations: f64) {
    let least = operations * operation_ns();
    println!("        {operations:.0} operations take {least:.0} at least {:>30.1}", ns / least);
}

/// All ways to many poses in one call.
fn together_row(arm: &Arm, poses: &[Pose]) -> f64 {
    let near = AxisValues::zeros();
    let ours = best_ns_together(poses, |poses| {
        arm.inverse_each(poses, &near, |_, found| {
            black_box(found);
        });
    });
    row("    many poses in one call", ours, &[]);
    ours
}

fn row(case: &str, ours: f64, others: &[(&str, f64)]) {
    println!("{case:<52} {ours:>9.0}");
    for (library, theirs) in others {
        println!("    {library:<48} {theirs:>9.0} {:>7.1}", theirs / ours);
    }
}

/// The usual arm with offsets in the letters of `rs-opw-kinematics`.
fn opw_usual_offset() -> OPWKinematics {
    OPWKinematics::new(Parameters {
        a1: 0.160,
        a2: -0.130,
        b: 0.045,
        c1: 0.470,
        c2: 0.660,
        c3: 0.730,
        c4: 0.110,
        offsets: [0.0, 0.0, -FRAC_PI_2, 0.0, 0.0, 0.0],
        sign_corrections: [1; 6],
        dof: 6,
    })
}

fn for_opw(pose: &Pose) -> OpwPose {
    let (t, r) = (pose.translation.vector, pose.rotation);
    OpwPose::from_parts(glam::DVec3::new(t.x, t.y, t.z), glam::DQuat::from_xyzw(r.i, r.j, r.k, r.w))
}

type Columns<const N: usize> = ik_geo_maths::Matrix<
    f64,
    ik_geo_maths::U3,
    ik_geo_maths::Const<N>,
    ik_geo_maths::ArrayStorage<f64, 3, N>,
>;
type IkGeoClass = fn(Columns<6>, Columns<7>) -> Robot;
type IkGeoPose = (ik_geo_maths::Matrix3<f64>, ik_geo_maths::Vector3<f64>);

fn ik_geo_of(arm: &Arm, class: IkGeoClass) -> Robot {
    let forward = arm.forward(&AxisValues::zeros());
    let links = &forward.base_from_link[1..];
    let mut at: Vec<Vector3<f64>> = links.iter().map(|link| link.translation.vector).collect();
    at.push(forward.base_from_flange.translation.vector);
    let across = |v: Vector3<f64>| ik_geo_maths::Vector3::from(v.data.0[0]);
    let direction =
        std::array::from_fn::<_, 6, _>(|i| across(links[i].rotation * arm.axes()[i].direction.into_inner()));
    let way = std::array::from_fn::<_, 7, _>(|i| across(if i == 0 { at[0] } else { at[i] - at[i - 1] }));
    class(Columns::from_columns(&direction), Columns::from_columns(&way))
}

/// The flange of that library is turned as the base where the axes are at 0.
fn for_ik_geo(arm: &Arm, pose: &Pose) -> IkGeoPose {
    let turn = pose.rotation * arm.base_from_flange(&AxisValues::zeros()).rotation.inverse();
    let rotation = ik_geo_maths::Matrix3::from(turn.to_rotation_matrix().into_inner().data.0);
    (rotation, ik_geo_maths::Vector3::from(pose.translation.vector.data.0[0]))
}

fn ik_geo_row(case: &str, arm: &Arm, library: &str, class: IkGeoClass) -> f64 {
    let axes = any_axes(1000);
    let poses = poses(arm, &axes);
    let robot = ik_geo_of(arm, class);
    let theirs: Vec<IkGeoPose> = poses.iter().map(|pose| for_ik_geo(arm, pose)).collect();
    for (axes, (rotation, at)) in axes.iter().zip(&theirs) {
        let (own_rotation, own_at) = robot.fk(&axes.data.0[0]);
        assert!((own_rotation - rotation).norm() + (own_at - at).norm() < 1e-9, "{library} has another arm");
    }
    let near = AxisValues::zeros();
    let ours = best_ns(&poses, |pose| arm.inverse(pose, &near));
    row(case, ours, &[(library, best_ns(&theirs, |(rotation, at)| robot.ik(*rotation, *at)))]);
    together_row(arm, &poses)
}

fn usual_rows(arm: &Arm, case: &str, poses: &[Pose]) -> f64 {
    let near = AxisValues::zeros();
    let opw = opw_usual_offset();
    let robot = ik_geo_of(arm, spherical_two_parallel);
    let for_opw: Vec<OpwPose> = poses.iter().map(for_opw).collect();
    let for_ik_geo: Vec<IkGeoPose> = poses.iter().map(|pose| for_ik_geo(arm, pose)).collect();
    let others = [
        ("rs-opw-kinematics", best_ns(&for_opw, |pose| opw.inverse(pose))),
        ("ik-geo spherical_two_parallel", best_ns(&for_ik_geo, |(rotation, at)| robot.ik(*rotation, *at))),
    ];
    row(case, best_ns(poses, |pose| arm.inverse(pose, &near)), &others);
    together_row(arm, poses)
}

fn k_of(arm: &Arm) -> k::SerialChain<f64> {
    let mut nodes: Vec<k::Node<f64>> = Vec::new();
    for (i, axis) in arm.axes().iter().enumerate() {
        let direction = k_maths::Unit::new_normalize(k_maths::Vector3::from(axis.direction.data.0[0]));
        let rotation =
            k_maths::Quaternion::from(k_maths::Vector4::from(axis.origin.rotation.coords.data.0[0]));
        let node = k::NodeBuilder::new()
            .name(&format!("axis {}", i + 1))
            .joint_type(k::JointType::Rotational { axis: direction })
            .translation(k_maths::Vector3::from(axis.origin.translation.vector.data.0[0]).into())
            .rotation(k_maths::Unit::new_normalize(rotation))
            .into_node();
        if let Some(parent) = nodes.last() {
            node.set_parent(parent);
        }
        nodes.push(node);
    }
    k::SerialChain::from_end(nodes.last().unwrap())
}

fn forward_rows(arm: &Arm) {
    let axes = any_axes(1000);
    let chain = k_of(arm);
    for axes in &axes {
        chain.set_joint_positions_unchecked(axes.as_slice());
        chain.update_transforms();
        let at = Vector3::from(chain.end_transform().translation.vector.data.0[0]);
        let link6 = arm.forward(axes).base_from_link[6].translation.vector;
        assert!((at - link6).norm() < 1e-9, "k has another arm");
    }
    let ours = best_ns(&axes, |axes| arm.forward(axes));
    let theirs = best_ns(&axes, |axes| {
        chain.set_joint_positions_unchecked(axes.as_slice());
        chain.update_transforms()
    });
    row("forward, all frames", ours, &[("k", theirs)]);
    // Nothing is left out that could be: every number of every frame goes into the sum.
    let numbers = |pose: Pose| pose.translation.vector.sum() + pose.rotation.coords.sum();
    let ours = best_ns_together(&axes, |axes| {
        let mut sum = 0.0;
        arm.forward_each(axes, |_, stands| {
            let links: f64 = (1..=6).map(|link| numbers(stands.base_from_link(link))).sum();
            sum += links + numbers(stands.base_from_flange());
        });
        black_box(sum);
    });
    row("    many in one call, each number of each frame read", ours, &[("k", theirs)]);
    arithmetic_row(ours, FORWARD);
    let ours = best_ns_together(&axes, |axes| {
        arm.forward_each(axes, |_, stands| {
            black_box(stands.forward());
        });
    });
    row("    many in one call, all frames copied", ours, &[("k", theirs)]);
    let ours = best_ns(&axes, |axes| arm.jacobian(axes, &Point3::origin()));
    let theirs = best_ns(&axes, |axes| {
        chain.set_joint_positions_unchecked(axes.as_slice());
        k::jacobian(&chain)
    });
    row("forward with Jacobian", ours, &[("k", theirs)]);
}

/// The widest instructions that are used. A plain build asks the processor; one with the feature `static-instructions` uses those that it
/// was made for (`RUSTFLAGS="-C target-feature=+avx2,+fma"`).
fn instruction_level() -> &'static str {
    #[cfg(target_arch = "x86_64")]
    {
        let is_asked = cfg!(not(feature = "static-instructions"));
        if cfg!(target_feature = "avx512f") || is_asked && std::is_x86_feature_detected!("avx512f") {
            return "AVX-512";
        }
        let has_fma = std::is_x86_feature_detected!("avx2") && std::is_x86_feature_detected!("fma");
        if cfg!(all(target_feature = "avx2", target_feature = "fma")) || is_asked && has_fma {
            return "AVX2 with FMA";
        }
    }
    "the least of its kind"
}

fn main() {
    println!("instructions: {}, built for: {}", instruction_level(), std::env::consts::ARCH);
    println!("{:<52} {:>9} {:>7}", "one thread, best of 25 repetitions", "ns a pose", "times");
    let usual = arm("usual-offset");
    let axes = any_axes(1000);
    let opw = opw_usual_offset();
    for axes in &axes {
        let at = opw.forward(&axes.data.0[0]).translation;
        let ours = usual.base_from_flange(axes).translation.vector;
        assert!((ours - Vector3::new(at.x, at.y, at.z)).norm() < 1e-9, "rs-opw-kinematics has another arm");
    }
    let reached = poses(&usual, &axes);
    let ours = usual_rows(&usual, "inverse, spherical wrist on parallel axes", &reached);
    arithmetic_row(ours, SPHERICAL_WRIST);
    let away = |pose: &Pose| Pose::from_parts((pose.translation.vector * 9.0).into(), pose.rotation);
    let unreached: Vec<Pose> =
        reached.iter().map(away).filter(|pose| pose.translation.vector.norm() > 3.0).collect();
    usual_rows(&usual, "the same, pose out of reach", &unreached);
    let case = "inverse, three parallel axes";
    let ours = ik_geo_row(
        case,
        &arm("three-parallel-usual"),
        "ik-geo three_parallel_two_intersecting",
        three_parallel_two_intersecting,
    );
    arithmetic_row(ours, THREE_PARALLEL);
    let case = "inverse, spherical wrist on skew axes";
    ik_geo_row(case, &arm("wrist-on-skew-axes"), "ik-geo spherical", spherical);
    for name in ["offset-wrist", "generic", "usual-calibrated"] {
        let general = arm(name);
        let poses = poses(&general, &axes);
        let near = AxisValues::zeros();
        row(
            &format!("inverse, no special class ({name})"),
            best_ns(&poses, |pose| general.inverse(pose, &near)),
            &[],
        );
        let away: Vec<Pose> =
            poses.iter().take(20).map(away).filter(|pose| pose.translation.vector.norm() > 3.0).collect();
        row("    the same, pose out of reach", best_ns(&away, |pose| general.inverse(pose, &near)), &[]);
        let step = AxisValues::from_element(0.005);
        let steps: Vec<(AxisValues, Pose)> =
            axes.iter().map(|from| (*from, general.base_from_flange(&(from + step)))).collect();
        row(
            "    one branch followed by 0.005 rad an axis",
            best_ns(&steps, |(from, pose)| general.follow(pose, from)),
            &[],
        );
    }
    forward_rows(&usual);
}
