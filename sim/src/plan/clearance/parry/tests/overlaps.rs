//! How deep solids overlap, whether one holds the other, and which boxes hold them: worked out on paper for each case.
//!
//! Everything is measured both ways round and in a base frame askew to both solids, so that nothing is right by luck.

use super::*;
use crate::cell::Mesh;

/// Of a depth with a mesh: it is narrowed down to 1 µm.
const FINE: f64 = 1.001e-6;
/// Of one that is only to rank: to 1 mm.
const ROUGH: f64 = 1.001e-3;
/// Of a depth between solids that are no meshes: rounding.
const EXACT: f64 = 1e-12;
/// Of a distance: the library stops once a step gains less than this; the most seen is 1.7 nm.
const CLOSE: f64 = 1e-8;

fn ball(radius: f64) -> Solid {
    Solid::Sphere { radius }
}

fn cube(half: f64) -> Solid {
    Solid::Box { half: Vector3::repeat(half) }
}

fn at(x: f64, y: f64, z: f64) -> Pose {
    Pose::translation(x, y, z)
}

fn turned_about(axis: [f64; 3], degrees: f64) -> Pose {
    Pose::new(Vector3::zeros(), Vector3::from(axis) * units::deg(degrees))
}

/// What `ask` says of the one solid at the origin and the other at `one_from_other`, each asking about the other.
fn both_ways<T>(
    [one, other]: [&Solid; 2],
    one_from_other: &Pose,
    ask: impl Fn(&Located<'_>, &Located<'_>) -> T,
) -> [T; 2] {
    let base_from_one = Pose::new(Vector3::new(0.7, -0.4, 0.9), Vector3::new(0.4, -1.1, 0.8));
    let (one, other) = (Form::new(one), Form::new(other));
    let (one_placed, other_placed) =
        (one.place(&base_from_one), other.place(&(base_from_one * one_from_other)));
    let one = Located { form: &one, placed: &one_placed };
    let other = Located { form: &other, placed: &other_placed };
    [ask(&one, &other), ask(&other, &one)]
}

/// Asserts a depth where no shorter translation separates: none is ever said to be shorter, and none longer by more than `narrowed`.
fn assert_depth(solids: [&Solid; 2], one_from_other: &Pose, depth: Depth, expected: f64, narrowed: f64) {
    for found in both_ways(solids, one_from_other, |one, other| one.signed_distance(other, 0.0, depth)) {
        let found = -found.expect("they overlap");
        assert!(
            found >= expected - EXACT && found <= expected + narrowed,
            "{found} m is not {expected} m: {solids:?} at {one_from_other}"
        );
    }
}

fn distances(solids: [&Solid; 2], one_from_other: &Pose, within: f64) -> [Option<f64>; 2] {
    both_ways(solids, one_from_other, |one, other| one.distance(other, within))
}

fn assert_distance(solids: [&Solid; 2], one_from_other: &Pose, expected: f64) {
    for found in distances(solids, one_from_other, 10.0) {
        let found = found.expect("they are nearer than 10 m");
        assert!((found - expected).abs() < CLOSE, "{found} m is not {expected} m: {one_from_other}");
    }
}

/// Two cubes of 200 mm, one turned by 45° about z, so that its edge points at the other: 100 + 100 √2 − 200 = 41.4 mm deep along x. Along
/// its own faces they overlap by 100 + 100 √2 − 200 / √2 = 100 mm, along z by 200.
#[test]
fn an_edge_in_a_face_is_as_deep_as_it_reaches() {
    assert_depth([&cube(0.1), &cube(0.1)], &at(0.15, 0.02, 0.03), Depth::Fine, 0.05, EXACT);
    let turned = at(0.2, 0.0, 0.0) * turned_about([0.0, 0.0, 1.0], 45.0);
    let expected = 0.1 + 0.1 * 2.0_f64.sqrt() - 0.2;
    assert_depth([&cube(0.1), &cube(0.1)], &turned, Depth::Fine, expected, EXACT);
}

