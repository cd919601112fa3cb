//! Decides what is said of what was not checked of people's safety, and of what the rest of it rests on.

use nalgebra::Point3;
use seamwright_kinematics::units::{to_mm, to_percent};

use super::safety::WayInFindings;
use super::safety_device::DeviceFindings;
use super::safety_guard::{GuardFindings, less_than_the_table};
use super::words::{LengthUnit, counted, fixed};
use crate::cell::{Active, Cell, Device, Solid, StopCategory, StopPlace, Zone, ZoneRole};
use crate::safety::extent::{corners, signed_distance};
use crate::safety::front::are_guards_known;
use crate::safety::stopping::{ASSUMED_BRAKE_REACTION, ASSUMED_REACTION, Stops};
use crate::safety::{Safety, watch};
use crate::units;

/// Higher than this a field leaves room to crawl under, mm: ISO 13855:2010 as Leuze prints it.
const CRAWLING_MM: f64 = 300.0;

/// How far a whole arm reaches, mm: ISO 13857:2019, by GT-Engineering's pages on it.
const WHOLE_ARM_MM: f64 = 850.0;

/// What was not checked, a phrase each.
pub(super) fn not_checked(
    cell: &Cell,
    safety: &Safety,
    devices: &[DeviceFindings],
    guards: &[GuardFindings],
    way_in: Option<&WayInFindings>,
) -> Vec<String> {
    let mut all = Vec::new();
    if !safety.anything_moves {
        all.push("nothing moves in the schedule, so nothing was looked at while it moves".to_owned());
    }
    if safety.seams_seen < cell.seams.len() {
        all.push(format!(
            "what the arm passes for {} of {}, which were not planned: everything here is of the others alone",
            cell.seams.len() - safety.seams_seen,
            counted(cell.seams.len() as u64, "seam")
        ));
    }
    all.extend(safety.unseen_services.iter().map(|service| {
        let service = &cell.service[*service];
        let why = if service.device.is_some() {
            "no way there was found"
        } else {
            "the file does not say where that is done (at_mm)"
        };
        format!("where the arm goes for the stop {}, if it goes anywhere: {why}", service.name)
    }));
    if !safety.unseen_links.is_empty() {
        let links: Vec<String> = safety.unseen_links.iter().map(usize::to_string).collect();
        all.push(format!(
            "where much of the arm is: nothing has a shape along link {} of it, so only what has one was looked at, whatever is said above",
            links.join(", ")
        ));
    }
    if cell.torch.hose.is_some() {
        all.push(
            "where the hose is between its ends at the forearm and at the torch, but for gaps to be caught in, where it goes straight"
                .to_owned(),
        );
    }
    if devices.is_empty() {
        all.push("separation distances: the file has no protective device".to_owned());
    }
    for device in devices.iter().filter(|device| device.holds.is_none()) {
        // The list is headed by these words already.
        let why = device.sentence.strip_prefix("not checked: ").unwrap_or(&device.sentence);
        all.push(format!("{}: {why}", device.device));
    }
    all.extend(devices.iter().filter_map(DeviceFindings::while_off_in_words));
    for (zone, devices) in
        cell.zones.iter().zip(&safety.gone_around).filter(|(_, devices)| !devices.is_empty())
    {
        let devices: Vec<&str> = devices.iter().map(|device| cell.zones[device.0].name.as_str()).collect();
        all.push(format!(
            "whether whoever comes to {} has come through {}: nothing that is drawn closes the way around",
            zone.name,
            devices.join(" or ")
        ));
    }
    all.extend(way_in.filter(|way| !way.open).map(|way| {
        let why = way.sentence.strip_prefix("not checked: ").unwrap_or(&way.sentence);
        format!("whether guards and devices together close the safeguarded space: {why}")
    }));
    for zone in &cell.zones {
        let over = zone.device.as_ref().is_some_and(|device| device.reach_over.is_none());
        if over && matches!(zone.role, ZoneRole::Curtain | ZoneRole::BeamGrid) {
            all.push(format!(
                "reaching over {}: reach_over_mm is not stated (table of the standard, by height of field and hazard)",
                zone.name
            ));
        }
    }
    all.extend(came_before(cell));
    all.extend(cell.zones.iter().filter_map(|zone| beside_a_field(cell, zone)));
    all.extend(cell.zones.iter().filter_map(|zone| stop_out_of_reach(cell, zone)));
    all.extend(misplaced_stops(cell));
    if cell.safeguarding.category == StopCategory::Controlled {
        all.push("whether standstill is monitored, which a protective stop of category 2 asks for: the drives keep their power".to_owned());
    }
    if safety.manual.is_some() && !cell.frames.axes.is_empty() {
        all.push(
            "how fast what external axes carry goes in manual mode: the time of proving has them turn and slide as planned".to_owned(),
        );
    }
    all.extend(guards.iter().flat_map(GuardFindings::not_checked));
    let unreached = safety.spaces.iter().flat_map(|spaces| &spaces.out_of_reach);
    all.extend(unreached.map(|[inner, outer]| {
        let name = |zone: &crate::cell::ZoneId| &cell.zones[zone.0].name;
        format!("whether {} lies in {}: the arm reaches nothing of it", name(inner), name(outer))
    }));
    all.extend(beside_the_arm(cell));
    all.extend(clamps_that_open(cell));
    let stops_all = |device: &Device| device.stops_arm && device.stops_axes.len() == cell.frames.axes.len();
    if cell.zones.iter().filter_map(|zone| zone.device.as_ref()).any(|device| !stops_all(device)) {
        all.push(
            "what somebody who has come through a field reaches over a bench or another low thing: they are only taken to walk to what no device stops"
                .to_owned(),
        );
    }
    all.extend(caught(cell));
    for role in [ZoneRole::RestrictedSpace, ZoneRole::MaximumSpace, ZoneRole::SafeguardedSpace] {
        if cell.zones.iter().all(|zone| zone.role != role) {
            all.push(format!("the {} is not stated", role.name()));
        }
    }
    if safety.is_by_cycle {
        all.push(
            "what arm and tables do where loads take longer or shorter than stated: a table then turns while the arm is elsewhere on its way than in \
             the cycle of timeline.csv"
                .to_owned(),
        );
    }
    all.push(
        "whether anything is hit while it stops: axes that brake by themselves leave the path".to_owned(),
    );
    all.push(
        "performance levels, wiring, muting, restart, access from behind a field, and whether a device may be used here at all"
            .to_owned(),
    );
    all
}

