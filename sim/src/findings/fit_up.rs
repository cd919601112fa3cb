//! Decides what is shown of a cell's fixtures: whether locators and clamps hold the parts, whether the wire hits, what to change.

use schemars::JsonSchema;
use seamwright_kinematics::units::{to_mm, to_percent};
use serde::{Deserialize, Serialize};

use super::held::BodyFindings;
use super::remedy::RemedyFindings;
use super::words::{LengthUnit, fixed, rounded, share};
use crate::cell::frames::AxisKind;
use crate::cell::{Cell, SeamId};
use crate::fitup::cause::What;
use crate::fitup::{self, FitUp, Needs, SeamFitUp};

/// Contributions that are listed of a seam.
const CONTRIBUTIONS: usize = 5;

/// What is drawn no farther off each other, or into each other, touches as far as anybody need be told, mm.
const TOUCHING_MM: f64 = 0.05;

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
    /// How far the parts stand apart as drawn, which counts on every part; negative where they are drawn into each other. None where
    /// that is not known, and of a butt.
    pub gap_drawn_mm: Option<f64>,
    /// How far a taught way passes the joint across at most: with programs as downloaded on every part, touched up on none. None where
    /// the seam was not taught.
    #[serde(default)]
    pub taught_across_mm: Option<f64>,
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
        let drawn = fit_up.parts * fit_up.places;
        let enough = counts.is_none_or(|good| good >= variation.asked);
        Self {
            holds: enough && bodies.iter().all(|body| lies(body, variation.downloaded)),
            programs: if variation.downloaded { Programs::Downloaded } else { Programs::TouchedUp },
            asked_percent: percent(variation.asked),
            good_touched_up_percent: fit_up.touched_up.map(percent),
            good_downloaded_percent: fit_up.downloaded.map(percent),
            // The normal approximation of the interval of a share; 1.96 is the quantile of 97.5 %.
            drawn_to_percent: counts
                .map(|good| percent(1.96 * (good * (1.0 - good) / drawn.max(1) as f64).sqrt())),
            parts_drawn: drawn,
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

    /// What does not hold, in a few words; nothing where all does.
    #[must_use]
    pub fn not_holding(&self) -> Vec<String> {
        let downloaded = self.programs == Programs::Downloaded;
        let lie = (!self.bodies.iter().all(|body| lies(body, downloaded)))
            .then(|| "parts do not lie or come out as they should, see fit-up below".to_owned());
        let few = self.good_percent().filter(|good| *good < self.asked_percent).map(|good| {
            format!(
                "the wire hits every seam on {} % of parts, {} % are asked",
                share(good),
                share(self.asked_percent)
            )
        });
        lie.into_iter().chain(few).collect()
    }

    /// The answer in one sentence.
    #[must_use]
    pub fn sentence(&self) -> String {
        let looked_at = self.seams.iter().filter(|seam| seam.not_checked.is_none()).count();
        match (self.good_touched_up_percent, self.good_downloaded_percent) {
            (Some(touched_up), Some(downloaded)) => format!(
                "the wire hits every seam on {} % of parts once programs are touched up, {} % as downloaded; {} % are \
                 asked with programs {} ({} of {} seams looked at, {} parts drawn: right within {} %)",
                share(touched_up),
                share(downloaded),
                share(self.asked_percent),
                match self.programs {
                    Programs::TouchedUp => "touched up",
                    Programs::Downloaded => "as downloaded",
                },
                looked_at,
                self.seams.len(),
                self.parts_drawn,
                fixed(self.drawn_to_percent.unwrap_or_default(), 3)
            ),
            _ => "not known whether the wire hits: no seam could be looked at".to_owned(),
        }
    }

    /// Everything that is wrong with the way parts are held, a sentence each.
    #[must_use]
    pub fn wrong(&self) -> Vec<String> {
        let mut all: Vec<String> = Vec::new();
        for wrong in self.bodies.iter().flat_map(BodyFindings::wrong) {
            // What is welded together is told by each of its bodies.
            if !all.contains(&wrong) {
                all.push(wrong);
            }
        }
        all
    }
}

/// Whether a body lies as it should: where it is drawn too, unless programs are touched up.
fn lies(body: &BodyFindings, downloaded: bool) -> bool {
    body.holds() && (!downloaded || body.off_face.is_empty())
}

fn seams(cell: &Cell, fit_up: &FitUp) -> Vec<SeamFitUpFindings> {
    let row = |seam: SeamId, not_checked: Option<String>| SeamFitUpFindings {
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
    let gap = to_mm(cell.variation.gap + found.drawn_gap.map_or(0.0, |gap| gap.max(0.0)));
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
        gap_drawn_mm: found.drawn_gap.map(mm),
        taught_across_mm: found.taught_off.map(mm),
        leg_grows_mm: rounded(if gap > FREE_GAP_MM { gap } else { 0.0 }, 6),
    }
}

