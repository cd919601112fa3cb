//! Decides what is known of a part family before there is any geometry: what is welded, what is loaded, what is asked.
//!
//! Read from a CSV table by [`super::read::rough_file`]. Everything is for one finished part, SI.

use super::Joint;

/// A part family at a first visit.
#[derive(Clone, Debug, PartialEq)]
pub struct RoughJob {
    /// What it is called: as given, else the name of its file.
    pub name: String,
    /// A row a kind of seam.
    pub seams: Vec<RoughSeam>,
    /// What the person puts in.
    pub loaded: Vec<Carried>,
    /// What the person takes out.
    pub unloaded: Vec<Carried>,
    /// What holds it.
    pub clamps: Vec<RoughClamp>,
    /// What is asked and what the cell is meant to be.
    pub given: Given,
}

/// Seams of one kind.
#[derive(Clone, Debug, PartialEq)]
pub struct RoughSeam {
    /// Name of the row.
    pub name: String,
    /// How many there are on a part.
    pub count: u32,
    /// Weld of each, m: of a stitched seam all its welds together.
    pub length: f64,
    /// What kind of joint.
    pub joint: Joint,
    /// How much weld metal it takes, where known: that says how much wire, and how fast it is welded unless `speed` does.
    pub size: Option<RoughSize>,
    /// Travel speed, m/s, where known; without it there is a size.
    pub speed: Option<f64>,
    /// Welds of each: every one has an arc start and a crater.
    pub welds: u32,
    /// Directions that the wire searches before each.
    pub searches: u32,
}

impl RoughSeam {
    /// Weld of all of them, m.
    #[must_use]
    pub fn weld_length(&self) -> f64 {
        f64::from(self.count) * self.length
    }

    /// Arcs of all of them.
    #[must_use]
    pub fn arcs(&self) -> f64 {
        f64::from(self.count) * f64::from(self.welds)
    }
}

/// What says how much weld metal a seam takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum RoughSize {
    /// Leg of a fillet with equal legs, m.
    Leg(f64),
    /// Section of weld metal, m².
    Section(f64),
}

/// Things of one kind that the person carries.
#[derive(Clone, Debug, PartialEq)]
pub struct Carried {
    /// Name of the row.
    pub name: String,
    /// How many times one is fetched or taken away, for a part.
    pub count: u32,
    /// Weight of each, kg, where known.
    pub mass: Option<f64>,
    /// How.
    pub by: CarriedBy,
    /// From the fixture to where it lies, one way, m.
    pub walk: f64,
}

/// How a thing is carried.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CarriedBy {
    /// By hand.
    Hand,
    /// On a hoist.
    Hoist,
}

/// Clamps of one kind.
#[derive(Clone, Debug, PartialEq)]
pub struct RoughClamp {
    /// Name of the row.
    pub name: String,
    /// How many.
    pub count: u32,
    /// Whether one valve closes all of them; else each is closed by hand.
    pub by_air: bool,
}

/// What is asked, and what the cell is meant to be.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Given {
    /// Name of the job.
    pub name: Option<String>,
    /// One line on it.
    pub about: Option<String>,
    /// Finished parts in a year.
    pub yearly_quantity: Option<f64>,
    /// Working days in a year.
    pub days_per_year: Option<f64>,
    /// Shifts in a day.
    pub shifts_per_day: Option<f64>,
    /// Length of a shift, s.
    pub shift_length: Option<f64>,
    /// Breaks in a shift, s.
    pub breaks: Option<f64>,
    /// Share of the rest in which the cell is able to run.
    pub availability: Option<f64>,
    /// Fixtures that are loaded and welded in turn.
    pub stations: Option<u32>,
    /// Whether two of them stand on a table that swaps them.
    pub two_sided_table: Option<bool>,
    /// Finished parts of one load.
    pub parts_per_load: Option<u32>,
    /// Persons who load.
    pub persons: Option<u32>,
    /// What an hour of a person costs.
    pub labour_per_h: Option<f64>,
    /// What an hour of the cell costs.
    pub cell_per_h: Option<f64>,
    /// What a kilogram of wire costs.
    pub wire_per_kg: Option<f64>,
    /// What a cubic metre of gas costs.
    pub gas_per_m3: Option<f64>,
    /// Gas flow while it flows, m³/s.
    pub gas_flow: Option<f64>,
    /// How long a person needs to weld a part by hand, all in, s.
    pub manual_time: Option<f64>,
}

impl Given {
    /// Fixtures: as stated, or two at a table and one elsewhere.
    #[must_use]
    pub fn station_count(&self) -> u32 {
        self.stations.unwrap_or(if self.two_sided_table == Some(true) { 2 } else { 1 })
    }
}
