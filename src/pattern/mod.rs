//! The trade's rules, one file a rule.
pub mod core;
pub mod count;
pub mod decide;
pub mod delta;
pub mod enclosure;
pub mod evidence;
pub mod flow;
pub mod reading;
pub mod reasons;
pub mod recurve;
pub mod ridge_count;
pub mod ring;
pub mod subtype;
pub mod trace;
pub mod type_lines;
pub mod upright;
pub mod whorl;
