//! Decides what a procedure says, and what a seam changes in it.

use std::ops::RangeInclusive;

use seamwright_kinematics::document::Table;

use super::Reading;
use super::aims::{self, FLATTEST_TRAVEL_DEG, LEAST_CTWD_MM};
use super::elements;
use super::fit_up;
use super::names::Catalogue;
use super::place;
use super::sequence;
use super::settings::settings;
use crate::cell::weld_metal::{fillet_section, leg_of_throat, speed_to_fill};
use crate::cell::{
    Band, Bands, Corners, Ends, FilletSize, Offset, Pass, Position, Procedure, Settings, Tracked, Weave,
    WeaveShape,
};
use crate::units;

/// More passes of one weld are a slip of the pen.
const MOST_PASSES: usize = 100;
/// A pass lies no farther off the root, mm.
const MOST_OFFSET_MM: f64 = 100.0;
const TRAVEL_SPEED_MM_S: RangeInclusive<f64> = 0.1..=200.0;

/// Reads all `[[procedure]]` tables.
pub(super) fn read_all(reading: &Reading<'_>, root: &Table<'_>) -> Catalogue<Procedure> {
    let mut procedures = Catalogue::new("procedure");
    for table in root.tables("procedure") {
        let name = procedures.claim(&table);
        let (mut assumed, mut of_settings) = (Vec::new(), Vec::new());
        let settings = settings(&table, &mut of_settings);
        let fills = fills(&table, settings.as_ref());
        let procedure = values(&table, Whose::Procedure { assumed: &mut assumed, fills });
        assumed.append(&mut of_settings);
        let arc = elements::arc(&table);
        let near_part = elements::near_part(&table);
        let passes = passes(&table, procedure.as_ref());
        table.finish();
        let Some(name) = name else { continue };
        if !assumed.is_empty() {
            let assumed = assumed.join(", ");
            reading.note(format!("procedure {name}: assumed {assumed} (common practice, no source)"));
        }
        if let Some(speed) = fills {
            reading.note(format!(
                "procedure {name}: travel_speed_mm_s = {:.2} is worked out: at it the wire fills the weld asked for",
                units::to_mm(speed)
            ));
        }
        procedures.add(
            name.clone(),
            procedure.map(|procedure| Procedure { name, settings, passes, arc, near_part, ..procedure }),
        );
    }
    procedures
}

/// Whose table it is that the values stand in.
pub(super) enum Whose<'p> {
    /// A procedure's own.
    Procedure {
        /// Here is listed what it leaves out, which is assumed.
        assumed: &'p mut Vec<String>,
        /// Travel speed (m/s) where it does not state one and its settings and size of weld give it.
        fills: Option<f64>,
    },
    /// A seam's, which may change any value of its procedure; `None` where that one is unsound.
    Seam(Option<&'p Procedure>),
}

