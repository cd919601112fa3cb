//! An arm from a URDF is drawn as its visual elements say, link by link, where they are at hand.

use seamwright_sim::cell::Solid;
use seamwright_viewer::show::Show;

/// Six links in a row, each with a ball to touch. Link 1 looks like a box; link 2 like a mesh beside the URDF, in millimetres; link 3
/// like a mesh that is not there, and a box; the others say nothing of their looks.
fn urdf() -> String {
    let visual = |geometry: &str| format!("<visual><geometry>{geometry}</geometry></visual>");
    let looks = |link: usize| match link {
        1 => visual("<box size=\"0.1 0.2 0.3\"/>"),
        2 => visual("<mesh filename=\"package://six/bar.stl\" scale=\"0.001 0.001 0.001\"/>"),
        3 => visual("<mesh filename=\"gone.stl\"/>") + &visual("<box size=\"0.1 0.1 0.1\"/>"),
        _ => String::new(),
    };
    let mut text = String::from("<robot name=\"six\"><link name=\"l0\"/>");
    for i in 1..=6 {
        let axis = ["0 0 1", "0 1 0", "0 1 0", "1 0 0", "0 1 0", "1 0 0"][i - 1];
        let xyz = ["0 0 0.4", "0.1 0 0", "0 0 0.6", "0.2 0 0.1", "0.4 0 0", "0.1 0 0"][i - 1];
        text += &format!(
            "<link name=\"l{i}\">{}<collision><geometry><sphere radius=\"0.02\"/></geometry></collision></link>\
             <joint name=\"j{i}\" type=\"revolute\"><parent link=\"l{}\"/><child link=\"l{i}\"/><origin xyz=\"{xyz}\"/>\
             <axis xyz=\"{axis}\"/><limit lower=\"-2.8\" upper=\"2.8\" effort=\"1\" velocity=\"3\"/></joint>",
            looks(i),
            i - 1
        );
    }
    text + "</robot>"
}

#[test]
fn visual_elements_are_drawn_where_all_of_a_link_are_at_hand_else_its_shapes() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| {
        let file = folder.path().join(name);
        std::fs::create_dir_all(file.parent().unwrap()).unwrap();
        std::fs::write(file, text).unwrap();
    };
    let facet = |corners: [[i32; 3]; 3]| {
        let vertex = corners.map(|[x, y, z]| format!("vertex {x} {y} {z}\n")).concat();
        format!("facet normal 0 0 0\nouter loop\n{vertex}endloop\nendfacet\n")
    };
    let [o, x, y, z] = [[0; 3], [100, 0, 0], [0, 200, 0], [0, 0, 300]];
    let facets = [[o, y, x], [o, x, z], [o, z, y], [x, y, z]].map(facet).concat();
    write("arm/bar.stl", &format!("solid bar\n{facets}endsolid bar\n"));
    write("arm/six.urdf", &urdf());
    let scene = super::scenes().join("gate-bracket/cell.toml");
    let cell = std::fs::read_to_string(scene).unwrap();
    let named = "file = \"../arms/reach-1400.toml\"";
    assert!(cell.contains(named));
    write("cell/cell.toml", &cell.replace(named, "file = \"../arm/six.urdf\""));
    let torch = super::scenes().join("torches/bent-neck.toml");
    write("torches/bent-neck.toml", &std::fs::read_to_string(torch).unwrap());
    let show = Show::load(&folder.path().join("cell/cell.toml")).unwrap_or_else(|problems| {
        panic!("{}", problems.iter().map(|problem| format!("{problem}\n")).collect::<String>())
    });
    let of_link = |link: usize| {
        show.links.iter().filter(|shape| shape.link == link).map(|shape| &shape.solid).collect::<Vec<_>>()
    };
    assert!(of_link(0).is_empty());
    assert!(matches!(of_link(1)[..], [Solid::Box { half }] if (half.y - 0.1).abs() < 1e-12));
    let [Solid::Mesh(mesh)] = of_link(2)[..] else { panic!("{:?}", of_link(2)) };
    let far = mesh.vertices.iter().map(|corner| corner.z).fold(0.0, f64::max);
    assert!((far - 0.3).abs() < 1e-9, "{far} m: its file is in millimetres");
    // One of two is missing: then it is the shape that clearances are measured to.
    for link in 3..=6 {
        assert!(matches!(of_link(link)[..], [Solid::Sphere { .. }]), "{link}: {:?}", of_link(link));
    }
    // Clearances know nothing of looks.
    assert!(show.cell.arm.shapes.iter().all(|shape| matches!(shape.solid, Solid::Sphere { .. })));
}