/// Two square bars of 200 mm, each on an edge, cross at right angles with their axes 200 mm apart: edge in edge by 2 · 100 √2 − 200 = 82.8 mm.
#[test]
fn bars_that_cross_on_their_edges_overlap_square_to_both() {
    let bar = |x: f64, y: f64| Solid::Box { half: Vector3::new(x, y, 0.1) };
    let first_from_second = at(0.05, 0.03, 0.2) * turned_about([0.0, 1.0, 0.0], 45.0);
    // The first lies along x on an edge: seen from it the second is turned back about x.
    let on_edge = turned_about([1.0, 0.0, 0.0], 45.0);
    let expected = 0.2 * 2.0_f64.sqrt() - 0.2;
    let pose = on_edge.inverse() * first_from_second;
    assert_depth([&bar(0.5, 0.1), &bar(0.1, 0.5)], &pose, Depth::Fine, expected, EXACT);
}

/// A ball of 50 mm against a cube of 200 mm: its middle 20 mm outside the face 30 mm deep, 20 mm inside 70 mm. Bars of 50 and 40 mm radius
/// that cross 60 mm apart: 30 mm.
#[test]
fn what_is_rounded_is_as_deep_as_its_rounding_reaches() {
    assert_depth([&cube(0.1), &ball(0.05)], &at(0.01, -0.02, 0.12), Depth::Fine, 0.03, EXACT);
    assert_depth([&cube(0.1), &ball(0.05)], &at(0.01, -0.02, 0.08), Depth::Fine, 0.07, EXACT);
    let bar = |radius: f64| Solid::Capsule { radius, half_length: 0.4 };
    let crossing = at(0.1, 0.06, 0.1) * turned_about([0.0, 1.0, 0.0], 90.0);
    assert_depth([&bar(0.05), &bar(0.04)], &crossing, Depth::Fine, 0.03, EXACT);
}

/// Two upright cylinders of 100 and 50 mm radius whose axes are 120 mm apart are 30 mm deep, level; one stands 200 mm higher. A cone from
/// 100 mm radius to nothing over 200 mm has a flank that leans by atan(1/2): a ball of 10 mm whose middle lies on it is 10 mm deep.
#[test]
fn round_solids_overlap_square_to_their_flanks() {
    let upright = |radius: f64| Solid::Cylinder { radius, half_height: 0.3 };
    let (sin, cos) = units::deg(30.0).sin_cos();
    let beside = at(0.12 * cos, 0.12 * sin, 0.2);
    assert_depth([&upright(0.1), &upright(0.05)], &beside, Depth::Fine, 0.03, 1e-9);
    let cone = Solid::Frustum { radius_low: 0.1, radius_high: 0.0, half_height: 0.1 };
    assert_depth([&cone, &ball(0.01)], &at(0.03, 0.04, 0.0), Depth::Fine, 0.01, 1e-9);
}

/// The upright edge of a cube pokes 10 mm into the flank of an upright cylinder of 100 mm radius, straight toward its axis; the middle of
/// the cube lies 15° to one side of that, so that no face, edge or flank stands square to the shortest way out. Leaning
/// together changes nothing.
#[test]
fn an_edge_in_a_flank_is_as_deep_as_it_reaches() {
    let upright = Solid::Cylinder { radius: 0.1, half_height: 0.3 };
    let (sin, cos) = units::deg(15.0).sin_cos();
    let diagonal = 0.1 * 2.0_f64.sqrt();
    let edge_in_flank = at(0.09 + diagonal * cos, diagonal * sin, 0.05) * turned_about([0.0, 0.0, 1.0], 60.0);
    for lean in [0.0, 40.0] {
        let lean = turned_about([1.0, 0.3, 0.2], lean);
        let pose = lean * edge_in_flank;
        let cylinder_first = pose.inverse() * lean;
        assert_depth([&cube(0.1), &upright], &cylinder_first, Depth::Fine, 0.01, 1e-9);
    }
}

