//! Decides whether each protective device stands far enough from what it stops, and whether anything passes it unwatched.
//!
//! The time is that of the device, the controller and the machine; the machine's is that of the slowest thing the device stops from its
//! greatest speed, whatever the program does, or what was measured on it, unless the files state more: then the longest of all that is
//! known counts, assumed reaction included, since one of the two is wrong, or it was not measured with that moving. The distance is that from the field to the nearest point that
//! anything it stops comes to while the device watches, stopping included; where a restricted space is stated and the device stops
//! the arm, to that space, since the arm may be anywhere in it. A field is taken to go on upward and downward without end:
//! what passes over it counts as passing through it.

use nalgebra::Point3;
use seamwright_kinematics::Basis;

use super::closers::{CRAWLING_MM, LOW_FIELD_MM};
use super::extent::corners;
use super::gather::{Gathered, Nearest};
use super::separation::{self, Branch, Distance, NotCovered};
use super::stopping::{AxisStop, Stops};
use super::upright::leans;
use crate::cell::{
    Active, Cell, Detection, Device, Region, Rules, Safeguarding, Station, Zone, ZoneId, ZoneRole,
};
use crate::schedule::{Running, Turns};
use crate::units;

/// A rule book's formula.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Rule {
    /// ISO 13855:2010.
    #[serde(rename = "iso_13855_2010")]
    Iso2010,
    /// ISO 13855:2024.
    #[serde(rename = "iso_13855_2024")]
    Iso2024,
    /// 29 CFR 1910.217(c)(3)(iii)(e).
    Osha,
    /// ANSI B11.19.
    Ansi,
}

/// Where the machine's stopping time comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum StopBasis {
    /// Measured on the machine, as the file says.
    Measured,
    /// Worked out from stopping figures in the files.
    Stated,
    /// Worked out from assumed braking.
    Assumed,
}

/// What the time from a person's coming to standstill is made of, s.
#[derive(Clone, Debug, PartialEq)]
pub struct Times {
    /// The device.
    pub device: f64,
    /// From its output to the stop order.
    pub controller: f64,
    /// From the order to standstill.
    pub machine: f64,
    /// Where that comes from.
    pub machine_basis: StopBasis,
    /// What stands last, where the machine's time was worked out.
    pub slowest: Option<String>,
    /// What was measured, s, where it is less than what the files state of that and so does not count.
    pub overruled: Option<f64>,
    /// What the rules of the United States add for wear of the brakes.
    pub brake: f64,
}

impl Times {
    /// Without the brake allowance.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.device + self.controller + self.machine
    }
}

/// What one rule asks.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// The rule.
    pub rule: Rule,
    /// The distance, or why there is none.
    pub distance: Result<Distance, NotCovered>,
    /// Whether it takes part in the answer.
    pub counts: bool,
}

/// Why the distance of an upright field does not show that it keeps people.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Unsure {
    /// Its lower edge or lowest beam is so high above the floor, m: somebody crawls under it.
    CrawledUnder(f64),
    /// Its upper edge or highest beam is so low, m: somebody steps over it.
    SteppedOver(f64),
    /// The height at which a single beam must stand was not seen.
    OneBeam,
    /// It watches while axes move, and then the arm moves too, which it does not stop; what is looked at does not show that.
    ArmMovesMeanwhile,
    /// In the cycle the arm stands, or nobody gets to it, while it watches; with loads that take longer or shorter that may be while the arm moves.
    ArmMayMoveMeanwhile,
}

/// Whether the arm may move while an axis that a device watches brings the next load: it works where that axis carries nothing, or goes to a
/// device that serves the torch.
fn arm_may_move_meanwhile(cell: &Cell, device: &Device) -> bool {
    let carries = |axis: usize, station: &Station| cell.frames.moves_with(station.frame, axis);
    let changes_places = |axis: &&usize| {
        let on_it = cell.stations.iter().filter(|station| carries(**axis, station));
        let mut values: Vec<f64> = on_it.map(|station| station.external[**axis]).collect();
        values.sort_by(f64::total_cmp);
        values.dedup();
        values.len() > 1
    };
    let elsewhere = |axis: &usize| {
        cell.service.iter().filter_map(|service| service.device.as_ref()).any(|device| device.during_turn)
            || cell.stations.iter().any(|station| !carries(*axis, station))
    };
    device.stops_axes.iter().filter(changes_places).any(elsewhere)
}

/// What is known of what the arm does while an axis brings the next load.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shown {
    /// Nothing.
    Nothing,
    /// What it does in one cycle, with every load taking its mean time.
    OneCycle,
    /// Enough: all that it ever does then, or that somebody meets it, or that nobody who is through the field ever gets to it.
    Enough,
}

