//! Two independent methods that must give the same answer: our arm against other libraries.

mod kinematics;
mod path_file;