/// An upright cylinder 30 mm over a plate, square to it: nothing leans, nothing rounds.
#[test]
fn a_cylinder_square_to_a_plate_is_measured_along_its_axis() {
    let (cylinder, plate) = (Solid::Cylinder { radius: 0.05, half_height: 0.1 }, cube(0.2));
    let (cylinder, plate) = (Form::new(&cylinder), Form::new(&plate));
    for (z, expected) in [(0.33, 0.03), (-0.33, 0.03), (0.28, -0.02)] {
        let cylinder = Located { form: &cylinder, placed: &cylinder.place(&at(0.0, 0.0, z)) };
        let plate = Located { form: &plate, placed: &plate.place(&Pose::identity()) };
        for found in [
            cylinder.signed_distance(&plate, 1.0, Depth::Fine),
            plate.signed_distance(&cylinder, 1.0, Depth::Fine),
        ] {
            assert!(found.is_some_and(|found| (found - expected).abs() < EXACT), "{found:?} at {z}");
        }
    }
}

/// What does not overlap has its distance for a signed one, and what touches has none: not the rounding of what is rounded.
#[test]
fn a_signed_distance_is_positive_apart_and_nothing_in_touch() {
    for other in [
        cube(0.1),
        mesh(box_faces([0.1; 3], [0.0; 3], false)),
        Solid::Capsule { radius: 0.1, half_length: 0.3 },
    ] {
        for (x, expected) in [(0.15, 0.03), (0.12, 0.0)] {
            let found = both_ways([&other, &ball(0.02)], &at(x, 0.01, 0.02), |one, other| {
                one.signed_distance(other, 0.1, Depth::Fine)
            });
            let expected =
                if matches!(other, Solid::Capsule { .. }) { x.hypot(0.01) - 0.12 } else { expected };
            for found in found {
                assert!(
                    found.is_some_and(|found| (found - expected).abs() < 2.0 * FINE),
                    "{found:?}, {expected}"
                );
            }
        }
    }
    // Straight beside the bar, where rounding leaves exactly nothing.
    let bar = Solid::Capsule { radius: 0.1, half_length: 0.3 };
    let (bar, ball) = (Form::new(&bar), Form::new(&ball(0.02)));
    let bar = Located { form: &bar, placed: &bar.place(&Pose::identity()) };
    let ball = Located { form: &ball, placed: &ball.place(&at(0.12, 0.0, 0.0)) };
    assert!(bar.signed_distance(&ball, 0.0, Depth::Fine).unwrap().abs() < EXACT);
}

/// A box as a mesh, two triangles a side; turned inside out it bounds a cavity.
fn box_faces(half: [f64; 3], middle: [f64; 3], inside_out: bool) -> Mesh {
    let vertices = (0..8_u32).map(|i| {
        let side = |axis: usize| middle[axis] + if i >> axis & 1 == 0 { -half[axis] } else { half[axis] };
        Point3::new(side(0), side(1), side(2))
    });
    let sides = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
    let triangles = sides.iter().flat_map(|[a, b, c, d]| [[*a, *b, *c], [*a, *c, *d]]);
    let triangles = triangles.map(|[a, b, c]| if inside_out { [a, c, b] } else { [a, b, c] });
    Mesh { vertices: vertices.collect(), triangles: triangles.collect(), closed: true }
}

fn together(meshes: [Mesh; 2]) -> Solid {
    let [mut first, second] = meshes;
    let count = first.vertices.len() as u32;
    first.vertices.extend(second.vertices);
    first.triangles.extend(second.triangles.iter().map(|corners| corners.map(|corner| corner + count)));
    Solid::Mesh(Arc::new(first))
}

fn mesh(mesh: Mesh) -> Solid {
    Solid::Mesh(Arc::new(mesh))
}

/// The `i`-th share of a sequence that fills the space from 0 to 1 evenly (Halton's radical inverse).
fn halton(mut i: u32, base: u32) -> f64 {
    let (mut sum, mut part) = (0.0, 1.0);
    while i > 0 {
        part /= f64::from(base);
        sum += part * f64::from(i % base);
        i /= base;
    }
    sum
}