/// What is known of what the arm does while axes bring the next load, behind a device of which this was gathered.
pub(super) fn shown(
    cell: &Cell,
    running: &Running<'_>,
    unseen_services: &[usize],
    gathered: &Gathered,
) -> Shown {
    let in_turn =
        |service: &usize| cell.service[*service].device.as_ref().is_some_and(|device| device.during_turn);
    match running.turns() {
        Turns::Unknown => Shown::Nothing,
        Turns::OneTable if unseen_services.iter().any(in_turn) => Shown::Nothing,
        Turns::Apart(_) if gathered.while_off.is_some() && gathered.unwatched.is_none() => Shown::OneCycle,
        Turns::ArmStands | Turns::OneTable | Turns::Apart(_) => Shown::Enough,
    }
}

/// Why the distance of a device does not show that it keeps people.
#[must_use]
pub fn unsure(cell: &Cell, zone: &Zone, device: &Device, shown: Shown) -> Option<Unsure> {
    if device.active == Active::WhileAxesMove && !device.stops_arm && arm_may_move_meanwhile(cell, device) {
        match shown {
            Shown::Nothing => return Some(Unsure::ArmMovesMeanwhile),
            Shown::OneCycle => return Some(Unsure::ArmMayMoveMeanwhile),
            Shown::Enough => {}
        }
    }
    if !matches!(zone.role, ZoneRole::Curtain | ZoneRole::BeamGrid) {
        return None;
    }
    let (low, high) = lower_and_upper_edge(cell, zone);
    let (low, high) = (low - cell.safeguarding.floor, high - cell.safeguarding.floor);
    if device.detection == Detection::Beams(1) {
        return Some(Unsure::OneBeam);
    }
    // The lowest of two beams stands at 400 mm.
    let beams = match device.detection {
        Detection::Beams(beams) => separation::beam_heights(beams),
        _ => None,
    };
    let [lowest, highest] = beams.unwrap_or([units::mm(CRAWLING_MM), units::mm(LOW_FIELD_MM)]);
    if low > lowest + ROUNDING {
        return Some(Unsure::CrawledUnder(low));
    }
    (high < highest - ROUNDING).then_some(Unsure::SteppedOver(high))
}

/// What is known of one device.
#[derive(Clone, Debug, PartialEq)]
pub struct Watched {
    /// The device's zone.
    pub zone: ZoneId,
    /// The time that counts; none where its response is not stated.
    pub times: Option<Times>,
    /// What the rules ask, each once.
    pub asked: Vec<Asked>,
    /// The nearest of what it stops, while it watches.
    pub nearest: Option<Nearest>,
    /// From the field to the restricted space, m, where that decides.
    pub to_restricted_space: Option<f64>,
    /// The nearest of what moves though neither this device stops it then nor another that stands in the way.
    pub unwatched: Option<Nearest>,
    /// Why its distance alone does not show that it keeps people; none where it does.
    pub unsure: Option<Unsure>,
    /// The nearest of what moves while it is off.
    pub while_off: Option<Nearest>,
}

impl Watched {
    /// From the field to the hazard, m; negative where the hazard passes the field. None where nothing that it stops moves.
    #[must_use]
    pub fn present(&self) -> Option<f64> {
        let nearest = self.nearest.as_ref().map(|nearest| nearest.distance);
        [nearest, self.to_restricted_space].into_iter().flatten().reduce(f64::min)
    }

    /// What decides: the greatest distance asked among the rules that count.
    #[must_use]
    pub fn deciding(&self) -> Option<(Rule, Distance)> {
        deciding(&self.asked)
    }

    /// What moves behind it though no device stops it then, wherever it stands: whoever is through the field walks on. While it is off only
    /// what comes nearer than is asked, or passes the field where nothing is.
    #[must_use]
    pub fn unstopped(&self) -> Option<&Nearest> {
        let asked = self.deciding().map_or(0.0, |(_, distance)| distance.distance - ROUNDING);
        let while_off = self.while_off.as_ref().filter(|nearest| nearest.distance < asked);
        let both = self.unwatched.as_ref().into_iter().chain(while_off);
        both.reduce(|nearest, other| if other.distance < nearest.distance { other } else { nearest })
    }

    /// What moves farther away while it is off, since a person may then stand in it.
    #[must_use]
    pub fn beyond_while_off(&self) -> Option<&Nearest> {
        let asked = self.deciding().map_or(0.0, |(_, distance)| distance.distance - ROUNDING);
        self.while_off.as_ref().filter(|nearest| nearest.distance >= asked)
    }