impl SeamFitUpFindings {
    /// What is to be said of the way its parts stand against each other as drawn; none where they touch, or that is not known.
    #[must_use]
    pub fn drawn_sentence(&self) -> Option<String> {
        let offsets = self.offsets.as_ref()?;
        let gap = offsets.gap_drawn_mm.filter(|gap| gap.abs() > TOUCHING_MM)?;
        let whom = format!("{} / {}", self.station, self.seam);
        let (apart, allowed) = (fixed(gap.abs(), 2), fixed(offsets.gap_allowed_mm, 2));
        Some(if gap < 0.0 {
            format!("{whom}: its parts are drawn {apart} mm into each other; it counts as no gap")
        } else if gap > offsets.gap_allowed_mm {
            format!(
                "{whom}: its parts stand {apart} mm apart as drawn, {allowed} mm are allowed: no part is good"
            )
        } else {
            format!(
                "{whom}: its parts stand {apart} mm apart as drawn, which counts on every part; {allowed} mm are allowed"
            )
        })
    }
}

impl SeamFitUpFindings {
    /// What is to be said of the way as it was taught; none where it lies on the joint, or the seam was not taught.
    #[must_use]
    pub fn taught_sentence(&self) -> Option<String> {
        let off = self.offsets.as_ref()?.taught_across_mm.filter(|off| *off > TOUCHING_MM)?;
        Some(format!(
            "{} / {}: as taught the wire passes the joint as drawn by up to {} mm across: as downloaded that counts on every part, touched up \
             it is taken to be gone",
            self.station,
            self.seam,
            fixed(off, 2)
        ))
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

fn rests_on(cell: &Cell) -> Vec<String> {
    let step = LengthUnit::Millimetre.distance(fitup::STEP_MM);
    let sigmas = fixed(cell.variation.sigmas, 1);
    let uncounted =
        cell.frames.axes.iter().filter(|axis| axis.kind == AxisKind::Slide && axis.repeatability.is_none());
    let slides: Vec<&str> = uncounted.map(|axis| axis.name.as_str()).collect();
    let mut weightless: Vec<&str> =
        cell.bodies.iter().filter(|body| body.mass.is_none()).map(|body| body.drawn_as.as_str()).collect();
    weightless.dedup();
    let weight = if weightless.is_empty() {
        String::new()
    } else {
        format!(", the weight of {} (no mass_kg, or a locator of its own)", weightless.join(", "))
    };
    let slides = if slides.is_empty() {
        String::new()
    } else {
        format!(", where {} stops (no repeatability_mm)", slides.join(", "))
    };
    vec![
        "parts and fixture are rigid, contacts without friction, faces plane where locators touch them".to_owned(),
        "parts without a locator of their own move with the fixture's other parts as one body; parts located apart are taken not to push \
         one another"
            .to_owned(),
        format!(
            "a tolerance is {sigmas} standard deviations of a normal error; play, wear and parts left off locators are spread evenly; \
             repeatability and accuracy of the arm are radii as in ISO 9283, mean plus 3 standard deviations"
        ),
        "touched up: each station's program by itself, on a middling part; then errors that are the same for every part are gone"
            .to_owned(),
        "a touch search takes away what moves the joint along its direction where it is searched; searches of one face at both ends take \
         away the turn between them too"
            .to_owned(),
        "a search finds a face that lies no more than its distance_mm nearer or farther than drawn (touched up: than on the middling part), \
         as every search of one seam begins where it was planned; on other parts the seam is missed"
            .to_owned(),
        "tracking finds the joint from tracking_reach_mm on, but not where a weld begins, nor where a sensor has not seen the joint before the \
         arc comes there: there the wire must be as near as is allowed; a sensor sees the joint, not where the wire ends; tacks are not tracked, and butts and corners not through the arc"
            .to_owned(),
        "wrong ways: turns and mirror images that bring faces, rounds and holes of the part to the locators that others meet now; a pin in \
         a drawn hole counts as a round as thick as that less its play, and goes into others wherever that fits into them as drawn; other pins count as equally thick, and \
         holes that are not drawn are known only where a pin stands"
            .to_owned(),
        "a gap counts with what the parts stand apart as drawn, largest along each seam; the root gap of a butt as drawn is not looked at, nor \
         is a gap between faces of one mesh; how far one face of a butt stands higher than the other (high-low) is not looked at, neither as \
         drawn nor where its parts are located apart"
            .to_owned(),
        format!(
            "ways out are straight, as long as the part is, and go on from there, straight or once in another direction, until it is past all of \
             the fixture; looked at every {step}, against the fixture and what stands still beside it; clamps without an open place count as \
             out of the way"
        ),
        format!("not counted: bending of parts and fixture, heat distortion while welding{weight}{slides}"),
    ]
}
