//! Decides what is shown of a cell's fixtures: whether locators and clamps hold the parts, whether the wire hits, what to change.

use schemars::JsonSchema;
use seamwright_kinematics::units::{to_mm, to_percent};
use serde::{Deserialize, Serialize};

use super::words::{LengthUnit, counted, fixed, rounded};
use crate::cell::{Body, Cell, Locator};
use crate::fitup::cause::What;
use crate::fitup::displacement::Seating;
use crate::fitup::locating::FreeMotion;
use crate::fitup::pressing::Pressing;
use crate::fitup::remedies::{Change, Remedy, Which};
use crate::fitup::{self, BodyFitUp, FitUp, Needs, SeamFitUp, WrongWay};
use crate::units;

/// Contributions that are listed of a seam.
const CONTRIBUTIONS: usize = 5;

/// What was learnt about fixtures and fit-up.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FitUpFindings {
    /// Whether parts are located and seated, come out, fit no wrong way, and as many are good as is asked.
    pub holds: bool,
    /// How programs are used: the percentage that counts.
    pub programs: Programs,
    /// Weldments with every seam hit that are asked.
    pub asked_percent: f64,
    /// Weldments with every seam hit, programs touched up on a middling part; none where no seam could be looked at.
    pub good_touched_up_percent: Option<f64>,
    /// The same with programs as downloaded, over fixtures and parts.
    pub good_downloaded_percent: Option<f64>,
    /// Half the 95 % interval of the drawn percentage that counts.
    pub drawn_to_percent: Option<f64>,
    /// Weldments drawn.
    pub parts_drawn: u64,
    /// A tolerance counts as so many standard deviations of a normal error; the worst case takes a normal error to there.
    pub sigmas_in_tolerance: f64,
    /// What is held by locators.
    pub bodies: Vec<BodyFindings>,
    /// Seam by seam, in the cell's order.
    pub seams: Vec<SeamFitUpFindings>,
    /// Changes that buy good parts, the best first, each weighed alone.
    pub remedies: Vec<RemedyFindings>,
    /// What this rests on.
    pub rests_on: Vec<String>,
}

/// How programs are used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Programs {
    /// Touched up on every station, on a middling part.
    TouchedUp,
    /// As downloaded.
    Downloaded,
}

/// What was learnt about a body and what holds it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BodyFindings {
    /// The station.
    pub station: String,
    /// The part, or the fixture whose parts move as one.
    pub body: String,
    /// Freedoms that its locators take, of six.
    pub freedoms_taken: usize,
    /// Motions that are left, one sentence each.
    pub free: Vec<String>,
    /// Locators that hold what others hold already, group by group.
    pub fighting: Vec<Vec<String>>,
    /// How evenly the locators hold: least over greatest singular value of the contact matrix, turns scaled by its size.
    pub evenness: f64,
    /// How the part finds its place; none where it is not fixed.
    pub seating: Option<SeatingName>,
    /// Clamps with a stated force.
    pub clamps: usize,
    /// What is wrong with the way clamps press, one sentence each.
    pub clamps_wrong: Vec<String>,
    /// Force on each locator with all clamps closed, by its name; empty where no clamp states a force.
    pub forces_n: Vec<ForceFindings>,
    /// First order against the exact rigid place, every locator error at its limit.
    pub first_order_within_mm: Option<f64>,
    /// Ways in which it comes out, unit vectors in the station frame.
    pub ways_out: Vec<[f64; 3]>,
    /// What hooks it, where no way is open.
    pub hooked_by: Vec<String>,
    /// Wrong ways in which it fits, one sentence each.
    pub wrong_ways: Vec<String>,
    /// Cautions at the place of loading.
    pub cautions: Vec<String>,
}

/// How a part finds its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum SeatingName {
    /// Its locators leave one place only.
    Fixed,
    /// Clamps and weight decide on which of too many locators it rests.
    Pushed,
    /// Least squares over too many locators: nothing says on which it rests.
    LeastSquares,
}