    /// The rule among those that count which does not let the device stand so at any distance, and why; none where all do.
    #[must_use]
    pub fn forbidden(&self) -> Option<(Rule, NotCovered)> {
        let counted = self.asked.iter().filter(|asked| asked.counts);
        counted
            .filter_map(|asked| Some((asked.rule, asked.distance.err()?)))
            .find(|(_, reason)| reason.is_of_the_device())
    }

    /// Whether it stands far enough; none where that was not checked. Beyond the bare way of a hand in the stopping time, which is only a
    /// least distance, something must be asked for what comes through before the device acts, and people must not get under or over it:
    /// else it can only be too near.
    #[must_use]
    pub fn is_far_enough(&self) -> Option<bool> {
        let far_enough = self.present()? >= self.deciding()?.1.distance - ROUNDING;
        let has_figure = |asked: &Asked| asked.counts && asked.rule != Rule::Osha && asked.distance.is_ok();
        if far_enough && (self.unsure.is_some() || !self.asked.iter().any(has_figure)) {
            return None;
        }
        Some(far_enough)
    }
}

/// The greatest distance asked among rules that count.
#[must_use]
pub fn deciding(asked: &[Asked]) -> Option<(Rule, Distance)> {
    let counted = asked.iter().filter(|asked| asked.counts);
    let counted = counted.filter_map(|asked| Some((asked.rule, asked.distance.ok()?)));
    counted.reduce(|most, other| if other.1.distance > most.1.distance { other } else { most })
}

/// A device that stands exactly where it is asked to is not too near by rounding, m.
const ROUNDING: f64 = 1e-9;

/// What the rules ask of a device.
#[must_use]
pub fn asked(cell: &Cell, zone: &Zone, device: &Device, times: &Times) -> Vec<Asked> {
    let safeguarding = &cell.safeguarding;
    let time = times.total();
    let with_brake = time + times.brake;
    let has_field = !matches!(zone.role, ZoneRole::Gate | ZoneRole::TwoHandControl);
    let (iso, iso_2024, ansi) = match (zone.role, device.detection) {
        _ if has_field && leans(cell, zone) => {
            (Err(NotCovered::Leans), Err(NotCovered::Leans), Err(NotCovered::Leans))
        }
        (ZoneRole::ScannerField, Detection::Resolution(resolution)) => {
            let height = height_above_floor(cell, zone);
            let supplement = safeguarding.supplement.unwrap_or(0.0);
            (
                separation::iso_2010_parallel(time, height, resolution),
                separation::iso_2024_parallel(time, height, resolution, supplement),
                Err(NotCovered::OnlyRightAngled),
            )
        }
        (role @ (ZoneRole::Gate | ZoneRole::TwoHandControl), _) => {
            let stated = |speed: f64, time: f64, branch: Branch| {
                let intrusion = device.intrusion.ok_or(NotCovered::NoValues)?;
                Ok(Distance { distance: speed * time + intrusion, speed, intrusion, branch })
            };
            let iso = stated(separation::WALKING_SPEED, time, Branch::WalkingSpeed);
            let of_hands = role == ZoneRole::TwoHandControl;
            (
                iso.map(|iso| if of_hands { separation::at_least_for_hands(iso) } else { iso }),
                Err(NotCovered::TextNotSeen),
                stated(separation::osha(1.0), with_brake, Branch::HandSpeed),
            )
        }
        (_, detection) => (
            if has_beams_elsewhere(cell, zone, detection) {
                Err(NotCovered::BeamsElsewhere)
            } else {
                separation::iso_2010(time, detection, device.reach_over)
            },
            Err(NotCovered::TextNotSeen),
            separation::ansi(with_brake, detection),
        ),
    };
    let osha = Distance {
        distance: separation::osha(time),
        speed: separation::osha(1.0),
        intrusion: 0.0,
        branch: Branch::HandSpeed,
    };
    let counts = |rule: Rule| match rule {
        // Of the newer edition only what was seen of it has a figure.
        Rule::Iso2010 | Rule::Iso2024 => safeguarding.rules != Rules::UnitedStates,
        Rule::Osha | Rule::Ansi => safeguarding.rules != Rules::Iso,
    };
    [(Rule::Iso2010, iso), (Rule::Iso2024, iso_2024), (Rule::Osha, Ok(osha)), (Rule::Ansi, ansi)]
        .map(|(rule, distance)| Asked { rule, distance, counts: counts(rule) })
        .to_vec()
}

/// Whether the field of a grid of beams does not reach over the heights at which they must stand.
fn has_beams_elsewhere(cell: &Cell, zone: &Zone, detection: Detection) -> bool {
    let Detection::Beams(beams) = detection else { return false };
    let Some([lowest, highest]) = separation::beam_heights(beams) else { return false };
    let (low, high) = lower_and_upper_edge(cell, zone);
    let floor = cell.safeguarding.floor;
    low - floor > lowest + ROUNDING || high - floor < highest - ROUNDING
}

