//! Expected values printed in a standard, paper or data sheet, or computed with a named general reference library.
//! One CSV a source stands in `data/published`; every row carries its source.

mod kinematics;
mod torch;