/// A mesh of a box is that box: whatever is measured against it, wherever it stands, comes out as against the solid.
#[test]
fn distances_of_a_box_are_those_of_its_skin() {
    let half = [0.05, 0.12, 0.2];
    let (solid, skin) = (Solid::Box { half: Vector3::from(half) }, mesh(box_faces(half, [0.0; 3], false)));
    let thin = Vector3::new(0.01, 0.25, 0.02);
    let others = [
        (Solid::Box { half: thin }, mesh(box_faces([0.01, 0.25, 0.02], [0.0; 3], false))),
        (
            Solid::Box { half: Vector3::new(0.3, 0.02, 0.05) },
            mesh(box_faces([0.3, 0.02, 0.05], [0.0; 3], false)),
        ),
        (ball(0.03), ball(0.03)),
        (
            Solid::Capsule { radius: 0.02, half_length: 0.2 },
            Solid::Capsule { radius: 0.02, half_length: 0.2 },
        ),
        (
            Solid::Cylinder { radius: 0.04, half_height: 0.15 },
            Solid::Cylinder { radius: 0.04, half_height: 0.15 },
        ),
    ];
    let mut apart = 0;
    for i in 1..=120 {
        let [x, y, z] = [2, 3, 5].map(|base| 0.8 * (halton(i, base) - 0.5));
        let turn = Vector3::from([7, 11, 13].map(|base| 4.0 * (halton(i, base) - 0.5)));
        let pose = Pose::new(Vector3::new(x, y, z), turn);
        for (other, other_skin) in &others {
            let [expected, _] = distances([&solid, other], &pose, 10.0);
            let expected = expected.expect("they are nearer than 10 m");
            apart += i32::from(expected > 0.0);
            assert_distance([&skin, other], &pose, expected);
            assert_distance([&skin, other_skin], &pose, expected);
            for found in distances([&skin, other_skin], &pose, expected + 1e-6) {
                assert!(
                    found.is_some_and(|found| (found - expected).abs() < CLOSE),
                    "{found:?}, {expected} m"
                );
            }
            if expected > 1e-6 {
                assert_eq!(distances([&skin, other_skin], &pose, expected - 1e-6), [None; 2]);
            }
        }
    }
    assert!(apart > 200, "{apart} of them are apart");
}

/// A closed mesh is solid, an open one a shell, and a cavity is empty: a ball of 10 mm in the middle of a cube of 200 mm, where there is
/// nothing, everything, or a cavity of 120 mm.
#[test]
fn a_closed_mesh_is_solid_but_for_its_cavities() {
    let outside = || box_faces([0.1; 3], [0.0; 3], false);
    assert_distance([&mesh(outside()), &ball(0.01)], &at(0.05, 0.02, -0.03), 0.0);
    assert_distance([&mesh(Mesh { closed: false, ..outside() }), &ball(0.01)], &at(0.05, 0.02, -0.03), 0.04);
    let hollow = together([outside(), box_faces([0.06; 3], [0.0; 3], true)]);
    assert_distance([&hollow, &ball(0.01)], &at(0.01, 0.0, 0.0), 0.04);
    // In its wall, 20 mm from either skin; and outside.
    for wall in [[0.08, 0.01, 0.02], [0.01, -0.08, 0.02], [0.01, 0.02, 0.08], [0.02, 0.01, -0.08]] {
        let [x, y, z] = wall;
        assert_distance([&hollow, &ball(0.01)], &at(x, y, z), 0.0);
    }
    assert_distance([&hollow, &ball(0.01)], &at(0.01, 0.02, -0.15), 0.04);
    assert_distance([&hollow, &ball(0.01)], &at(0.15, 0.01, 0.02), 0.04);
}

