use super::*;

fn joint(kind: &str, name: &str, parent: &str, child: &str, inside: &str) -> String {
    format!(
        "<joint name=\"{name}\" type=\"{kind}\"><parent link=\"{parent}\"/><child link=\"{child}\"/>{inside}</joint>"
    )
}

/// A robot of links `l0` to `ln` in a row, with `kinds` of joints `j1` to `jn` between them.
fn row(kinds: &[&str]) -> String {
    let links: String = (0..=kinds.len()).map(|i| format!("<link name=\"l{i}\"/>")).collect();
    let limits = "<origin xyz=\"0 0 0.1\" rpy=\"0.1 0.2 0.3\"/><axis xyz=\"0 1 0\"/>\
                  <limit lower=\"-1\" upper=\"2\" effort=\"0\" velocity=\"3\"/>";
    let joints = kinds.iter().enumerate();
    let joints = joints.map(|(i, kind)| {
        joint(kind, &format!("j{}", i + 1), &format!("l{i}"), &format!("l{}", i + 1), limits)
    });
    format!("<robot name=\"r\">{links}{}</robot>", joints.collect::<String>())
}

const TURNS: [&str; 6] = ["revolute"; 6];

fn error(text: &str, base: Option<&str>, tip: Option<&str>) -> String {
    arm_from_urdf(text, base, tip).expect_err("this must not read").to_string()
}

#[test]
fn fixed_joints_are_folded_in() {
    let kinds =
        ["fixed", "revolute", "revolute", "fixed", "revolute", "revolute", "revolute", "continuous", "fixed"];
    let arm = arm_from_urdf(&row(&kinds), None, None).expect("this reads");
    let step = Pose::from_parts(
        Vector3::new(0.0, 0.0, 0.1).into(),
        UnitQuaternion::from_euler_angles(0.1, 0.2, 0.3),
    );
    assert!((arm.links.origin[0].inverse() * step * step).translation.vector.norm() < 1e-15);
    assert!((arm.links.origin[2].inverse() * step * step).rotation.angle() < 1e-15);
    assert_eq!(arm.links.origin[1], step);
    assert_eq!(arm.links.link6_from_flange, step);
    assert_eq!(arm.axes[0].range, Some(Range { min: -1.0, max: 2.0 }));
    assert_eq!(arm.axes[5].range, None, "a continuous joint has none");
    assert_eq!(arm.axes[5].name, "j8");
}

#[test]
fn a_speed_of_zero_is_missing() {
    let arm = arm_from_urdf(&row(&TURNS).replace("velocity=\"3\"", "velocity=\"0\""), None, None);
    assert_eq!(arm.expect("this reads").axes[0].max_speed, None);
}

#[test]
fn what_a_limit_leaves_open_is_open() {
    for (from, to) in [(" velocity=\"3\"", ""), ("velocity=\"3\"", "velocity=\"inf\"")] {
        let arm = arm_from_urdf(&row(&TURNS).replacen(from, to, 1), None, None).expect("this reads");
        assert_eq!((arm.axes[0].max_speed, arm.axes[1].max_speed), (None, Some(3.0)), "{to}");
        assert_eq!(arm.missing_limits(), ["the URDF gives axis 1 (`j1`) no speed limit"]);
    }
    let endless = row(&TURNS).replacen("lower=\"-1\" upper=\"2\"", "lower=\"-inf\" upper=\"inf\"", 1);
    let arm = arm_from_urdf(&endless, None, None).expect("this reads");
    assert_eq!(arm.missing_limits(), ["the URDF gives axis 1 (`j1`) no range"]);
}

