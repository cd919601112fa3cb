//! Counts in how many planted cells a way is found; says which seeds were missed.
//!
//!     cargo run --release --bin planted_cells -- 1000 5
//!
//! The second number is the room in mm that is left to the known way beyond what is asked; below 0 that way is closed.

use std::process::ExitCode;

use seamwright_sim::units;
use seamwright_tests::planted::{Outcome, outcomes};

fn main() -> ExitCode {
    let count: usize = std::env::args().nth(1).and_then(|count| count.parse().ok()).unwrap_or(100);
    let room: f64 = std::env::args().nth(2).and_then(|room| room.parse().ok()).unwrap_or(5.0);
    let all = outcomes(count, units::mm(room));
    let of = |wanted: Outcome| all.iter().filter(move |(_, outcome)| *outcome == wanted);
    let (held, missed) = (of(Outcome::Holds).count(), of(Outcome::Missed).count());
    println!(
        "{held} of {} planted cells hold; {} seeds made none",
        held + missed,
        of(Outcome::NoWayKnown).count()
    );
    for (seed, _) in of(Outcome::Missed) {
        println!("not found: seed {seed}");
    }
    ExitCode::from(u8::from(100 * held < 99 * (held + missed)))
}