/// A procedure's values.
pub(super) fn values(table: &Table<'_>, mut whose: Whose<'_>) -> Option<Procedure> {
    let base = match &whose {
        Whose::Seam(base) => *base,
        Whose::Procedure { .. } => None,
    };
    let fills = match &whose {
        Whose::Procedure { fills, .. } => *fills,
        Whose::Seam(_) => None,
    };
    type Value = fn(&Procedure) -> f64;
    let (deg, mm, seconds): (Si, Si, Si) = (units::deg, units::mm, |seconds| seconds);
    let mut tolerance = |key: &str, greatest: f64, si: Si, of: fn(&Procedure) -> Band, usual: f64| {
        let written = match &mut whose {
            Whose::Procedure { assumed, .. } if !table.has(key) => {
                table.excuse(key);
                assumed.push(format!("{key} = {usual}"));
                Some([usual, usual])
            }
            _ => table.opt_pair(key, 0.0..=greatest),
        };
        written.map(|sides| sides.map(si)).or(base.map(|base| [of(base).below, of(base).above]))
    };
    let work_tolerance = tolerance("work_tolerance_deg", 45.0, deg, |p| p.work, 5.0);
    let travel_tolerance = tolerance("travel_tolerance_deg", 40.0, deg, |p| p.travel, 5.0);
    let ctwd_tolerance = tolerance("ctwd_tolerance_mm", 20.0, mm, |p| p.ctwd, 2.0);
    let mut value = |key: &str, bounds: RangeInclusive<f64>, si: Si, of: Value, usual: Option<f64>| {
        let written = match (&mut whose, usual) {
            (Whose::Procedure { .. }, None) => table.number(key, bounds),
            (Whose::Procedure { assumed, .. }, Some(usual)) if !table.has(key) => {
                table.excuse(key);
                assumed.push(format!("{key} = {usual}"));
                Some(usual)
            }
            _ => table.opt_number(key, bounds),
        };
        written.map(si).or(base.map(of))
    };
    let work = value("work_deg", aims::WORK_DEG, deg, |p| p.work.aim, None);
    let travel = value("travel_deg", aims::TRAVEL_DEG, deg, |p| p.travel.aim, None);
    let ctwd = value("ctwd_mm", aims::CTWD_MM, mm, |p| p.ctwd.aim, None);
    let travel_speed =
        fills.or_else(|| value("travel_speed_mm_s", TRAVEL_SPEED_MM_S, mm, |p| p.travel_speed, None));
    let corner_zone = value("corner_zone_mm", 0.1..=200.0, mm, |p| p.corner_zone, Some(8.0));
    let approach = value("approach_mm", 1.0..=1000.0, mm, |p| p.approach, Some(50.0));
    let retract = value("retract_mm", 1.0..=1000.0, mm, |p| p.retract, Some(50.0));
    let approach_speed = value("approach_speed_mm_s", 1.0..=2000.0, mm, |p| p.approach_speed, Some(100.0));
    let stitch_lift = value("stitch_lift_mm", 0.5..=500.0, mm, |p| p.stitch_lift, Some(15.0));
    let gas_before = value("gas_before_s", 0.0..=30.0, seconds, |p| p.gas_before, Some(0.3));
    let arc_start = value("arc_start_s", 0.0..=30.0, seconds, |p| p.arc_start, Some(0.4));
    let crater = value("crater_s", 0.0..=30.0, seconds, |p| p.crater, Some(0.5));
    let gas_after = value("gas_after_s", 0.0..=30.0, seconds, |p| p.gas_after, Some(0.5));
    let plain = |key: &str, most: f64, of: Value| {
        table.opt_number(key, 0.0..=most).map(mm).or(base.map(of)).unwrap_or(0.0)
    };
    let leads = [plain("lead_in_mm", 200.0, |p| p.leads[0]), plain("lead_out_mm", 200.0, |p| p.leads[1])];
    let crater_back = plain("crater_back_mm", 100.0, |p| p.crater_back);
    let clear_of_corners = plain("clear_of_corners_mm", 1000.0, |p| p.clear_of_corners);
    let clear_of_tacks = plain("clear_of_tacks_mm", 1000.0, |p| p.clear_of_tacks);
    let corners = corners(table).or(base.map(|base| base.corners)).unwrap_or(Corners::Follow);
    if corners == Corners::Stop && clear_of_corners > 0.0 {
        let key = if table.has("clear_of_corners_mm") { "clear_of_corners_mm" } else { "corners" };
        let right = "leave one of the two out".to_owned();
        table.problem(key, "the arc cannot stop at corners and keep clear of them", right);
    }
    let turn = turn(table, base.and_then(|base| base.turn));
    let allowed = fit_up::allowed(table, base.map(|base| base.allowed));
    let cooling = sequence::cooling(table, base.and_then(|base| base.cooling));
    let positions = positions(table).or(base.map(|base| base.positions.clone())).unwrap_or_default();
    let weave = weave(table).or(base.and_then(|base| base.weave));
    let tracks = [("arc", Tracked::Arc), ("sensor", Tracked::Sensor)];
    let tracked = table.opt_choice("track", &tracks).or(base.and_then(|base| base.tracked));
    let band = |aim: Option<f64>, tolerance: Option<[f64; 2]>| {
        let [below, above] = tolerance?;
        Some(Band { aim: aim?, below, above })
    };
    let bands = (band(work, work_tolerance), band(travel, travel_tolerance), band(ctwd, ctwd_tolerance));
    let (Some(work), Some(travel), Some(ctwd)) = bands else {
        // Whether they are wide enough cannot be asked then.
        ENDS_KEYS.iter().for_each(|key| table.excuse(key));
        return None;
    };
    let bands = Bands { work, travel, ctwd };
    let ends = ends(table, &bands, base.and_then(|base| base.ends.as_ref()));
    check_bands(table, &bands, "");
    if let Some(ends) = &ends {
        check_bands(table, &ends.bands, "ends_");
    }
    Some(Procedure {
        name: base.map(|base| base.name.clone()).unwrap_or_default(),
        work: bands.work,
        travel: bands.travel,
        ctwd: bands.ctwd,
        ends,
        positions,
        travel_speed: travel_speed?,
        turn,
        corners,
        corner_zone: corner_zone?,
        approach: approach?,
        retract: retract?,
        approach_speed: approach_speed?,
        stitch_lift: stitch_lift?,
        gas_before: gas_before?,
        arc_start: arc_start?,
        crater: crater?,
        gas_after: gas_after?,
        arc: base.map(|base| base.arc).unwrap_or_default(),
        near_part: base.and_then(|base| base.near_part),
        allowed,
        settings: base.and_then(|base| base.settings),
        passes: base.map(|base| base.passes.clone()).unwrap_or_default(),
        interpass: 0.0,
        cooling,
        leads,
        crater_back,
        clear_of_corners,
        clear_of_tacks,
        weave,
        tracked,
    })
}

