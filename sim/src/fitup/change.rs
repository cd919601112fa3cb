//! Decides which changes there are, and what each does to a scheme.

use nalgebra::Point3;

use super::offered_search::{AddedTime, Offered, Searches};
use super::scheme::Scheme;
use crate::cell::{Body, Tracked};

/// A change.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// Halve what the face or hole of the part may be off at a locator.
    HalvePartTolerance(Which),
    /// Halve the tolerance of a locator's place.
    HalveTolerance(Which),
    /// Halve the play of a pin.
    HalvePlay(Which),
    /// Halve how far a locator may be worn.
    HalveWear(Which),
    /// Move a locator, to a point of the fixture frame.
    Move(Which, Point3<f64>),
    /// Take a locator away that holds what others hold.
    Remove(Which),
    /// Halve what the faces of the joints may be off.
    HalveJoint,
    /// Halve the gap.
    HalveGap,
    /// Halve what parts are left off their locators when loaded.
    HalveLoading,
    /// Halve what the wire wanders.
    HalveWire,
    /// Halve what tracking is off.
    HalveTracking,
    /// Halve how far fixtures may be off on their stations.
    HalveFixture,
    /// Halve where axes may stop.
    HalveIndex,
    /// Halve where an axis may stop that has a repeatability of its own: index among the cell's.
    HalveAxis(usize),
    /// Halve how much warmer parts may be.
    HalveWarmth,
    /// Halve how far the tool centre point may be off.
    HalveToolCentre,
    /// Search by touch before these seams.
    Search(Searches),
    /// Track the arc on every fillet and lap that needs it.
    Track,
    /// Touch up the programs on a middling part.
    TouchUp,
}

/// A locator of a fixture: the same on all stations and copies.
#[derive(Clone, Debug, PartialEq)]
pub struct Which {
    /// The fixture.
    pub fixture: String,
    /// The body it holds, as drawn.
    pub body: String,
    /// The locator.
    pub locator: String,
}

/// What misses too often, by the seams of the cell.
#[derive(Clone, Debug, Default)]
pub struct Needy {
    /// Whether a seam does.
    pub seams: Vec<bool>,
    /// Touch searches that can be made before them.
    pub searches: Vec<Offered>,
}

impl Change {
    /// Whether it changes the fixture or the parts, rather than the program.
    #[must_use]
    pub fn is_of_fixture(&self) -> bool {
        !matches!(
            self,
            Self::Search(_)
                | Self::Track
                | Self::TouchUp
                | Self::HalveWire
                | Self::HalveTracking
                | Self::HalveToolCentre
        )
    }

    /// The scheme with this change made; `needy`: seams that miss too often.
    #[must_use]
    pub fn made(&self, scheme: &Scheme, needy: &Needy) -> Scheme {
        let mut changed = scheme.clone();
        let mut at = |which: &Which, change: &dyn Fn(&mut Body, usize)| {
            for body in &mut changed.bodies {
                if body.fixture == which.fixture
                    && body.drawn_as == which.body
                    && let Some(index) =
                        body.locators.iter().position(|locator| locator.name == which.locator)
                {
                    change(body, index);
                }
            }
        };
        match self {
            Self::HalvePartTolerance(which) => at(which, &|body, i| body.locators[i].part_tolerance /= 2.0),
            Self::HalveTolerance(which) => at(which, &|body, i| body.locators[i].tolerance /= 2.0),
            Self::HalvePlay(which) => at(which, &|body, i| body.locators[i].play /= 2.0),
            Self::HalveWear(which) => at(which, &|body, i| body.locators[i].wear /= 2.0),
            Self::Move(which, to) => at(which, &|body, i| body.locators[i].at = body.in_station(to)),
            Self::Remove(which) => at(which, &|body, i| drop(body.locators.remove(i))),
            Self::HalveJoint => changed.variation.joint /= 2.0,
            Self::HalveGap => changed.variation.gap /= 2.0,
            Self::HalveLoading => changed.variation.loading /= 2.0,
            Self::HalveWire => changed.variation.wire /= 2.0,
            Self::HalveTracking => changed.variation.tracking /= 2.0,
            Self::HalveFixture => changed.variation.fixture /= 2.0,
            Self::HalveIndex => changed.variation.index /= 2.0,
            Self::HalveAxis(axis) => changed.axes[*axis] = changed.axes[*axis].map(|stops| stops / 2.0),
            Self::HalveWarmth => changed.variation.warmer /= 2.0,
            Self::HalveToolCentre => changed.variation.tool_centre /= 2.0,
            Self::Search(searches) => {
                for (seam, touches) in searches {
                    changed.treatments[seam.0].touches.clone_from(touches);
                }
            }
            Self::Track => {
                let all = changed.treatments.iter_mut().zip(&needy.seams);
                for (treatment, _) in all.filter(|(_, needy)| **needy) {
                    treatment.tracked.get_or_insert(Tracked::Arc);
                }
            }
            Self::TouchUp => changed.variation.downloaded = false,
        }
        changed
    }
}

impl Needy {
    pub(super) fn offer(&self, change: &Change) -> Option<&Offered> {
        let Change::Search(searches) = change else { return None };
        self.searches.iter().find(|offered| offered.searches == *searches)
    }

    /// Time that a change adds: only searches take any.
    pub(super) fn time(&self, change: &Change) -> AddedTime {
        self.offer(change).map_or_else(AddedTime::default, |offered| offered.time)
    }
}