/// What of links and joints has no part in how an arm moves does not keep it from being read; an unsound shape is named.
#[test]
fn what_no_arm_needs_is_passed_over_where_it_is_faulty() {
    let expected = arm_from_urdf(&row(&TURNS), None, None).expect("a row of six");
    for inside in [
        "<inertial><mass value=\"x\"/></inertial>",
        "<inertial><mass value=\"1\"/></inertial>",
        "<visual><origin xyz=\"a b c\"/><geometry><sphere radius=\"1\"/></geometry></visual>",
        "<visual/>",
    ] {
        let text = row(&TURNS).replace("<link name=\"l1\"/>", &format!("<link name=\"l1\">{inside}</link>"));
        let found = arm_from_urdf(&text, None, None).expect(inside);
        assert_eq!(format!("{:?}", found.links), format!("{:?}", expected.links));
        assert!(found.unsound_shapes.is_empty() && found.visuals.is_empty(), "{inside}");
    }
    let dynamics = "<dynamics damping=\"\" friction=\"x\"/><calibration rising=\"?\"/></joint>";
    assert!(arm_from_urdf(&row(&TURNS).replacen("</joint>", dynamics, 1), None, None).is_ok());
    for geometry in ["", "<sphere/>", "<box size=\"1 2\"/>", "<cone radius=\"1\"/>", "<mesh/>"] {
        let sound = "<collision><geometry><sphere radius=\"1\"/></geometry></collision>";
        let shapes = format!("{sound}\n<collision name=\"c\"><geometry>{geometry}</geometry></collision>");
        let text = row(&TURNS).replace("<link name=\"l1\"/>", &format!("<link name=\"l1\">{shapes}</link>"));
        let found = arm_from_urdf(&text, None, None).expect(geometry);
        assert_eq!(found.unsound_shapes, ["l1.c in line 2"], "{geometry}");
        assert_eq!(found.shapes.len(), 1, "{geometry}");
    }
}

#[test]
fn a_text_that_is_cut_off_or_another_file_is_told() {
    let whole = row(&TURNS);
    let cut = whole.trim_end_matches("</robot>");
    assert_eq!(error(cut, None, None), "this is not a URDF: it ends in line 1, before `</robot>`");
    assert_eq!(error("", None, None), "this is not a URDF: it has no element");
    let other = error("<sdf><model/></sdf>", None, None);
    assert_eq!(other, "this is not a URDF: its outermost element is `sdf`, not `robot`");
}

#[test]
fn what_a_joint_has_that_is_no_number_is_named_with_its_line() {
    let with = |from: &str, to: &str| error(&row(&TURNS).replacen(from, to, 1), None, None);
    let told = with("lower=\"-1\"", "lower=\"-1,5\"");
    assert!(told.starts_with("line ") && told.ends_with("is \"-1,5\", not a number"), "{told}");
    let told = with("rpy=\"0.1", "rpy=\"pi/2");
    assert!(told.contains("origin rpy of the joint `j") && told.ends_with("not 3 numbers"), "{told}");
    for parent in ["", "<parent/>", "<parent link=\"\"/>"] {
        let told = with("<parent link=\"l1\"/>", parent);
        assert!(told.starts_with("the joint `j2` in line") && told.ends_with("has no parent"), "{told}");
    }
    let told = with("upper=\"2\"", "upper=\"nan\"");
    assert!(told.contains("limit upper of the joint `j1` is \"nan\""), "{told}");
    let told = with("type=\"revolute\"", "type=\"Revolut\"");
    assert!(told.contains("type of the joint `j1` is \"Revolut\" (`revolute`?)"), "{told}");
    assert!(with(" name=\"j1\"", "").starts_with("the joint in line 1 has no name"));
    assert!(with(" name=\"l1\"", "").starts_with("the link in line 1 has no name"));
    let told = with("<axis", "<origin xyz=\"0 0 0\"/><axis");
    assert!(told.ends_with("the joint `j1` has a second `origin`"), "{told}");
    assert!(with("name=\"j2\"", "name=\"j1\"").starts_with("two joints are named `j1`, the second in line"));
    let told = with("velocity=\"3\"", "velocity=\"-3\"");
    assert_eq!(told, "line 1: the joint `j1` has a speed limit of -3 rad/s");
}

/// Each joint in a line of its own: links before them in the first.
#[test]
fn a_fault_that_only_the_whole_file_shows_is_told_with_its_line() {
    let lines =
        row(&TURNS).replace("<joint", "\n<joint").replace("<link name=\"l5\"/>", "\n<link name=\"l5\"/>");
    let with = |from: &str, to: &str| {
        let found = arm_from_urdf(&lines.replace(from, to), None, None).expect_err(to);
        assert!(found.hint().is_some(), "{found}");
        found.to_string()
    };
    let third = "<child link=\"l3\"/><origin xyz=\"0 0 0.1\" rpy=\"0.1 0.2 0.3\"/><axis xyz=\"0 1 0\"/>";
    let axis = |xyz: &str| third.replace("0 1 0", xyz);
    // The links take two lines, the third joint stands in the fifth.
    assert!(with(third, &axis("0 0 0")).starts_with("line 5: the axis of the joint `j3`"));
    assert!(with(third, &third.replace("0 0 0.1", "0 0 2000")).starts_with("line 5: the origin of"));
    assert!(with(third, &third.replace("l3", "l33")).starts_with("line 5: the joint `j3` names the link"));
    assert!(with(third, &third.replace("l3", "l2")).starts_with("line 5: the link `l2` is carried by more"));
    assert!(with("l6", "l5").starts_with("line 2: two links are named `l5`"));
    assert!(
        with("\"j3\" type=\"revolute\"", "\"j3\" type=\"prismatic\"").starts_with("line 5: the joint `j3`")
    );
}

