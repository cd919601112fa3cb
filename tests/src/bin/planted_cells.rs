//! Counts in how many planted cells a way is found; says which seeds were missed.
//!
//!     cargo run --release --bin planted_cells -- 1000

use std::process::ExitCode;

use seamwright_tests::planted::{Outcome, outcomes};

fn main() -> ExitCode {
    let count: usize = std::env::args().nth(1).and_then(|count| count.parse().ok()).unwrap_or(100);
    let all = outcomes(count);
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
