//! The trade's rules, one file a rule.