/// Force on one direction of a locator.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ForceFindings {
    /// The locator.
    pub locator: String,
    /// Force along the direction in which it holds; a pin's may be negative.
    pub force_n: f64,
}

/// What was learnt about one seam.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SeamFitUpFindings {
    /// The seam's number.
    pub number: usize,
    /// The station.
    pub station: String,
    /// The seam.
    pub seam: String,
    /// Why it was not looked at; then all else is none.
    pub not_checked: Option<String>,
    /// Parts on which the wire hits it, programs touched up.
    pub hit_touched_up_percent: Option<f64>,
    /// As downloaded.
    pub hit_downloaded_percent: Option<f64>,
    /// What it needs after download for the hits that are asked.
    pub needs: Option<Needs>,
    /// Off across the joint, along the wire, along the weld.
    pub offsets: Option<OffsetFindings>,
    /// How far the joint moves across for each millimetre at the locator that moves it most.
    pub gain_mm_mm: Option<f64>,
    /// That locator.
    pub gain_of: Option<String>,
    /// What makes up the spread, greatest first.
    pub contributions: Vec<ContributionFindings>,
}

/// Worst case and root of squares beside what is allowed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OffsetFindings {
    /// Allowed across, either way.
    pub across_allowed_mm: f64,
    /// Every error at its limit.
    pub across_worst_mm: f64,
    /// Root of the sum of squares.
    pub across_squares_mm: f64,
    /// Allowed along the wire, either way.
    pub along_wire_allowed_mm: f64,
    /// Every error at its limit.
    pub along_wire_worst_mm: f64,
    /// Root of the sum of squares.
    pub along_wire_squares_mm: f64,
    /// Every error at its limit, along the weld.
    pub along_weld_worst_mm: f64,
    /// Root of the sum of squares, along the weld.
    pub along_weld_squares_mm: f64,
    /// Allowed gap.
    pub gap_allowed_mm: f64,
    /// The same leg, longer by this at the largest gap beyond 1.6 mm (AWS D1.1, from memory).
    pub leg_grows_mm: f64,
}

/// What one error makes up.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ContributionFindings {
    /// The error.
    pub cause: What,
    /// Of whom.
    pub of: String,
    /// Share of the variance.
    pub share_percent: f64,
}

/// A change with what it is worth.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RemedyFindings {
    /// What to do, in one sentence.
    pub change: String,
    /// Whether it changes fixture or parts, rather than the program.
    pub of_fixture: bool,
    /// Good weldments with it.
    pub good_percent: f64,
    /// That less the good ones without it.
    pub gain_percent: f64,
    /// Arm time that it adds for a load from every station.
    pub adds_s: f64,
}

impl FitUpFindings {
    pub(super) fn new(cell: &Cell, fit_up: &FitUp) -> Self {
        let variation = &cell.variation;
        let percent = |share: f64| rounded(to_percent(share), 4);
        let bodies: Vec<BodyFindings> = cell
            .bodies
            .iter()
            .zip(&fit_up.bodies)
            .map(|(body, found)| BodyFindings::new(cell, body, found))
            .collect();
        let counts = if variation.downloaded { fit_up.downloaded } else { fit_up.touched_up };
        let places = fit_up.places.max(1);
        let enough = counts.is_some_and(|good| good >= variation.asked);
        Self {
            holds: enough && fit_up.left_out.is_empty() && bodies.iter().all(BodyFindings::holds),
            programs: if variation.downloaded { Programs::Downloaded } else { Programs::TouchedUp },
            asked_percent: percent(variation.asked),
            good_touched_up_percent: fit_up.touched_up.map(percent),
            good_downloaded_percent: fit_up.downloaded.map(percent),
            // The normal approximation of the interval of a share; 1.96 is the quantile of 97.5 %.
            drawn_to_percent: counts
                .map(|good| percent(1.96 * (good * (1.0 - good) / fit_up.parts as f64).sqrt())),
            parts_drawn: fit_up.parts * fit_up.places,
            sigmas_in_tolerance: variation.sigmas,
            bodies,
            seams: seams(cell, fit_up),
            remedies: fit_up.remedies.iter().map(|remedy| RemedyFindings::new(cell, remedy)).collect(),
            rests_on: rests_on(cell),
        }
    }