/// Whoever is behind a field since before it watched; none where all watch whenever the cell runs, or the file says how such a one is seen.
fn came_before(cell: &Cell) -> Option<String> {
    let is_off_at_times = |zone: &&Zone| {
        let device = zone.device.as_ref();
        device.is_some_and(|device| device.active != Active::Always && !device.starts_from_outside)
    };
    let names: Vec<&str> = cell.zones.iter().filter(is_off_at_times).map(|zone| zone.name.as_str()).collect();
    (!names.is_empty()).then(|| {
        format!(
            "whether all who came past {} while it did not watch are out before what it stops sets out: it stops that only for whoever comes while \
             it watches; whoever starts must see the whole of it, out of reach from inside (start_from_outside = true says so)",
            names.join(" or ")
        )
    })
}

/// Fields that do not watch all the time, where the file says how whoever is behind them is seen.
fn starts_from_outside(cell: &Cell) -> Option<String> {
    let says = |zone: &&Zone| zone.device.as_ref().is_some_and(|device| device.starts_from_outside);
    let names: Vec<&str> = cell.zones.iter().filter(says).map(|zone| zone.name.as_str()).collect();
    (!names.is_empty()).then(|| {
        format!(
            "stated: what {} stop{} sets out only after a signal from outside, out of reach from inside and given where all that is behind is seen; \
             so whoever came while it did not watch is taken to be out",
            names.join(" and "),
            if names.len() == 1 { "s" } else { "" }
        )
    })
}