/// Two cubes of 40 mm, 600 mm apart, are one mesh: either of them inside a cube of 200 mm is inside it, whichever comes first.
#[test]
fn every_piece_of_a_mesh_can_be_inside_another() {
    let twins = together([
        box_faces([0.02; 3], [-0.3, 0.0, 0.0], false),
        box_faces([0.02; 3], [0.3, 0.0, 0.0], false),
    ]);
    let house = mesh(box_faces([0.1; 3], [0.0; 3], false));
    for x in [-0.3, 0.3] {
        assert_distance([&house, &twins], &at(x, 0.01, 0.02), 0.0);
    }
    // Between the two: 280 − 100 mm.
    assert_distance([&house, &twins], &at(0.0, 0.01, 0.02), 0.18);
}

/// A ball of 10 mm whose middle is 40 mm below the face of a meshed cube gets out by 50 mm; a meshed cube of 40 mm there by 60. Under the
/// slope of a wedge of 200 mm by 200 its middle is 20 mm deep, so that it gets out by 30 mm along the slope's normal, which is no axis of
/// either: only a fine search tries it; along an axis it takes √2 times as much.
#[test]
fn what_is_inside_a_mesh_is_as_deep_as_its_nearest_way_out() {
    let house = mesh(box_faces([0.1; 3], [0.0; 3], false));
    let small = mesh(box_faces([0.02; 3], [0.0; 3], false));
    for pose in [at(0.06, 0.01, 0.02), at(0.01, -0.06, 0.02), at(0.01, 0.02, -0.06)] {
        for (depth, narrowed) in [(Depth::Fine, FINE), (Depth::Rough, ROUGH)] {
            assert_depth([&house, &ball(0.01)], &pose, depth, 0.05, narrowed);
            assert_depth([&house, &small], &pose, depth, 0.06, narrowed);
        }
    }
    let (mut wedge, slope) = (box_faces([0.1; 3], [0.0; 3], false), 2.0_f64.sqrt() / 2.0);
    // The corners at high x and z go down to the floor: the slope runs from high z at low x to low z at high x.
    for corner in [5, 7] {
        wedge.vertices[corner].z = -0.1;
    }
    wedge.triangles.retain(|corners| {
        let [a, b, c] = corners.map(|corner| wedge.vertices[corner as usize]);
        (b - a).cross(&(c - a)).norm() > 1e-9
    });
    let wedge = mesh(wedge);
    let under = at(-0.02 * slope, 0.01, -0.02 * slope);
    assert_depth([&wedge, &ball(0.01)], &under, Depth::Fine, 0.03, FINE);
    assert_depth([&wedge, &ball(0.01)], &under, Depth::Rough, 0.03 / slope, ROUGH);
}

/// Two ways out that differ by half a millimetre, less than a rough search tells apart: the shorter one counts, whichever is tried first.
#[test]
fn of_two_ways_out_the_shorter_counts_however_alike_they_are() {
    let house = mesh(box_faces([0.1; 3], [0.0; 3], false));
    for pose in
        [at(0.06, 0.0595, 0.0), at(0.0595, 0.06, 0.0), at(0.0, -0.0595, 0.06), at(-0.0595, 0.0, -0.06)]
    {
        assert_depth([&house, &ball(0.01)], &pose, Depth::Fine, 0.05, FINE);
        assert_depth([&house, &ball(0.01)], &pose, Depth::Rough, 0.05, ROUGH);
    }
}

/// A prism 600 mm long along y, whose cross-section is the hull of `outline` (x and z), counter-clockwise seen against y, from a corner
/// that sees all others.
fn prism(outline: &[[f64; 2]]) -> Solid {
    let vertices =
        [-0.3, 0.3].into_iter().flat_map(|y| outline.iter().map(move |[x, z]| Point3::new(*x, y, *z)));
    let vertices = vertices.collect();
    let count = outline.len() as u32;
    let mut triangles = Vec::new();
    for i in 0..count {
        let next = (i + 1) % count;
        triangles.extend([[i, next, count + next], [i, count + next, count + i]]);
        if i > 0 && i + 1 < count {
            triangles.extend([[0, i + 1, i], [count, count + i, count + i + 1]]);
        }
    }
    // Seen from y below zero, x runs to the right and z up: the near face is drawn as it is seen.
    let triangles = triangles.into_iter().map(|[a, b, c]| [a, c, b]).collect();
    mesh(Mesh { vertices, triangles, closed: true })
}