    /// The good weldments that count.
    #[must_use]
    pub fn good_percent(&self) -> Option<f64> {
        match self.programs {
            Programs::TouchedUp => self.good_touched_up_percent,
            Programs::Downloaded => self.good_downloaded_percent,
        }
    }

    /// The answer in one sentence.
    #[must_use]
    pub fn sentence(&self) -> String {
        let looked_at = self.seams.iter().filter(|seam| seam.not_checked.is_none()).count();
        match (self.good_touched_up_percent, self.good_downloaded_percent) {
            (Some(touched_up), Some(downloaded)) => format!(
                "the wire hits every seam on {} % of parts once programs are touched up, {} % as downloaded; {} % are \
                 asked with programs {} ({} of {} seams looked at, {} parts drawn)",
                fixed(touched_up, 1),
                fixed(downloaded, 1),
                fixed(self.asked_percent, 1),
                match self.programs {
                    Programs::TouchedUp => "touched up",
                    Programs::Downloaded => "as downloaded",
                },
                looked_at,
                self.seams.len(),
                self.parts_drawn
            ),
            _ => "not known whether the wire hits: no seam could be looked at".to_owned(),
        }
    }

    /// Everything that is wrong with the way parts are held, a sentence each.
    #[must_use]
    pub fn wrong(&self) -> Vec<String> {
        self.bodies.iter().flat_map(BodyFindings::wrong).collect()
    }
}

impl BodyFindings {
    fn new(cell: &Cell, body: &Body, found: &BodyFitUp) -> Self {
        let name = |contact: usize| body.locators[found.contacts[contact].locator].name.clone();
        let all_closed = found.pressing.last();
        let forces = all_closed.and_then(|press| press.forces.as_ref());
        let by_air = body.clamps.iter().filter(|clamp| clamp.by_air);
        Self {
            station: cell.stations[body.station.0].name.clone(),
            body: body.name.clone(),
            freedoms_taken: found.locating.taken,
            free: found.locating.free.iter().map(free_sentence).collect(),
            fighting: found
                .locating
                .fighting
                .iter()
                .map(|group| {
                    let mut names: Vec<String> = group.iter().map(|(contact, _)| name(*contact)).collect();
                    names.dedup();
                    names
                })
                .collect(),
            evenness: rounded(found.locating.evenness, 6),
            seating: found.seating.map(|seating| match seating {
                Seating::Fixed => SeatingName::Fixed,
                Seating::Pushed => SeatingName::Pushed,
                Seating::LeastSquares => SeatingName::LeastSquares,
            }),
            clamps: body.clamps.len(),
            clamps_wrong: clamps_wrong(body, found),
            forces_n: forces
                .iter()
                .flat_map(|forces| forces.iter().enumerate())
                .map(|(contact, force)| ForceFindings { locator: name(contact), force_n: rounded(*force, 3) })
                .collect(),
            first_order_within_mm: found.first_order.map(|differs| rounded(to_mm(differs), 6)),
            ways_out: found.loading.ways_out.iter().map(|way| (*way).into()).map(|way: [f64; 3]| way.map(|part| rounded(part, 9))).collect(),
            hooked_by: found.loading.hooked_by.clone(),
            wrong_ways: found.wrong_ways.iter().map(wrong_way_sentence).collect(),
            cautions: by_air
                .map(|clamp| {
                    format!(
                        "{} closes by air: start it from outside or with two hands, and let it hold when air is lost",
                        clamp.name
                    )
                })
                .collect(),
        }
    }

