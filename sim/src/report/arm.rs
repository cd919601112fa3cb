//! Decides how what is said of an arm by itself stands on the screen and in a table.

use std::fmt::Write;

use super::page::{Page, STRONG};
use super::tables;
use crate::findings::words::{LengthUnit, angle, fixed};
use crate::findings::{ArmFindings, Placed, ReachFindings, Stand, WaysToPose};

/// The head of the table of solutions.
pub const WAYS_HEAD: &str = "pose,solution,axis1_deg,axis2_deg,axis3_deg,axis4_deg,axis5_deg,axis6_deg,in_range,singular,\
                             free_axis,shoulder,elbow,wrist\n";

/// The whole text: what the arm is or, where it was asked for, how it stands.
#[must_use]
pub fn text(arm: &ArmFindings) -> String {
    let mut page = Page::new(LengthUnit::Millimetre);
    page.line(&format!("{STRONG}{}{STRONG:#}", arm.name));
    match &arm.stands {
        Some(stand) => page.stand(stand),
        None => page.description(arm),
    }
    page.text
}

/// Adds rows to the table of solutions, one a solution. Every number reads back as exactly the one that was found.
pub fn write_ways(ways: &WaysToPose, text: &mut String) {
    for (number, way) in ways.solutions.iter().enumerate() {
        // Writing into a String cannot fail.
        let _ = write!(text, "{},{number}", ways.pose);
        for axis in way.axes_deg {
            let _ = write!(text, ",{axis}");
        }
        let _ = write!(text, ",{},{},", way.in_range, way.singular);
        if let Some(axis) = way.free_axis {
            let _ = write!(text, "{axis}");
        }
        for word in [&way.shoulder, &way.elbow, &way.wrist] {
            text.push(',');
            text.push_str(word.as_deref().unwrap_or_default());
        }
        text.push('\n');
    }
}

impl Page {
    fn description(&mut self, arm: &ArmFindings) {
        match (&arm.geometry, &arm.not_solved) {
            (Some(geometry), _) => self.wrapped("Geometry", geometry),
            (None, reason) => {
                let reason = reason.as_deref().unwrap_or_default();
                let what = format!("axis values for a given pose cannot be found: {reason}");
                self.wrapped("Geometry", &what);
            }
        }
        if let Some((base, flange)) = arm.base_link.as_ref().zip(arm.flange_link.as_ref()) {
            self.wrapped("URDF links", &format!("`{base}` is the base, `{flange}` the flange"));
        }
        let home = arm.home_deg.map_or_else(|| "not stated".to_owned(), |home| numbers(&home, 3) + " °");
        self.wrapped("Home", &home);
        if let Some(load) = arm.rated_load_kg {
            self.wrapped("Load", &format!("at most {} kg on the flange", fixed(load, 1)));
        }
        let check = if arm.check_pose_agrees { "agrees with the geometry" } else { "none in the file" };
        self.wrapped("Check pose", check);
        for (index, reach) in arm.reach.iter().enumerate() {
            let heading = if index == 0 { "Reach" } else { "" };
            self.wrapped(heading, &reach_sentence(reach));
        }
        self.heading("Axes");
        self.table(&tables::axes(&arm.axes));
        if arm.axes.iter().any(|axis| axis.acceleration_assumed || axis.jerk_assumed) {
            self.line("* assumed");
        }
        if !arm.motors.is_empty() {
            self.heading("Motors, each of which may turn several axes");
            self.table(&tables::motors(&arm.motors));
        }
        for dependent in &arm.dependent_ranges {
            self.heading(&format!("Range of axis {} as axis {} stands", dependent.axis, dependent.by_axis));
            self.table(&tables::dependent_range(dependent));
        }
        if !arm.assumed.is_empty() {
            self.list("What this rests on", &arm.assumed);
        }
    }

    fn stand(&mut self, stand: &Stand) {
        self.wrapped("Axes", &format!("{} °", numbers(&stand.axes_deg, 6)));
        if let Some(motors) = &stand.motors_deg {
            self.wrapped("Motors", &format!("{} °", numbers(motors, 6)));
        }
        if let Some(outside) = &stand.outside {
            let words = format!("{} is {} outside its range", outside.what, angle(outside.by_deg));
            self.wrapped("", &words);
        }
        self.placed("Flange", &stand.flange);
        if let Some(tool) = &stand.tool {
            self.placed("Tool", tool);
        }
        let words: Vec<&str> =
            [&stand.shoulder, &stand.elbow, &stand.wrist].into_iter().flatten().map(String::as_str).collect();
        self.line("");
        let stands = if words.is_empty() { "no words for this geometry".to_owned() } else { words.join(" ") };
        self.wrapped("Stands", &stands);
        let singular: Vec<String> = [
            stand.wrist_opening_deg.map(|deg| format!("wrist {} from straight", angle(deg))),
            stand.elbow_opening_deg.map(|deg| format!("elbow {} from stretched or folded", angle(deg))),
            stand.wrist_to_axis1_mm.map(|mm| format!("wrist centre {} from axis 1", self.unit.distance(mm))),
        ]
        .into_iter()
        .flatten()
        .collect();
        if !singular.is_empty() {
            self.wrapped("Singular", &singular.join(", "));
        }
        self.heading("Links in the base frame");
        self.table(&tables::links(&stand.links));
    }

    fn placed(&mut self, what: &str, placed: &Placed) {
        self.line("");
        self.wrapped(what, &format!("position x, y, z mm       {}", numbers(&placed.position_mm, 6)));
        self.wrapped("", &format!("quaternion w, x, y, z     {}", numbers(&placed.quaternion_wxyz, 9)));
        self.wrapped("", &format!("rotation z, y, x °        {}", numbers(&placed.rotation_zyx_deg, 6)));
    }
}

fn reach_sentence(reach: &ReachFindings) -> String {
    let [radius, lowest, highest, resolution, bound] = [
        reach.radius_mm,
        reach.lowest_mm,
        reach.highest_mm,
        reach.resolution_mm,
        // Up, as it is a bound.
        (reach.radius_bound_mm * 10.0).ceil() / 10.0,
    ]
    .map(|mm| fixed(mm, 1));
    format!(
        "{}: {radius} mm from axis 1, {lowest} to {highest} mm high, found to within {resolution} mm; certainly not \
         beyond {bound} mm from axis 1",
        reach.point
    )
}

fn numbers(values: &[f64], decimals: usize) -> String {
    values.iter().map(|value| fixed(*value, decimals)).collect::<Vec<_>>().join(", ")
}
