//! Decides what each event of the arm counts as where its time is told.

use super::event::EventKind;

/// What a stretch of the arm's time goes into.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum GoesInto {
    /// Arc on and travelling.
    Arc,
    /// Gas, arc start, crater: the torch stands at the seam.
    ArcEnds,
    /// The torch stands before a way in until the pass before, or a neighbour, has cooled.
    Cooling,
    /// Ways in, out, and from stitch to stitch; touch searches.
    Ways,
    /// Air moves, assumed ones included, and signals that the arm waits for at home.
    Air,
    /// The arm stands while external axes move or clamps open.
    External,
}

impl GoesInto {
    /// All, in the order in which they are told.
    pub const ALL: [Self; 6] =
        [Self::Arc, Self::ArcEnds, Self::Cooling, Self::Ways, Self::Air, Self::External];
}

impl EventKind {
    /// What its time goes into; coming to rest belongs to the move before it, and stands here with the air moves.
    #[must_use]
    pub fn goes_into(self) -> GoesInto {
        match self {
            Self::Weld | Self::CraterBack => GoesInto::Arc,
            Self::Interpass | Self::Cooling => GoesInto::Cooling,
            Self::GasBefore
            | Self::RunIn
            | Self::ArcStart
            | Self::ArcRetry
            | Self::Crater
            | Self::BurnBack
            | Self::WireCheck
            | Self::GasAfter => GoesInto::ArcEnds,
            Self::Approach | Self::Retract | Self::Shift | Self::SearchWay | Self::Search => GoesInto::Ways,
            Self::AirMove | Self::AssumedAirMove | Self::StartSignal | Self::ArmClear | Self::Settle => {
                GoesInto::Air
            }
            Self::Position | Self::Index | Self::ClampsOpen => GoesInto::External,
        }
    }
}

/// What the arm's time at a station goes into, s.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Times {
    /// See [`GoesInto::Arc`].
    pub arc: f64,
    /// See [`GoesInto::ArcEnds`].
    pub arc_ends: f64,
    /// See [`GoesInto::Cooling`].
    pub cooling: f64,
    /// See [`GoesInto::Ways`].
    pub ways: f64,
    /// See [`GoesInto::Air`].
    pub air: f64,
    /// See [`GoesInto::External`].
    pub external: f64,
}

impl Times {
    /// Counts `duration` (s) to what it goes into.
    pub fn add(&mut self, to: GoesInto, duration: f64) {
        let part = match to {
            GoesInto::Arc => &mut self.arc,
            GoesInto::ArcEnds => &mut self.arc_ends,
            GoesInto::Cooling => &mut self.cooling,
            GoesInto::Ways => &mut self.ways,
            GoesInto::Air => &mut self.air,
            GoesInto::External => &mut self.external,
        };
        *part += duration;
    }

    /// What goes into it, s.
    #[must_use]
    pub fn of(&self, what: GoesInto) -> f64 {
        match what {
            GoesInto::Arc => self.arc,
            GoesInto::ArcEnds => self.arc_ends,
            GoesInto::Cooling => self.cooling,
            GoesInto::Ways => self.ways,
            GoesInto::Air => self.air,
            GoesInto::External => self.external,
        }
    }

    /// All of it.
    #[must_use]
    pub fn total(&self) -> f64 {
        GoesInto::ALL.iter().map(|what| self.of(*what)).sum()
    }
}