    /// Whether locators and clamps hold the part and it can be loaded in one way only.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.freedoms_taken == 6
            && self.clamps_wrong.is_empty()
            && self.hooked_by.is_empty()
            && self.wrong_ways.is_empty()
    }

    /// Everything that is wrong, a sentence each.
    #[must_use]
    pub fn wrong(&self) -> Vec<String> {
        let whom = format!("{} / {}", self.station, self.body);
        let mut all = Vec::new();
        if !self.free.is_empty() {
            all.push(format!("{whom}: not located: it can {}", self.free.join(" and ")));
        }
        all.extend(self.fighting.iter().map(|group| {
            format!("{whom}: {} hold the same freedom, one too many: they fight", group.join(", "))
        }));
        all.extend(self.clamps_wrong.iter().map(|wrong| format!("{whom}: {wrong}")));
        if !self.hooked_by.is_empty() {
            all.push(format!(
                "{whom}: no straight way out was found: {} in the way",
                self.hooked_by.join(", ")
            ));
        }
        all.extend(self.wrong_ways.iter().map(|way| format!("{whom}: it can be loaded wrongly: {way}")));
        all
    }
}

fn clamps_wrong(body: &Body, found: &BodyFitUp) -> Vec<String> {
    let name = |contact: &usize| body.locators[found.contacts[*contact].locator].name.clone();
    let closed = |press: &Pressing| -> String {
        let names: Vec<&str> = press.closed.iter().map(|clamp| body.clamps[*clamp].name.as_str()).collect();
        if names.len() == 1 { format!("{} alone", names[0]) } else { names.join(" and ") }
    };
    if found.locating.taken < 6 {
        return Vec::new();
    }
    let mut all: Vec<String> = found
        .pressing
        .iter()
        .filter(|press| press.moves)
        .map(|press| {
            let mut lifted: Vec<String> = press.lifted.iter().map(name).collect();
            lifted.dedup();
            format!("{} lifts the part off {}", closed(press), lifted.join(" and "))
        })
        .collect();
    if let Some(forces) = found.pressing.last().and_then(|press| press.forces.as_ref()) {
        let most = forces.iter().fold(0.0_f64, |most, force| most.max(force.abs()));
        let idle =
            |(contact, force): &(usize, &f64)| found.contacts[*contact].one_sided && **force <= 1e-6 * most;
        let mut names: Vec<String> =
            forces.iter().enumerate().filter(idle).map(|(contact, _)| name(&contact)).collect();
        names.dedup();
        if !names.is_empty() {
            all.push(format!(
                "with all clamps closed nothing pushes the part against {}",
                names.join(" and ")
            ));
        }
    }
    all
}

fn free_sentence(motion: &FreeMotion) -> String {
    match motion {
        FreeMotion::Slide { along } => format!("slide along {}", direction(&(*along).into())),
        FreeMotion::Turn { about, through, pitch } => {
            let at = [through.x, through.y, through.z].map(|part| fixed(to_mm(part), 0)).join(", ");
            let along = if *pitch == 0.0 {
                String::new()
            } else {
                format!(", sliding {} mm along it for each degree", fixed(to_mm(pitch * units::deg(1.0)), 2))
            };
            format!("turn about {} through ({at}) mm{along}", direction(&(*about).into()))
        }
    }
}

/// A unit vector in words: an axis of the station where it is one.
fn direction(vector: &[f64; 3]) -> String {
    let named = ["X", "Y", "Z"].iter().zip(vector).find(|(_, part)| part.abs() > 1.0 - 1e-9);
    named.map_or_else(
        || format!("({})", vector.map(|part| fixed(part, 3)).join(", ")),
        |(name, part)| format!("{}{name}", if *part < 0.0 { "-" } else { "+" }),
    )
}