/// What the findings rest on.
pub(super) fn rests_on(cell: &Cell, safety: &Safety) -> Vec<String> {
    let safeguarding = &cell.safeguarding;
    let mut all = vec![
        format!(
            "protective devices call for stop category {} (IEC 60204-1, 9.2); where a stop is not stated, axes are assumed to brake \
             with their greatest acceleration {} s after the order, {} s after the power goes off in category 0",
            safeguarding.category.number(),
            fixed(ASSUMED_REACTION, 1),
            fixed(ASSUMED_BRAKE_REACTION, 1)
        ),
        looked_at(safety),
        "a field goes on upward and downward without end; where the arm is stopped and a restricted space is stated, the \
         distance is that to the nearer of the two, what moves and that space"
            .to_owned(),
        "a person can stand between a field and what it stops: reset by hand, from where the whole space is seen, out of reach from \
         inside"
            .to_owned(),
        format!(
            "63 in/s are 1600.2 mm/s; without a brake monitor {} % of the stopping time are added by ANSI B11.19; numbers of clauses \
             are from memory",
            fixed(to_percent(safeguarding.brake_share.value), 0)
        ),
    ];
    if let Some(spaces) = &safety.spaces {
        all.push(format!(
            "arm and torch reach {} m from where the foot rests: searched from the best of stances on a grid over axes 1 to 3 and what carries \
             the arm, in ever smaller steps of all axes; a figure that is found so is reached, and little is beyond it",
            fixed(spaces.reach, 2)
        ));
    }
    all.extend(starts_from_outside(cell));
    all.extend(cell.zones.iter().filter_map(less_than_the_table));
    all.extend(carried_on(cell));
    let meshes = cell.shapes.iter().any(|shape| matches!(shape.solid, Solid::Mesh(_)));
    let of_arm = cell.arm.shapes.iter().any(|shape| matches!(shape.solid, Solid::Mesh(_)));
    if meshes || of_arm || cell.torch.shapes.iter().any(|shape| matches!(shape.solid, Solid::Mesh(_))) {
        all.push(
            "a shape that is a mesh counts as the box about it for fields, guards, places and spaces: it may come less near than is said"
                .to_owned(),
        );
    }
    all
}

/// At which instants everything is looked at.
fn looked_at(safety: &Safety) -> String {
    let of = if safety.is_by_cycle {
        "of the cycle of timeline.csv, arm and tables as they are then,"
    } else {
        "of the path"
    };
    let in_turns = if safety.serves_in_turns {
        ", and once more with the table setting out when the arm does"
    } else {
        ""
    };
    format!(
        "each axis brakes by itself, from every instant {of} at most 20 ms apart, and of the ways to devices that serve the torch, which \
         follow the round with external axes standing{in_turns}; load, gravity and worn brakes only as far as the stated figures have them"
    )
}

/// Whether somebody at an operator place reaches no emergency stop.
fn stop_out_of_reach(cell: &Cell, place: &Zone) -> Option<String> {
    if place.role != ZoneRole::OperatorPlace {
        return None;
    }
    let mm = |metres: f64| LengthUnit::Millimetre.distance(to_mm(metres));
    let stops = cell.safeguarding.emergency_stops.iter();
    let stops: Vec<_> = stops.filter(|stop| stop.place == StopPlace::OperatorStation).collect();
    let placed = stops.iter().filter_map(|stop| Some((beside(cell, place, &stop.at?).max(0.0), &stop.name)));
    let nearest = placed.reduce(|near, other| if other.0 < near.0 { other } else { near });
    // One that is not placed may be anywhere.
    let (distance, name) = nearest.filter(|_| stops.iter().all(|stop| stop.at.is_some()))?;
    (distance > units::mm(WHOLE_ARM_MM)).then(|| {
        format!(
            "whether somebody at {} reaches an emergency stop: the nearest that is listed, {name}, is {} from it, farther than an arm reaches (850 mm)",
            place.name,
            mm(distance)
        )
    })
}