/// Under the two slopes of a roof of 45°, 200 mm high: a ball of 30 mm whose middle is 60 / √2 mm below the nearer slope and 80 / √2 mm
/// below the other gets out square to the nearer, whichever that is.
#[test]
fn every_slope_near_by_is_tried_as_a_way_out() {
    let roof = prism(&[[-0.2, 0.0], [0.2, 0.0], [0.0, 0.2]]);
    for x in [-0.01, 0.01] {
        let expected = 0.06 / 2.0_f64.sqrt() + 0.03;
        assert_depth([&roof, &ball(0.03)], &at(x, 0.0, 0.13), Depth::Fine, expected, FINE);
    }
}

/// A ramp whose slope of 45° is drawn in forty strips: a ball of 30 mm whose middle is 20 mm below it reaches only those near by.
#[test]
fn a_slope_in_strips_is_a_way_out_for_what_reaches_it() {
    let slope = (0..=40).map(|i| 0.2 * f64::from(i) / 40.0 - 0.1).map(|z| [-z, z]);
    let outline: Vec<_> = [[-0.1, -0.1]].into_iter().chain(slope).collect();
    let down = -0.02 / 2.0_f64.sqrt();
    assert_depth([&prism(&outline), &ball(0.03)], &at(down, 0.01, down), Depth::Fine, 0.05, FINE);
}

/// An octahedron of 200 mm from corner to corner has inside what is nearer to its middle than 100 mm, x, y and z added up. Places spread
/// evenly, and places straight below corners and edges, where a ray up meets more than one face.
#[test]
fn what_is_inside_a_mesh_is_inside_wherever_a_ray_from_it_meets_edges() {
    let vertices =
        [0, 1, 2].into_iter().flat_map(|axis| [0.1, -0.1].map(|far| Point3::from(Vector3::ith(axis, far))));
    let sides =
        [0, 1].into_iter().flat_map(|x| [2, 3].into_iter().flat_map(move |y| [4, 5].map(|z| (x, y, z))));
    let triangles = sides.map(|(x, y, z)| if (x + y + z) % 2 == 0 { [x, y, z] } else { [y, x, z] });
    let whole = Mesh { vertices: vertices.collect(), triangles: triangles.collect(), closed: true };
    let form = Form::new(&mesh(whole));
    let octahedron = Located { form: &form, placed: &form.place(&Pose::identity()) };
    let grid = (-6..=6).map(|i| 0.02 * f64::from(i));
    let on_grid = grid.clone().flat_map(|x| {
        let grid = grid.clone();
        grid.clone().flat_map(move |y| grid.clone().map(move |z| Vector3::new(x, y, z)))
    });
    let askew = (1..=400).map(|i| Vector3::from([2, 3, 5].map(|base| 0.24 * (halton(i, base) - 0.5))));
    let dot = Form::new(&ball(1e-6));
    for place in on_grid.chain(askew) {
        let beyond = place.abs().sum() - 0.1;
        // What lies on the skin touches it.
        if beyond.abs() > 1e-5 {
            let dot = Located { form: &dot, placed: &dot.place(&at(place.x, place.y, place.z)) };
            let found = octahedron.distance(&dot, 1.0).unwrap();
            assert_eq!(found == 0.0, beyond < 0.0, "{found} m at {place}");
        }
    }
}