type Si = fn(f64) -> f64;

/// Travel speed (m/s) of a procedure that states none but what it melts and the fillet that this is to fill in one pass.
fn fills(table: &Table<'_>, settings: Option<&Settings>) -> Option<f64> {
    let key = "travel_speed_mm_s";
    if table.has(key) || table.has("pass") {
        return None;
    }
    let Settings { wire_diameter, wire_feed, efficiency, size, .. } = settings?;
    let leg = match (*size)? {
        FilletSize::Leg(leg) => leg,
        FilletSize::Throat(throat) => leg_of_throat(throat),
    };
    let speed = speed_to_fill(fillet_section(leg), *wire_diameter, *wire_feed, efficiency.value);
    table.excuse(key);
    let mm_s = units::to_mm(speed);
    if !TRAVEL_SPEED_MM_S.contains(&mm_s) {
        let wrong =
            format!("this wire fills the weld asked for at {mm_s:.2} mm/s, which no torch travels at");
        let right = format!("correct wire_feed_m_min, wire_diameter_mm or the size, or write {key}");
        table.problem(key, wrong, right);
    }
    Some(speed)
}

/// That the torch keeps off the work and does not lie down on it; `prefix` of the keys that may be at fault.
fn check_bands(table: &Table<'_>, Bands { travel, ctwd, .. }: &Bands, prefix: &str) {
    if aims::too_near(ctwd) {
        let wrong = format!("less than {LEAST_CTWD_MM} mm would be left between tip and work");
        table.problem(&format!("{prefix}ctwd_tolerance_mm"), wrong, "make it smaller".to_owned());
    }
    if aims::too_flat(travel) {
        let wrong =
            format!("the torch may lean along the seam by more than {FLATTEST_TRAVEL_DEG} degrees then");
        table.problem(&format!("{prefix}travel_tolerance_deg"), wrong, "make it smaller".to_owned());
    }
}

/// How far the ends of each weld reach, and their tolerances.
const ENDS_KEYS: [&str; 4] =
    ["ends_mm", "ends_work_tolerance_deg", "ends_travel_tolerance_deg", "ends_ctwd_tolerance_mm"];