/// Emergency stops that are called outside the cell and lie in its safeguarded space, or inside and lie beyond it.
fn misplaced_stops(cell: &Cell) -> Vec<String> {
    let Some(space) = cell.zones.iter().find(|zone| zone.role == ZoneRole::SafeguardedSpace) else {
        return Vec::new();
    };
    let told = |(name, place, beside): (&String, StopPlace, f64)| {
        let (said, found) = match place {
            StopPlace::Outside if beside < 0.0 => ("outside the cell", "inside"),
            StopPlace::Inside if beside > 0.0 => ("inside", "outside"),
            _ => return None,
        };
        Some(format!(
            "whether the emergency stop {name} is {said}, as the file says: at_mm is {found} {}",
            space.name
        ))
    };
    let stops = cell.safeguarding.emergency_stops.iter();
    stops
        .filter_map(|stop| Some((&stop.name, stop.place, beside(cell, space, &stop.at?))))
        .filter_map(told)
        .collect()
}

/// How far a point of the world is beside a zone, seen from above, m; negative in it.
fn beside(cell: &Cell, zone: &Zone, point: &Point3<f64>) -> f64 {
    let world_from_zone = cell.frames.world_from(zone.frame, &cell.frames.rest()) * zone.frame_from_zone;
    let own = corners(&zone.region);
    let mut local = world_from_zone.inverse() * point;
    // Whatever height either is drawn at.
    local.z = own.iter().map(|corner| corner.z).sum::<f64>() / own.len().max(1) as f64;
    signed_distance(&zone.region, &local)
}

/// What was not looked at below and beside the field of a device.
fn beside_a_field(cell: &Cell, zone: &Zone) -> Option<String> {
    let mm = |metres: f64| LengthUnit::Millimetre.distance(to_mm(metres));
    let above = watch::height_above_floor(cell, zone);
    match zone.role {
        ZoneRole::Curtain | ZoneRole::BeamGrid => Some(format!(
            "whether somebody gets around an end of {}, or under it: its lower edge is {} above the floor (above 300 mm crawling under must be \
             judged)",
            zone.name,
            mm(above)
        )),
        ZoneRole::ScannerField if above > units::mm(CRAWLING_MM) => Some(format!(
            "whether somebody crawls under {}, which is {} above the floor: above 300 mm that must be judged (ISO 13855:2010; 200 mm in 2024)",
            zone.name,
            mm(above)
        )),
        ZoneRole::ScannerField if are_guards_known(cell) => {
            Some(format!("whether somebody gets beside {} or steps over it", zone.name))
        }
        ZoneRole::ScannerField => Some(format!(
            "whether somebody steps into {} over another side than those that they meet who walk along its into: no safeguarded_space is stated, so it \
             is not known whether all guards are drawn; whether they get beside it or step over it",
            zone.name
        )),
        _ => None,
    }
}

/// External axes that do not carry the arm, where a space is stated that limits the arm alone.
fn beside_the_arm(cell: &Cell) -> Option<String> {
    let limits = cell.zones.iter().filter(|zone| zone.role.limits_the_arm_alone());
    let limits: Vec<&str> = limits.map(|zone| zone.name.as_str()).collect();
    let axes = cell.frames.axes.iter().enumerate();
    let beside = axes.filter(|(axis, _)| !cell.frames.moves_with(cell.arm.frame, *axis));
    let beside: Vec<&str> = beside.map(|(_, axis)| axis.name.as_str()).collect();
    (!limits.is_empty() && !beside.is_empty()).then(|| {
        format!(
            "whether what {} move{} keeps within {}: restricted and maximum space are the arm's (ISO 8373, ISO 10218), and what limits a table is the table's",
            beside.join(" and "),
            if beside.len() == 1 { "s" } else { "" },
            limits.join(" and ")
        )
    })
}