fn wrong_way_sentence(way: &WrongWay) -> String {
    let column = |i: usize| -> [f64; 3] { way.turned.column(i).into_owned().into() };
    let goes = format!(
        "its X along {}, Y along {}, Z along {}",
        direction(&column(0)),
        direction(&column(1)),
        direction(&column(2))
    );
    if way.other_hand { format!("the other-hand part, {goes}") } else { format!("turned with {goes}") }
}

fn seams(cell: &Cell, fit_up: &FitUp) -> Vec<SeamFitUpFindings> {
    let row = |seam: crate::cell::SeamId, not_checked: Option<String>| SeamFitUpFindings {
        number: seam.0 + 1,
        station: cell.stations[cell.seams[seam.0].station.0].name.clone(),
        seam: cell.seams[seam.0].name.clone(),
        not_checked,
        hit_touched_up_percent: None,
        hit_downloaded_percent: None,
        needs: None,
        offsets: None,
        gain_mm_mm: None,
        gain_of: None,
        contributions: Vec::new(),
    };
    let seen = fit_up.seams.iter().map(|found| {
        let percent = |share: f64| Some(rounded(to_percent(share), 4));
        SeamFitUpFindings {
            hit_touched_up_percent: percent(found.touched_up),
            hit_downloaded_percent: percent(found.downloaded),
            needs: Some(found.needs),
            offsets: Some(offsets(cell, found)),
            gain_mm_mm: found.spread.gain.as_ref().map(|(gain, _)| rounded(*gain, 6)),
            gain_of: found.spread.gain.as_ref().map(|(_, of)| of.clone()),
            contributions: found
                .spread
                .contributions
                .iter()
                .take(CONTRIBUTIONS)
                .filter(|contribution| contribution.share > 0.0)
                .map(|contribution| ContributionFindings {
                    cause: contribution.what,
                    of: contribution.whose.clone(),
                    share_percent: rounded(to_percent(contribution.share), 4),
                })
                .collect(),
            ..row(found.seam, None)
        }
    });
    let mut all: Vec<SeamFitUpFindings> =
        seen.chain(fit_up.left_out.iter().map(|(seam, why)| row(*seam, Some(why.clone())))).collect();
    all.sort_by_key(|seam| seam.number);
    all
}

fn offsets(cell: &Cell, found: &SeamFitUp) -> OffsetFindings {
    /// A gap up to here leaves the leg as it is, mm (AWS D1.1, from memory).
    const FREE_GAP_MM: f64 = 1.6;
    let mm = |metres: f64| rounded(to_mm(metres), 6);
    let [across, along_wire, along_weld] = found.spread.spreads;
    let gap = to_mm(cell.variation.gap);
    OffsetFindings {
        across_allowed_mm: mm(found.allowed.across),
        across_worst_mm: mm(across.worst),
        across_squares_mm: mm(across.squares),
        along_wire_allowed_mm: mm(found.allowed.along_wire),
        along_wire_worst_mm: mm(along_wire.worst),
        along_wire_squares_mm: mm(along_wire.squares),
        along_weld_worst_mm: mm(along_weld.worst),
        along_weld_squares_mm: mm(along_weld.squares),
        gap_allowed_mm: mm(found.allowed.gap),
        leg_grows_mm: rounded(if gap > FREE_GAP_MM { gap } else { 0.0 }, 6),
    }
}

impl ContributionFindings {
    /// The error, of whom, and its share.
    #[must_use]
    pub fn sentence(&self) -> String {
        // Station and fixture are told by the seam's row.
        let of = self.of.rsplit(" / ").next().unwrap_or_default();
        let of = if of.is_empty() { String::new() } else { format!(" {of}") };
        format!("{}{of}, {} %", self.cause.name(), fixed(self.share_percent, 0))
    }
}

impl RemedyFindings {
    fn new(cell: &Cell, remedy: &Remedy) -> Self {
        Self {
            change: change_sentence(cell, &remedy.change),
            of_fixture: remedy.change.is_of_fixture(),
            good_percent: rounded(to_percent(remedy.good), 4),
            gain_percent: rounded(to_percent(remedy.gain), 4),
            adds_s: rounded(remedy.time, 3),
        }
    }