/// Tolerances near the ends of each weld; what is not said there is as elsewhere.
fn ends(table: &Table<'_>, elsewhere: &Bands, base: Option<&Ends>) -> Option<Ends> {
    let [length_key, tolerances @ ..] = ENDS_KEYS;
    let length = table.opt_number(length_key, 0.1..=1000.0).map(units::mm).or(base.map(|base| base.length));
    let band = |key: &str, greatest: f64, si: Si, elsewhere: Band, base: Option<Band>| {
        let written = table.opt_pair(key, 0.0..=greatest).map(|sides| sides.map(si));
        let Some([below, above]) = written.or(base.map(|base| [base.below, base.above])) else {
            return elsewhere;
        };
        if table.has(key) && (below < elsewhere.below || above < elsewhere.above) {
            let wrong = "this is narrower than the tolerance of the rest of the weld";
            table.problem(key, wrong, "make it as wide on either side, or wider".to_owned());
        }
        Band { below: below.max(elsewhere.below), above: above.max(elsewhere.above), ..elsewhere }
    };
    let of = base.map(|base| base.bands);
    let bands = Bands {
        work: band(tolerances[0], 45.0, units::deg, elsewhere.work, of.map(|of| of.work)),
        travel: band(tolerances[1], 40.0, units::deg, elsewhere.travel, of.map(|of| of.travel)),
        ctwd: band(tolerances[2], 20.0, units::mm, elsewhere.ctwd, of.map(|of| of.ctwd)),
    };
    let written = tolerances.iter().find(|key| table.has(key));
    match (length, written) {
        (None, Some(key)) if !table.has(length_key) => {
            let right = "write ends_mm as well: how far from each end of a weld it holds".to_owned();
            table.problem(key, "it is not said how far the ends reach", right);
        }
        (Some(_), None) if base.is_none() => {
            let right = format!("write {} or another of them as well", tolerances[0]);
            table.problem("ends_mm", "it is not said what tolerance holds at the ends", right);
        }
        _ => {}
    }
    length.map(|length| Ends { length, bands })
}

/// The positions allowed; `None` where nothing is said.
fn positions(table: &Table<'_>) -> Option<Vec<Position>> {
    if !table.has("positions") {
        table.excuse("positions");
        return None;
    }
    let mut positions = Vec::new();
    let sound = table.problems().count();
    let written = table.texts("positions");
    if written.is_empty() && table.problems().count() == sound {
        let right = "name at least one, or leave it out: any is allowed then".to_owned();
        table.problem("positions", "no position is allowed", right);
    }
    for word in written {
        match Position::ALL.iter().find(|(name, _)| *name == word) {
            Some((_, position)) => positions.push(*position),
            None if word == "vertical" => positions.extend([Position::VerticalUp, Position::VerticalDown]),
            None => {
                let words: Vec<&str> = Position::ALL.iter().map(|(name, _)| *name).collect();
                let right = format!("write `{}` or `vertical`", words.join("`, `"));
                table.problem("positions", format!("`{word}` is no position"), right);
            }
        }
    }
    positions.sort_unstable();
    positions.dedup();
    Some(positions)
}