/// The time from a person's coming to standstill of what a device stops, from greatest speeds; none where its response is not stated.
#[must_use]
pub fn times(cell: &Cell, stops: &Stops, device: &Device) -> Option<Times> {
    let speeds = Speeds {
        arm: std::array::from_fn(|axis| stops.arm[axis].max_speed()),
        external: stops.external.iter().map(AxisStop::max_speed).collect(),
    };
    times_from(cell, stops, device, &speeds)
}

/// How fast what a device stops goes, rad/s or m/s.
#[derive(Clone, Debug)]
pub struct Speeds {
    /// Axis by axis.
    pub arm: [f64; 6],
    /// In the order of the cell's external axes.
    pub external: Vec<f64>,
}

/// The same from other speeds. Where something moves, what was measured counts whatever its speed.
#[must_use]
pub fn times_from(cell: &Cell, stops: &Stops, device: &Device, speeds: &Speeds) -> Option<Times> {
    let Safeguarding { controller, measured_stop, brake_share, .. } = &cell.safeguarding;
    let arm = (0..6)
        .filter(|_| device.stops_arm)
        .map(|axis| (format!("axis {}", axis + 1), &stops.arm[axis], speeds.arm[axis]));
    let external = device
        .stops_axes
        .iter()
        .map(|&axis| (cell.frames.axes[axis].name.clone(), &stops.external[axis], speeds.external[axis]));
    let moving: Vec<(String, &AxisStop, f64)> =
        arm.chain(external).filter(|(_, _, speed)| speed.abs() > 0.0).collect();
    let slowest = |time: &dyn Fn(&AxisStop, f64) -> Option<f64>| {
        let times = moving.iter().filter_map(|(name, stop, speed)| Some((name, *stop, time(stop, *speed)?)));
        times.reduce(|most, other| if other.2 > most.2 { other } else { most })
    };
    let worked_out = |stop: &AxisStop, speed: f64| Some(stop.by_files(speed).time);
    // Shown from full speed, whatever the speed now.
    let arm_stops = stops.arm.iter().filter(|_| device.stops_arm);
    let least_times = arm_stops.chain(device.stops_axes.iter().map(|&axis| &stops.external[axis]));
    let least = least_times.filter_map(|stop| stop.least_time(stop.max_speed())).fold(0.0, f64::max);
    let contradicted = |measured: &f64| least > measured + ROUNDING;
    let overruled = measured_stop.filter(contradicted);
    let (machine, machine_basis, slowest) = match measured_stop {
        _ if moving.is_empty() => (0.0, StopBasis::Assumed, None),
        Some(measured) if overruled.is_none() => (*measured, StopBasis::Measured, None),
        _ => {
            let (name, stop, time) = slowest(&worked_out)?;
            let basis = if stop.basis() == Basis::File { StopBasis::Stated } else { StopBasis::Assumed };
            (time, basis, Some(name.clone()))
        }
    };
    Some(Times {
        device: device.response?,
        controller: controller.value,
        machine,
        machine_basis,
        slowest,
        overruled,
        brake: brake_share.value * (machine + controller.value),
    })
}

/// How high a zone begins above the floor, m, at rest: a flat one that slopes where its lower edge is highest.
#[must_use]
pub fn height_above_floor(cell: &Cell, zone: &Zone) -> f64 {
    lower_and_upper_edge(cell, zone).0 - cell.safeguarding.floor
}

/// Heights in the world between which a zone reaches all along, m, at rest: of a flat one that slopes the highest of its lower edge, and
/// the lowest of its upper one.
#[must_use]
pub fn lower_and_upper_edge(cell: &Cell, zone: &Zone) -> (f64, f64) {
    let Region::Field { half_width, height } = zone.region else { return lowest_and_highest(cell, zone) };
    let world_from_zone = cell.frames.world_from(zone.frame, &cell.frames.rest()) * zone.frame_from_zone;
    let ends = [-half_width, half_width].map(|x| {
        let [a, b] = [0.0, height].map(|z| (world_from_zone * Point3::new(x, 0.0, z)).z);
        (a.min(b), a.max(b))
    });
    (ends[0].0.max(ends[1].0), ends[0].1.min(ends[1].1))
}

/// Height of the lowest and highest point of a zone, m, at rest.
#[must_use]
pub fn lowest_and_highest(cell: &Cell, zone: &Zone) -> (f64, f64) {
    let world_from_zone = cell.frames.world_from(zone.frame, &cell.frames.rest()) * zone.frame_from_zone;
    let heights = corners(&zone.region).into_iter().map(|point| (world_from_zone * point).z);
    heights.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), z| (low.min(z), high.max(z)))
}