    /// The change and what it is worth.
    #[must_use]
    pub fn sentence(&self) -> String {
        let time = if self.adds_s > 0.0 {
            format!(", {} s more arm time for a load from every station", fixed(self.adds_s, 1))
        } else {
            String::new()
        };
        format!(
            "{}: {} % good, {} more{time}",
            self.change,
            fixed(self.good_percent, 1),
            fixed(self.gain_percent, 1)
        )
    }
}

fn change_sentence(cell: &Cell, change: &Change) -> String {
    let mm = |metres: f64| format!("{} mm", fixed(to_mm(metres), 3));
    let of = |which: &Which, value: fn(&Locator) -> f64| {
        let body =
            cell.bodies.iter().find(|body| body.fixture == which.fixture && body.drawn_as == which.body);
        let locator =
            body.and_then(|body| body.locators.iter().find(|locator| locator.name == which.locator));
        mm(locator.map_or(0.0, value) / 2.0)
    };
    let named = |which: &Which| format!("{} of {}", which.locator, which.fixture);
    let variation = &cell.variation;
    match change {
        Change::HalvePartTolerance(which) => {
            format!("halve the part's tolerance at {} to {}", named(which), of(which, |l| l.part_tolerance))
        }
        Change::HalveTolerance(which) => {
            format!("halve the tolerance of {} to {}", named(which), of(which, |l| l.tolerance))
        }
        Change::HalvePlay(which) => {
            format!("halve the play of {} to {}", named(which), of(which, |l| l.play))
        }
        Change::Move(which, to) => {
            let at = [to.x, to.y, to.z].map(|part| fixed(to_mm(part), 3)).join(", ");
            format!("move {} to at_mm = [{at}]", named(which))
        }
        Change::Remove(which) => format!("take {} away", named(which)),
        Change::HalveJoint => {
            format!(
                "halve the tolerance of the parts at the joints (joint_mm) to {}",
                mm(variation.joint / 2.0)
            )
        }
        Change::HalveGap => format!("halve the gap (gap_mm) to {}", mm(variation.gap / 2.0)),
        Change::HalveLoading => format!(
            "halve what parts are left off their locators (loading_mm) to {}",
            mm(variation.loading / 2.0)
        ),
        Change::HalveWire => {
            format!("halve what the wire wanders (wire_mm) to {}", mm(variation.wire / 2.0))
        }
        Change::Search(directions) => {
            let directions = counted(u64::from(*directions), "direction");
            format!("touch search in {directions} before every seam that misses too often")
        }
        Change::Track => {
            "track the arc on every fillet and lap that misses too often (it needs a weave)".to_owned()
        }
        Change::TouchUp => "touch up the programs on a middling part".to_owned(),
    }
}

fn rests_on(cell: &Cell) -> Vec<String> {
    let step = LengthUnit::Millimetre.distance(fitup::STEP_MM);
    let sigmas = fixed(cell.variation.sigmas, 1);
    vec![
        "parts and fixture are rigid, contacts without friction, faces plane where locators touch them".to_owned(),
        "parts without a locator of their own move with the fixture's other parts as one body".to_owned(),
        format!(
            "a tolerance is {sigmas} standard deviations of a normal error; play, wear and parts left off locators are spread evenly; \
             repeatability and accuracy of the arm are radii as in ISO 9283, mean plus 3 standard deviations"
        ),
        "touched up: each station's program by itself, on a middling part; then errors that are the same for every part are gone"
            .to_owned(),
        "a touch search takes away what moves the joint along its direction at the middle of the seam, and leaves the turn"
            .to_owned(),
        format!("ways out are straight and looked at every {step}; clamps without an open place count as out of the way"),
        "not counted: bending of parts and fixture, heat distortion while welding, sliding axes".to_owned(),
    ]
}