/// Passes of their own, from the first on; `procedure` is what they change.
fn passes(procedure: &Table<'_>, of: Option<&Procedure>) -> Vec<Pass> {
    let mut passes = Vec::new();
    for (index, table) in procedure.tables("pass").into_iter().enumerate() {
        let mm = |key, bounds| table.opt_number(key, bounds).map(units::mm);
        let deg = |key, bounds| table.opt_number(key, bounds).map(units::deg);
        let pass = Pass {
            offset: Offset {
                n1: mm("offset_n1_mm", 0.0..=MOST_OFFSET_MM).unwrap_or(0.0),
                b: mm("offset_b_mm", -MOST_OFFSET_MM..=MOST_OFFSET_MM).unwrap_or(0.0),
            },
            work: deg("work_deg", aims::WORK_DEG),
            travel: deg("travel_deg", aims::TRAVEL_DEG),
            ctwd: mm("ctwd_mm", aims::CTWD_MM),
            travel_speed: mm("travel_speed_mm_s", TRAVEL_SPEED_MM_S),
            interpass: table.opt_number("interpass_s", place::DURATIONS_S).unwrap_or(0.0),
            weave: weave(&table),
        };
        if index == 0 && pass.interpass > 0.0 {
            let right = "leave it out: before the first pass there is none".to_owned();
            table.problem("interpass_s", "the first pass has none to wait for", right);
        }
        if let Some(of) = of {
            let Procedure { work, travel, ctwd, .. } = of.of_pass(&pass);
            check_bands(&table, &Bands { work, travel, ctwd }, "");
        }
        table.finish();
        passes.push(pass);
    }
    if passes.len() > MOST_PASSES {
        let right = "give a procedure of its own to each group of passes".to_owned();
        procedure.problem("pass", format!("these are {} passes", passes.len()), right);
        passes.truncate(MOST_PASSES);
    }
    passes
}

/// A `weave` table; `None` where there is none or it is unsound.
fn weave(table: &Table<'_>) -> Option<Weave> {
    let table = table.opt_table("weave")?;
    let shapes = [("sine", WeaveShape::Sine), ("triangle", WeaveShape::Triangle)];
    let shape = table.choice("shape", &shapes);
    let amplitude = table.number("amplitude_mm", 0.01..=30.0).map(units::mm);
    let wavelength = table.number("wavelength_mm", 0.2..=100.0).map(units::mm);
    let dwell = table.opt_pair("dwell_s", 0.0..=10.0).unwrap_or([0.0; 2]);
    table.finish();
    Some(Weave { shape: shape?, amplitude: amplitude?, wavelength: wavelength?, dwell })
}

/// What the torch does at corners; `None` where nothing is said.
fn corners(table: &Table<'_>) -> Option<Corners> {
    #[derive(Clone, Copy)]
    enum Word {
        Follow,
        Round,
        Stop,
    }
    let words = [("follow", Word::Follow), ("round", Word::Round), ("stop", Word::Stop)];
    let word = table.opt_choice("corners", &words);
    let radius = table.opt_number("corner_radius_mm", 0.1..=1000.0).map(units::mm);
    match (word, radius) {
        (Some(Word::Round), Some(radius)) => Some(Corners::Round(radius)),
        (Some(Word::Round), None) => {
            if !table.has("corner_radius_mm") {
                let right = "write the radius of the arc round the corners".to_owned();
                table.problem("corner_radius_mm", "this key is missing", right);
            }
            None
        }
        (_, Some(_)) => {
            let right = "write corners = \"round\" as well, or leave it out".to_owned();
            table.problem("corner_radius_mm", "corners are not rounded", right);
            None
        }
        (Some(Word::Follow), None) => Some(Corners::Follow),
        (Some(Word::Stop), None) => Some(Corners::Stop),
        (None, None) => None,
    }
}

fn turn(table: &Table<'_>, base: Option<Band>) -> Option<Band> {
    let aim = table.opt_number("turn_deg", place::ANGLES_DEG).map(units::deg);
    let tolerance = table.opt_pair("turn_tolerance_deg", 0.0..=180.0).map(|sides| sides.map(units::deg));
    let aim = aim.or(base.map(|base| base.aim));
    if aim.is_none() && !table.has("turn_deg") && tolerance.is_some() {
        let right = "write turn_deg as well, or leave it out: the turn is free then".to_owned();
        table.problem("turn_tolerance_deg", "there is no turn_deg that it could belong to", right);
    }
    let [below, above] = tolerance.or(base.map(|base| [base.below, base.above])).unwrap_or([0.0; 2]);
    aim.map(|aim| Band { aim, below, above })
}
