//! What can be derived on paper; the derivation stands beside each check.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a check that cannot be made must fail")]

mod air_speed;
mod arc_ends;
mod as_taught;
mod by_length;
mod calibration;
mod caught;
mod coordinated;
mod corners;
mod digits;
mod drawn_gap;
mod faces;
mod field_sides;
mod fit_up;
mod leaning;
mod loading;
mod loads;
mod moment;
mod passes;
mod pins;
mod plant;
mod reach;
mod regular_stops;
mod safeguards;
mod safety;
mod search;
mod second_rows;
mod shifts;
mod singularity;
mod spaces;
mod speed_to_fill;
mod table_sides;
mod tables_apart;
mod taught_air;
mod tolerance;
mod tracking;
mod ways_in;
mod whole_turns;
mod wire;