/// The box around a solid along the axes of the base frame, by how far it must be from a flat plate to be passed by unseen: a cylinder of
/// 50 mm radius and 400 mm leaning by 30° reaches 200 sin 30° + 50 cos 30° along x; a cone's end of 80 mm radius there
/// 200 sin 30° + 80 cos 30°; a bar with round ends 200 sin 30° + 50.
#[test]
fn the_box_around_a_solid_is_as_wide_as_the_solid() {
    let (sin, cos) = units::deg(30.0).sin_cos();
    let lean = turned_about([0.0, 1.0, 0.0], 30.0);
    let cone = |low: f64, high: f64| Solid::Frustum { radius_low: low, radius_high: high, half_height: 0.2 };
    let block = |half: [f64; 3]| Solid::Box { half: Vector3::from(half) };
    let skin = mesh(box_faces([0.05, 0.02, 0.2], [0.0; 3], false));
    // How far each reaches along +x, and along −x.
    let rows = [
        (Solid::Cylinder { radius: 0.05, half_height: 0.2 }, [0.2 * sin + 0.05 * cos; 2]),
        (cone(0.02, 0.08), [0.2 * sin + 0.08 * cos, 0.2 * sin + 0.02 * cos]),
        (cone(0.08, 0.02), [0.2 * sin + 0.02 * cos, 0.2 * sin + 0.08 * cos]),
        // The wide end reaches farther both ways.
        (cone(0.5, 0.02), [0.5 * cos - 0.2 * sin, 0.2 * sin + 0.5 * cos]),
        (Solid::Capsule { radius: 0.05, half_length: 0.2 }, [0.2 * sin + 0.05; 2]),
        (block([0.05, 0.02, 0.2]), [0.2 * sin + 0.05 * cos; 2]),
        (skin, [0.2 * sin + 0.05 * cos; 2]),
        (ball(0.07), [0.07; 2]),
    ];
    for (solid, reaches) in rows {
        let form = Form::new(&solid);
        let placed = form.place(&(at(0.3, 0.2, 0.1) * lean));
        for (reach, sign) in reaches.into_iter().zip([1.0, -1.0]) {
            let plate = Form::new(&cube(0.1));
            let plate = plate.place(&at(0.3 + sign * (reach + 0.1 + 0.04), 0.2, 0.1));
            for (one, other) in [(&placed, &plate), (&plate, &placed)] {
                assert!(one.farther_than(other, 0.04 - 1e-9), "{solid:?} reaches farther than {reach} m");
                assert!(!one.farther_than(other, 0.04 + 1e-9), "{solid:?} reaches less far than {reach} m");
            }
        }
    }
    // Corner to corner: 30 mm along x and 40 along z are 50.
    let cube = Form::new(&cube(0.1));
    let (one, other) = (cube.place(&Pose::identity()), cube.place(&at(0.23, 0.05, -0.24)));
    assert!(one.farther_than(&other, 0.05 - 1e-9) && !one.farther_than(&other, 0.05 + 1e-9));
}

/// Nearer than a distance is what is nearer than it: a ball of 20 mm over a cube's face, 30 mm apart, and in its skin likewise.
#[test]
fn nearer_than_is_told_on_either_side_of_the_distance() {
    for solid in [cube(0.1), mesh(box_faces([0.1; 3], [0.0; 3], false))] {
        let near =
            |by: f64| both_ways([&solid, &ball(0.02)], &at(0.01, 0.02, 0.15), |a, b| a.nearer_than(b, by));
        assert_eq!([near(0.03 - 1e-9), near(0.03 + 1e-9), near(0.0)], [[false; 2], [true; 2], [false; 2]]);
        let touching = both_ways([&solid, &ball(0.02)], &at(0.01, 0.02, 0.12), |a, b| a.nearer_than(b, 0.0));
        assert_eq!(touching, [true; 2]);
    }
}

/// A pose that is not finite shows nothing, and what is not shown is not clear.
#[test]
fn a_body_at_no_place_is_not_clear_of_anything() {
    let nowhere = at(f64::NAN, 0.0, 0.0);
    assert_eq!(distances([&cube(0.1), &ball(0.02)], &nowhere, 0.1), [Some(0.0); 2]);
}