#[test]
fn what_a_joint_leaves_to_the_format_is_told() {
    let with = |from: &str, to: &str| {
        let arm = arm_from_urdf(&row(&TURNS).replacen(from, to, 1), None, None).expect(to);
        arm.left_to_the_format
    };
    assert!(with("", "").is_empty());
    let told = with("<axis xyz=\"0 1 0\"/>", "");
    assert!(told.len() == 1 && told[0].contains("`j1` in line 1 has no axis"), "{told:?}");
    let told = with("lower=\"-1\" ", "");
    assert!(told.len() == 1 && told[0].contains("no lower end"), "{told:?}");
    let soft = |ends: &str| with("</joint>", &format!("<safety_controller {ends}/></joint>"));
    assert!(soft("soft_lower_limit=\"-1\" soft_upper_limit=\"2\"").is_empty());
    let told = soft("soft_lower_limit=\"-0.5\" soft_upper_limit=\"2\"");
    assert!(told.len() == 1 && told[0].contains("soft limits of -28.6 to 114.6 degrees"), "{told:?}");
}

#[test]
fn what_is_not_six_turning_joints_is_named() {
    let mut kinds = TURNS;
    kinds[2] = "prismatic";
    assert!(error(&row(&kinds), None, None).contains("`j3` is sliding"));
    assert!(error(&row(&["revolute"; 7]), None, None).contains("7 moving joints"));
    let mimic = row(&TURNS).replacen("</joint>", "<mimic joint=\"j2\"/></joint>", 1);
    assert!(error(&mimic, None, None).contains("`j1` is one that follows another"));
    assert!(error(&row(&TURNS).replace("0 1 0", "0 0 0"), None, None).contains("has no length"));
    assert!(error(&row(&TURNS).replace("0 1 0", "1e7 0 0"), None, None).contains("absurd"));
    let reversed = error(&row(&TURNS).replacen("lower=\"-1\"", "lower=\"2.5\"", 1), None, None);
    assert!(reversed.contains("`j1`") && reversed.contains("2.5 rad"), "{reversed}");
    assert!(error(&row(&TURNS), Some("l9"), None).contains("`l9`"));
    assert!(error(&row(&TURNS), Some("l3"), Some("l1")).contains("no chain"));
}

#[test]
fn a_chain_is_chosen_where_only_one_will_do() {
    let fork = |kind| {
        let other = joint(kind, "k", "l5", "other", "<axis xyz=\"1 0 0\"/>");
        row(&TURNS).replace("</robot>", &format!("<link name=\"other\"/>{other}</robot>"))
    };
    let arm = arm_from_urdf(&fork("fixed"), None, None).expect("only one end has six");
    assert_eq!(arm.axes[5].name, "j6");
    let both = error(&fork("revolute"), None, None);
    assert!(
        both.contains("6 moving joints to `l6`") && both.contains("6 moving joints to `other`"),
        "{both}"
    );
    let arm = arm_from_urdf(&fork("revolute"), None, Some("other")).expect("the tip is named");
    assert_eq!(arm.axes[5].name, "k");
}

/// What is wrong with the file comes before what could not be found for it.
#[test]
fn a_file_that_does_not_hang_together_is_told_where() {
    let doubled = row(&TURNS).replace("<link name=\"l3\"/>", "<link name=\"l3\"/><link name=\"l3\"/>");
    assert_eq!(error(&doubled, None, None), "line 1: two links are named `l3`");
    let missing = row(&TURNS).replace("<child link=\"l3\"/>", "<child link=\"l33\"/>");
    let missing = error(&missing, None, None);
    assert!(missing.contains("`j3` names the link `l33`") && missing.contains("(`l3`?)"), "{missing}");
    let parent = row(&TURNS).replace("<parent link=\"l0\"/>", "<parent link=\"floor\"/>");
    assert!(error(&parent, None, None).contains("`j1` names the link `floor`"));
    assert!(error(&row(&["revolute"]), None, None).contains("there is 1 moving joint (`j1`), not six"));
}