/// Clamps that move while the arm works, of which only the way into operator places is looked at.
fn clamps_that_open(cell: &Cell) -> Option<String> {
    let names = cell.stations.iter().flat_map(|station| {
        let clamps = station.openings.iter().flat_map(|opening| &opening.clamps);
        clamps.map(|clamp| format!("{} / {clamp}", station.name))
    });
    let names: Vec<String> = names.collect();
    (!names.is_empty()).then(|| {
        format!(
            "where clamps that open between welds go, which no device of this file stops, but for operator places: past a field, or so that somebody \
             is caught: {}",
            names.join(", ")
        )
    })
}

/// What of being caught, and of reaching up, was not looked at.
fn caught(cell: &Cell) -> Vec<String> {
    let mut all = Vec::new();
    if cell.zones.iter().all(|zone| zone.role != ZoneRole::OperatorPlace) {
        all.push("gaps in which a person may be caught: the file has no operator_place".to_owned());
    } else {
        all.push(
            "gaps in which a person may be caught anywhere but in the operator places and an arm's length (850 mm) beyond them; gaps \
             of the arm's own links; those for head, foot, hand and finger by themselves (ISO 13854)"
                .to_owned(),
        );
        all.push("reaching over, under and around boxes that stand between a place and a gap".to_owned());
        let moves =
            |zone: &&Zone| (0..cell.frames.axes.len()).any(|axis| cell.frames.moves_with(zone.frame, axis));
        let carried = cell.zones.iter().filter(|zone| zone.role == ZoneRole::Guard).filter(moves);
        all.extend(carried.map(|zone| format!("gaps toward {}, which an axis moves", zone.name)));
    }
    all.extend(reached_while_turning(cell));
    all.push(
        "reaching up to what moves overhead: ISO 13857 asks 2500 mm above where people walk, 2700 mm where the risk is high".to_owned(),
    );
    all
}

/// Guards that axes carry, which are looked at while those stand.
fn reached_while_turning(cell: &Cell) -> impl Iterator<Item = String> {
    let guards = cell.zones.iter().filter(|zone| zone.role == ZoneRole::Guard);
    guards.filter_map(|guard| {
        let axes = cell.frames.axes.iter().enumerate();
        let carry = axes.filter(|(axis, _)| cell.frames.moves_with(guard.frame, *axis));
        let carry: Vec<&str> = carry.map(|(_, axis)| axis.name.as_str()).collect();
        (!carry.is_empty()).then(|| {
            format!(
                "what is reached past {} while {} moves, which carries it: it is looked at while that stands, and closes no way",
                guard.name,
                carry.join(" or ")
            )
        })
    })
}

/// Whose stated figures end below the greatest speed, and from where they are carried on.
fn carried_on(cell: &Cell) -> Vec<String> {
    let category = cell.safeguarding.category;
    let stops = Stops::new(cell, category);
    let arm = stops.arm.iter().enumerate().map(|(axis, stop)| (format!("axis {}", axis + 1), stop));
    let external = cell.frames.axes.iter().zip(&stops.external).map(|(axis, stop)| (axis.name.clone(), stop));
    let ends = arm.chain(external).filter_map(|(name, stop)| {
        let percent = to_percent(stop.carried_on_from()? / stop.max_speed());
        Some(format!("{name} from {} %", fixed(percent, 0)))
    });
    let ends: Vec<String> = ends.collect();
    let told = || {
        format!(
            "stopping figures of category {} are stated for less than the greatest speed and CARRIED ON to it (even braking after the same \
             reaction): {}; state those from full speed",
            category.number(),
            ends.join(", ")
        )
    };
    (!ends.is_empty()).then(told).into_iter().collect()
}
