//! The trade's rules, one file a rule.
pub mod count;
pub mod decide;
pub mod evidence;
pub mod flow;
pub mod reasons;
pub mod ring;
pub mod trees;
