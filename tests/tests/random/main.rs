//! What must hold for any input.

mod kinematics;