#[test]
fn millimetres_are_told() {
    let arm = |length: &str| arm_from_urdf(&row(&TURNS).replace("0 0 0.1", length), None, None);
    let sentence = arm("0 0 250").expect("this reads").evidently_in_millimetres();
    assert!(sentence.expect("1500 m in all").contains("1500 m long in all"));
    assert_eq!(arm("0 0 0.25").expect("this reads").evidently_in_millimetres(), None);
    let too_long = arm("0 1250 0").expect_err("this is no arm");
    assert!(too_long.to_string().contains("`j1` is 1250 m away"), "{too_long}");
    assert!(too_long.hint().expect("there is one").contains("metres"));
    assert!(matches!(arm("0 inf 0"), Err(UrdfError::NoNumber { .. })));
}

#[test]
fn broken_trees_are_errors() {
    let circle = row(&TURNS).replace("<child link=\"l6\"/>", "<child link=\"l0\"/>");
    let circle = circle.replace("<link name=\"l6\"/>", "");
    assert!(error(&circle, None, None).contains("joints run in a circle"));
    let loose = row(&TURNS).replace("<parent link=\"l0\"/>", "<parent link=\"l6\"/>");
    assert!(error(&loose, Some("l0"), Some("l6")).contains("no chain"));
    let beside = row(&TURNS).replace("</robot>", "<link name=\"alone\"/></robot>");
    assert_eq!(arm_from_urdf(&beside, None, None).expect("a link by itself is no foot").base, "l0");
    let other = joint("revolute", "k", "foot", "hand", "<axis xyz=\"1 0 0\"/>");
    let two = row(&TURNS)
        .replace("</robot>", &format!("<link name=\"foot\"/><link name=\"hand\"/>{other}</robot>"));
    assert!(error(&two, None, None).contains("`l0`, `foot`"));
    assert_eq!(arm_from_urdf(&two, None, Some("l6")).expect("the tip tells the base").base, "l0");
    let twice = row(&TURNS).replace("<child link=\"l3\"/>", "<child link=\"l2\"/>");
    assert!(error(&twice, Some("l0"), Some("l2")).contains("more than one joint"));
    assert!(error("<robot name=\"r\"></robot>", None, None).contains("no link"));
    assert!(matches!(arm_from_urdf("not xml", None, None), Err(UrdfError::Unreadable { .. })));
    assert!(matches!(arm_from_urdf(&"<a>".repeat(100_000), None, None), Err(UrdfError::Unreadable { .. })));
    let macros = "<robot name=\"r\" xmlns:xacro=\"x\"><xacro:include filename=\"a\"/></robot>";
    assert_eq!(error(macros, None, None), UrdfError::Macros.to_string());
}

#[test]
fn degrees_and_locked_joints_are_told() {
    let with = |from: &str, to: &str| error(&row(&TURNS).replacen(from, to, 1), None, None);
    assert!(with("lower=\"-1\" upper=\"2\"", "lower=\"-170\" upper=\"170\"").contains("angle of -170"));
    assert!(with("rpy=\"0.1", "rpy=\"90").contains("angle of 90"));
    assert!(with("lower=\"-1\" upper=\"2\"", "lower=\"0.5\" upper=\"0.5\"").contains("locked at 0.5"));
}

/// XML 1.0: a comment is no element. What other programs add has a prefix, which a URDF need not declare.
#[test]
fn what_other_programs_left_in_a_file_is_passed_over() {
    let bare = row(&TURNS);
    let expected = arm_from_urdf(&bare, None, None).expect("a row of six");
    let limit = "<limit lower";
    let marked = bare
        .replace("</robot>", "<!-- <xacro:leg a=\"1\"/> --><other:link name=\"l3\"/></robot>")
        .replace(limit, "<limit other:jerk='a:b' lower")
        .replace(
            "<link name=\"l1\"/>",
            "<link name=\"l1\"><visual><geometry><sphere radius=\"1\"/></geometry><material name=\"m\"><texture/></material></visual></link>",
        );
    for text in [marked.clone(), marked.replace("<robot", "<robot xmlns:other=\"x\"")] {
        let found = arm_from_urdf(&text, None, None).expect("the same arm");
        assert_eq!(format!("{:?}", found.links), format!("{:?}", expected.links));
        assert_eq!(format!("{:?}", found.axes), format!("{:?}", expected.axes));
    }
    let broken = error(&bare.replace("<link name=\"l2\"/>", "\n<link name=\"l2\">"), None, None);
    assert!(broken.contains("line 2"), "{broken}");
}
